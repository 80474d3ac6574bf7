"""Full disks, closed pipes, devices, folders that cannot be written, two runs at once, files of others: one plain
message, the right exit code, and what was there stays as it was."""

from __future__ import annotations

import errno
import json
import os
import subprocess
import sys
from collections.abc import Callable
from contextlib import ExitStack
from itertools import product
from pathlib import Path

import pytest
from processes import COMMAND, Processes
from saw_lists import tick
from wording import Worded

from cutplan.output.workbook import untouched, write_saw_list

UNIX = pytest.mark.skipif(sys.platform == "win32", reason="devices and limits of Unix")

LIMITED = f"import resource; resource.setrlimit(resource.RLIMIT_FSIZE, (3000, 3000)); {COMMAND}"
"""The command line where no file can grow beyond 3,000 bytes."""


def commands(job: Path, saw: Path, to: Path) -> dict[str, tuple[object, ...]]:
    """Every way to write a file, at ``to``."""
    return {
        "new": ("new", to.with_suffix(".xlsx"), "--force"),
        "plan": ("plan", job, "--output", to.with_suffix(".xlsx"), "--force"),
        "plan --csv": ("plan", job, "--csv", to.with_suffix(".csv")),
        "plan --json": ("plan", job, "--json", to.with_suffix(".json")),
        "lengths --json": ("lengths", job, "--json", to.with_suffix(".json")),
        "buy --json": ("buy", job, "--json", to.with_suffix(".json")),
        "wrap .pdf": ("wrap", job, "LEG", "--output", to.with_suffix(".pdf")),
        "wrap .svg": ("wrap", job, "LEG", "--output", to.with_suffix(".svg")),
        "rack finish": ("rack", "finish", saw, to.with_suffix(".xlsx")),
    }


WAYS = list(commands(Path(), Path(), Path("x")))
REFUSED = {
    errno.ENOSPC: "the disk is full",
    errno.EROFS: "cannot be written to",
    errno.EACCES: "cannot be written",
    errno.EDQUOT: "the quota is used up",
}


# Each way is refused as the file is made and as it is put down for good; the words for it are the same for all.
@pytest.mark.parametrize(
    ("way", "number"),
    [*product(WAYS, (errno.ENOSPC, errno.EROFS)), (WAYS[0], errno.EACCES), (WAYS[-1], errno.EDQUOT)],
)
def test_where_nothing_can_be_written_that_is_reported(
    run, job: Path, saw: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, way: str, number: int
) -> None:
    """A full disk and a folder that cannot be written: exit 2, one line that names the file, its folder untouched."""
    out = tmp_path / "out"
    out.mkdir()
    arguments = commands(job, saw, out / "to")[way]

    def refuse(*_: object, **__: object) -> None:
        raise OSError(number, os.strerror(number))

    # A full disk is often felt only when what was written is put down for good.
    monkeypatch.setattr("os.fsync" if number == errno.ENOSPC else "tempfile.mkstemp", refuse)
    result = run(*arguments)
    assert result.exit_code == 2
    data = [line for line in result.stderr.splitlines() if line.startswith("cutplan: ")]
    assert len(data) == 1
    assert data[0].startswith(f"cutplan: {out / 'to'}.")
    assert REFUSED[number] in data[0]
    assert "Traceback" not in result.output
    assert os.listdir(out) == []


@UNIX
def test_a_disk_that_fills_up_amid_a_write_leaves_the_old_saw_list(job: Path, saw: Path, start: Processes) -> None:
    """The system itself cuts the write short: the list that was there stays, and nothing lies beside it."""
    before, names = saw.read_bytes(), sorted(os.listdir(saw.parent))
    with start("plan", job, "--output", saw, "--force", code=LIMITED) as run:
        _, err = run.communicate(60)
    assert run.returncode == 2
    assert f"cutplan: {saw}: does not fit" in err
    assert "Traceback" not in err
    assert saw.read_bytes() == before
    assert sorted(os.listdir(saw.parent)) == names


@UNIX
@pytest.mark.parametrize(
    "arguments", [("plan",), ("plan", "--json", "-"), ("lengths",), ("buy", "--json", "-")], ids=" ".join
)
def test_a_full_standard_output_is_reported_in_a_line(job: Path, arguments: tuple[str, ...], start: Processes) -> None:
    """Redirected to a full disk: exit 2 and one line, and Python adds nothing at its end."""
    with open("/dev/full", "w") as full, start(arguments[0], job, *arguments[1:], stdout=full.fileno()) as run:
        _, err = run.communicate(60)
    assert run.returncode == 2
    assert err.splitlines()[-1] == "cutplan: standard output: cannot be used: No space left on device"
    assert "Traceback" not in err


@UNIX
@pytest.mark.parametrize(
    "arguments", [("plan",), ("plan", "--csv", "-"), ("lengths", "--json", "-"), ("buy",)], ids=" ".join
)
def test_a_reader_that_goes_away_is_no_fault(job: Path, arguments: tuple[str, ...], start: Processes) -> None:
    """As with ``| head -1``: not a word of it, and the exit code that a closed pipe has everywhere."""
    near, far = os.pipe()
    os.close(near)
    with start(arguments[0], job, *arguments[1:], stdout=far) as run:
        _, err = run.communicate(60)
    os.close(far)
    assert run.returncode == 141
    assert "Traceback" not in err
    assert "Broken" not in err


@UNIX
def test_what_was_written_before_the_reader_went_away_is_reported(job: Path, tmp_path: Path, start: Processes) -> None:
    """The saw list is whole though nobody reads the rest."""
    near, far = os.pipe()
    os.close(near)
    saw = tmp_path / "saw.xlsx"
    with start("plan", job, "--output", saw, stdout=far) as run:
        _, err = run.communicate(60)
    os.close(far)
    assert err.splitlines()[-1] == f"written: {saw}"
    assert untouched(saw)


@UNIX
def test_a_device_stays_a_device(run, job: Path, tmp_path: Path, as_worded: Worded) -> None:
    """What is no file is written into, never replaced by one; a pipe's reader gets the whole."""
    assert run("plan", job, "--json", "/dev/null").exit_code == 0
    assert Path("/dev/null").is_char_device()
    result = run("plan", job, "--json", "/dev/full")
    assert result.exit_code == 2
    as_worded(result.stderr)
    assert Path("/dev/full").is_char_device()
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with subprocess.Popen(["cat", str(pipe)], stdout=subprocess.PIPE) as reader:
        result = run("lengths", job, "--json", pipe)
        if result.exit_code:  # else a reader that nobody writes to would be waited for
            reader.kill()
        assert result.exit_code == 0, result.stderr
        assert reader.stdout is not None
        assert json.loads(reader.stdout.read())["members"]
    assert pipe.is_fifo()


@UNIX
def test_a_link_is_followed_not_replaced(run, job: Path, tmp_path: Path) -> None:
    """Whoever keeps the saw list elsewhere and links to it finds the new one there."""
    (tmp_path / "far").mkdir()
    link = tmp_path / "saw.xlsx"
    link.symlink_to(tmp_path / "far" / "kept.xlsx")
    assert run("plan", job, "--output", link).exit_code == 0
    assert link.is_symlink()
    assert untouched(tmp_path / "far" / "kept.xlsx")


@UNIX
@pytest.mark.parametrize("path", ["/dev/zero", "/dev/null", "pipe"])
@pytest.mark.parametrize("command", [("plan",), ("lengths",), ("check",), ("recut",), ("rack", "show")], ids=" ".join)
def test_what_need_never_end_is_not_read(
    run, tmp_path: Path, command: tuple[str, ...], path: str, as_worded: Worded
) -> None:
    """A device or a pipe in place of a file is reported at once instead of being waited for."""
    os.mkfifo(tmp_path / "pipe")
    result = run(*command, tmp_path / path)
    assert (result.exit_code, result.stdout) == (2, "")
    as_worded(result.stderr.splitlines()[-1])


@pytest.mark.skipif(not Path("/proc/self/mem").exists(), reason="Linux")
def test_a_file_that_cannot_be_read_is_reported_in_a_line(run, as_worded: Worded) -> None:
    """The memory of the process itself: there, and not to be read."""
    result = run("plan", "/proc/self/mem")
    assert result.exit_code == 1
    as_worded(result.stderr)


def test_two_runs_at_once_leave_one_whole_list(job: Path, tmp_path: Path, run, start: Processes) -> None:
    """The same job planned four times at once to one place, with spares and without: each ends well, and what lies
    there in the end is one of the two lists, whole."""
    files = [tmp_path / f"saw.{end}" for end in ("xlsx", "csv", "json")]
    options = [
        part for file, name in zip(files, ("output", "csv", "json"), strict=True) for part in (f"--{name}", file)
    ]
    whole = []
    for spares in ("0", "1"):
        assert run("plan", job, "--spares", spares, *options).exit_code == 0
        whole.append([file.read_bytes() for file in files])
    with ExitStack() as at_once:
        running = [at_once.enter_context(start("plan", job, *options, "--spares", spares)) for spares in "0101"]
        for one in running:
            one.communicate(100)
    assert [one.returncode for one in running] == [0] * 4
    for at, file in enumerate(files):
        assert file.read_bytes() in [content[at] for content in whole]
    assert sorted(os.listdir(tmp_path)) == ["rack", "saw.csv", "saw.json", "saw.xlsx"]


def test_ticks_made_while_the_plan_was_searched_for_are_safe(
    run, job: Path, saw: Path, monkeypatch: pytest.MonkeyPatch, as_worded: Worded
) -> None:
    """Between the first look at the old list and the moment of writing someone saves a tick: it is found."""

    def ticked(plan: object, path: Path, *, force: bool) -> None:
        tick(saw, "spoilt", 1)
        write_saw_list(plan, path, force=force)  # type: ignore[arg-type]

    monkeypatch.setattr("cutplan.output.workbook.write_saw_list", ticked)
    result = run("plan", job, "--output", saw)
    assert result.exit_code == 2
    as_worded(result.stderr)
    assert not untouched(saw)
    assert sorted(os.listdir(saw.parent)) == ["rack", "saw.xlsx"]


def test_ticks_are_reported_before_anything_is_searched_for(
    run, job: Path, saw: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nobody waits for a plan that cannot be written."""
    tick(saw, "spoilt", 1)

    def never(*_: object, **__: object) -> None:
        raise AssertionError("searched")

    monkeypatch.setattr("cutplan.plan.make_plan", never)
    assert "has a tick" in run("plan", job, "--output", saw).stderr


def test_a_list_that_nobody_saved_is_known_without_reading_its_cells(
    saw: Path, run, job: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Planned again and again, the list is replaced without the second it takes to read it; changed by one byte in any
    of its parts, it is read."""
    assert untouched(saw)
    content = saw.read_bytes()
    monkeypatch.setattr("cutplan.output.opened.load_workbook", lambda *_, **__: pytest.fail("read"))
    assert run("plan", job, "--output", saw).exit_code == 0
    assert saw.read_bytes() == content
    monkeypatch.undo()
    tick(saw, "spoilt", 1)
    assert not untouched(saw)
    saw.write_bytes(content[:-1])
    assert not untouched(saw)
    template = saw.with_name("template.xlsx")
    run("new", template)
    assert not untouched(template)


FOREIGN: dict[str, Callable[[Path, Path], tuple[object, ...]]] = {
    "plan.csv": lambda job, path: ("plan", job, "--csv", path),
    "plan.json": lambda job, path: ("plan", job, "--json", path),
    "lengths.json": lambda job, path: ("lengths", job, "--json", path),
    "buy.json": lambda job, path: ("buy", job, "--json", path),
    "wrap.pdf": lambda job, path: ("wrap", job, "LEG", "--output", path),
    "wrap.svg": lambda job, path: ("wrap", job, "LEG", "--output", path),
}


@pytest.mark.parametrize("name", FOREIGN)
def test_a_file_of_another_program_s_is_not_written_over(run, job: Path, tmp_path: Path, name: str) -> None:
    """A slip of the hand costs no drawing and no table; our own file of before, and an empty one, is replaced."""
    path = tmp_path / name
    arguments = FOREIGN[name](job, path)
    path.write_bytes(b"%PDF-1.4 my drawing")
    result = run(*arguments)
    assert result.exit_code == 2
    assert f"{path} already exists and " in result.stderr
    assert path.read_bytes() == b"%PDF-1.4 my drawing"
    path.write_bytes(b"")
    assert run(*arguments).exit_code == 0
    content = path.read_bytes()
    assert content
    assert run(*arguments).exit_code == 0
    assert path.read_bytes() == content


def test_what_is_read_is_not_written_over(run, job: Path, saw: Path, tmp_path: Path, as_worded: Worded) -> None:
    """The rack that is drawn on, the saw list that was ticked, and one file given for two things."""
    rack = tmp_path / "rack.csv"
    rack.write_text("tube,length\nT,1460 mm\n")
    result = run("plan", job, "--rack", rack, "--csv", rack)
    assert result.exit_code == 2
    assert "is the rack; write to another file" in result.stderr
    assert rack.read_text() == "tube,length\nT,1460 mm\n"
    tick(saw, "spoilt", 1)
    content = saw.read_bytes()
    as_worded(run("recut", saw, "--json", saw).stderr)
    as_worded(run("rack", "finish", saw, saw).stderr)
    assert saw.read_bytes() == content
    result = run("plan", job, "--csv", tmp_path / "same", "--json", tmp_path / "same")
    as_worded(result.stderr)
    assert not (tmp_path / "same").exists()
