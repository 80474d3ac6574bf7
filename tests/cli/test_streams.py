"""What a run meets outside itself: pipes, closed streams, signals, damaged files. Nothing is lost without a word."""

from __future__ import annotations

import csv
import os
import random
import signal
import subprocess
import sys
import threading
import time
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import Result
from openpyxl import Workbook
from processes import Processes

SAYS_WHEN_UP = "from cutplan.cli.start import main; print('up', flush=True); main()"


@pytest.mark.parametrize("columns", ["0", "1", "-5", "no number"])
def test_no_width_is_no_reason_to_show_nothing(job: Path, columns: str, start: Processes) -> None:
    """In a pipe the plan is shown whole, whatever the width is said to be."""
    with start("plan", job, env={**os.environ, "COLUMNS": columns}) as process:
        out, err = process.communicate(60)
    assert (process.returncode, err) == (0, "")
    assert "Saw list" in out
    assert "LONG" in out


@pytest.mark.parametrize(
    "command", [["plan"], ["plan", "--json", "-"], ["lengths", "--json", "-"], ["lengths"], ["buy"]]
)
def test_a_closed_standard_output_is_reported(job: Path, command: list[str], start: Processes) -> None:
    """What can be shown nowhere, and is written nowhere, was not done."""
    with start(command[0], job, *command[1:], closed=(1,)) as process:
        _, err = process.communicate(60)
    assert process.returncode == 2
    assert "standard output: cannot be used: it is closed" in err


def test_what_is_written_needs_no_standard_output(
    job: Path, tmp_path: Path, small_list: bytes, start: Processes
) -> None:
    """A run that was asked for a file has done its work; it is that file, though its number was free."""
    made = tmp_path / "list.xlsx"
    with start("plan", job, "--output", made, closed=(1,)) as process:
        process.communicate(60)
    assert process.returncode == 0
    assert made.read_bytes() == small_list


def test_nothing_is_written_among_the_tables_of_the_job(job: Path, run) -> None:
    """The next run would read it as a table; it is refused whether it is there already or not."""
    before = sorted(os.listdir(job))
    result = run("plan", job, "--csv", job / "saw list.csv")
    assert result.exit_code == 2
    assert "would be read as a table " in result.stderr
    assert sorted(os.listdir(job)) == before
    assert run("plan", job, "--csv", job.parent / "saw list.csv").exit_code == 0
    assert run("plan", job).exit_code == 0


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes with a name are not known here")
def test_a_pipe_that_no_one_reads_is_not_waited_for(job: Path, tmp_path: Path, run) -> None:
    """Told at once; with a reader the whole list goes through."""
    pipe, got = tmp_path / "pipe.xlsx", tmp_path / "got.xlsx"
    os.mkfifo(pipe)
    result = run("plan", job, "--output", pipe)
    assert result.exit_code == 2
    assert "is a pipe that nothing is reading" in result.stderr
    reader = threading.Thread(target=lambda: got.write_bytes(pipe.read_bytes()), daemon=True)
    reader.start()
    time.sleep(0.2)
    assert run("plan", job, "--output", pipe).exit_code == 0
    reader.join(timeout=30)
    assert run("check", got).exit_code == 0


WAITING = """
import os, sys, time
from pathlib import Path
import cutplan.output.workbook as workbook

def slow(plan):
    os.write(1, b"writing\\n")
    time.sleep(60)

workbook.saw_list_bytes = slow
from cutplan.cli.start import main
main()
"""
"""The command line, in which the saw list takes a minute to write."""


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP, signal.SIGINT])
def test_ended_from_outside_no_unfinished_file_is_left(
    job: Path, tmp_path: Path, number: signal.Signals, start: Processes
) -> None:
    """Amid the writing: the folder is as it was, and the run ends as the signal says."""
    before = sorted(os.listdir(tmp_path))
    with start("plan", job, "--output", tmp_path / "list.xlsx", code=WAITING) as process:
        assert process.stdout.readline() == "writing\n"
        assert len(os.listdir(tmp_path)) == len(before) + 1
        process.send_signal(number)
        _, err = process.communicate(60)
    assert process.returncode == (130 if number == signal.SIGINT else -number)
    assert "Traceback" not in err
    assert sorted(os.listdir(tmp_path)) == before


@pytest.mark.parametrize("wait", [0.0, 0.1, 0.3, 0.8])
def test_ctrl_c_at_any_moment_ends_with_130(job: Path, wait: float) -> None:
    """Also while the commands still load (a shell calls that 130): never 1, never a traceback."""
    with subprocess.Popen(
        [sys.executable, "-c", SAYS_WHEN_UP, "plan", str(job)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "up\n"
        time.sleep(wait)
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=60)
    assert process.returncode in (0, 130, -signal.SIGINT)
    # Ended without a fault it has shown the whole plan; ended by Ctrl-C, none, or the whole one just before.
    whole = "Caution" in out
    assert ("Saw list" in out) == whole
    assert whole or process.returncode != 0
    assert "Aborted" not in err
    assert "Traceback" not in err


def damaged(path: Path, dice: random.Random, count: int) -> Iterator[bytes]:
    """The workbook with one byte changed in the data of some part, or cut off somewhere."""
    whole = path.read_bytes()
    with zipfile.ZipFile(path) as parts:
        infos = parts.infolist()
    for number in range(count):
        info = infos[number % len(infos)]
        start = info.header_offset + 30 + len(info.filename)
        content = bytearray(whole)
        content[start + dice.randrange(max(1, info.compress_size))] ^= dice.randrange(1, 256)
        yield bytes(content[: dice.randrange(len(content))]) if number % 7 == 6 else bytes(content)


def test_a_damaged_saw_list_is_called_that(job: Path, saw: Path, tmp_path: Path, run) -> None:
    """Whatever is done with the file it is refused, and named, or all comes of it that comes of the sound one."""
    bad, made, rack = tmp_path / "bad.xlsx", tmp_path / "new.xlsx", tmp_path / "rack.csv"
    commands = (
        ["check", bad],
        ["recut", bad, "--bar", "T", "3 m", "--output", made],
        ["rack", "finish", bad, rack],
        ["plan", job, "--output", bad],
    )

    def comes(command: list[object], content: bytes) -> tuple[Result, str, list[bytes]]:
        bad.write_bytes(content)
        for path in (made, rack):
            path.unlink(missing_ok=True)
        result = run(*command)
        return result, result.stdout, [path.read_bytes() for path in (bad, made, rack) if path.exists()][-1:]

    sound = [comes(command, saw.read_bytes())[1:] for command in commands]
    assert [len(files) for _, files in sound] == [1] * 4
    refused = 0
    for content in damaged(saw, random.Random(1), 28):
        for command, wanted in zip(commands, sound, strict=True):
            result, *reported = comes(command, content)
            if result.exit_code:
                refused += 1
                assert result.exit_code in (1, 2), result.output
                assert "bad.xlsx" in result.stderr + result.stdout
            elif command[0] == "check":
                assert reported[0] == wanted[0]
            else:
                assert tuple(reported) == wanted
    assert refused > 60


def test_a_damaged_job_is_called_that(job: Path, tmp_path: Path, run) -> None:
    """The same of the job's own workbook."""
    bad, book = tmp_path / "bad.xlsx", Workbook()
    for table in sorted(job.iterdir()):
        with table.open(encoding="utf-8", newline="") as file:
            sheet = book.create_sheet(table.stem)
            for row in csv.reader(file):
                sheet.append([cell or None for cell in row])
    book.remove(book.worksheets[0])
    book.save(bad)
    sound = run("lengths", bad).stdout
    assert "LONG" in sound
    refused = 0
    for content in damaged(bad, random.Random(2), 21):
        bad.write_bytes(content)
        result = run("lengths", bad)
        if result.exit_code:
            refused += 1
            assert (result.exit_code, "bad.xlsx: " in result.stderr) == (1, True), result.stderr
        else:
            assert result.stdout == sound
    assert refused > 10
