"""Guards that every command line of the README and the manual's worked page runs as shown, in order, in one folder."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner
from openpyxl import Workbook, load_workbook
from saw_lists import tick

from cutplan.cli.main import main
from cutplan.manual import page

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(Path(__file__).parent))
from test_docs import BLOCKS, shown  # noqa: E402

README = (ROOT / "README.md").read_text(encoding="utf-8")
LINE = re.compile(r"^    (cutplan .+|python3 .+)$", re.MULTILINE)
SHOWN = LINE.findall(README)
"""The command lines of the README's blocks, in order."""
WORKED = LINE.findall(page("mistakes"))
"""Those of the worked page of the manual; its first line shows the command alone, with any saw list."""


def first_job(path: Path) -> None:
    """The job of the README's tables, as a workbook."""
    book = Workbook()
    book.remove(book.worksheets[0])
    for name, table in re.findall(r"^Sheet `(\w+)`.*?\n\n((?:\|.*\n)+)", README, re.MULTILINE):
        rows = [[cell.strip() or None for cell in row.strip("|").split("|")] for row in table.splitlines()]
        sheet = book.create_sheet(name)
        for row in [rows[0], *rows[2:]]:
            sheet.append(row)
    book.save(path)


def written(path: Path, mark: str, **cells: float) -> None:
    """Write these cells in the row of ``mark`` in a job."""
    book = load_workbook(path)
    rows = list(book["Members"].iter_rows())
    headings = [str(cell.value) for cell in next(row for row in rows if row[0].value == "mark")]
    (row,) = [row for row in rows if row[0].value == mark]
    for column, value in cells.items():
        row[headings.index(column.replace("_", " "))].value = value
    book.save(path)


def before(line: str, folder: Path) -> None:
    """What the text says that a person does before this command."""
    if line == "cutplan plan frame.xlsx --output list.xlsx":
        shutil.copy(folder / "examples" / "roll-bar-in-place.xlsx", folder / "frame.xlsx")
    elif line == "cutplan recut list.xlsx --job frame.xlsx":
        tick(folder / "list.xlsx", "done", *range(1, 7))
        tick(folder / "list.xlsx", "fitted", 1)
        written(folder / "frame.xlsx", "STAY", length=868, angle_a=57)
    elif line == 'cutplan recut "list 2.xlsx" --job frame.xlsx':
        tick(folder / "list 2.xlsx", "done", 1, 2)
        written(folder / "frame.xlsx", "DIAG", length=1296, angle_a=49, angle_b=42)
        written(folder / "frame.xlsx", "TIE", length=931, angle_a=58, angle_b=58)
        written(folder / "frame.xlsx", "HB", length=880)
    elif line == 'cutplan recut "list 3.xlsx"':
        tick(folder / "list 3.xlsx", "spoilt", 1)
    elif line.startswith("cutplan rack finish"):
        tick(folder / "list 4.xlsx", "done", 1, 2)
    elif line.startswith("cutplan recut"):
        tick(folder / line.split()[2], "done", *range(1, 7))
        tick(folder / line.split()[2], "spoilt", 7)


def run_all(lines: list[str], folder: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """Run each line in ``folder``; each must end with 0 and leave the file it names. What they say together.

    The line that sets up is run by a shell, with the command that is installed; the others in this process.
    """
    monkeypatch.chdir(folder)
    environment = os.environ | {"PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"}
    said = []
    for line in lines:
        # The environment is there already: the first set-up line is run from its own command on.
        command = re.sub(r"^python3 -m venv .* && \.venv/bin/", "", line)
        assert command.startswith("cutplan ")
        before(command, folder)
        if command != line:
            said.append(subprocess.check_output(command, shell=True, env=environment, text=True))
        else:
            ended = CliRunner().invoke(main, shlex.split(command)[1:])
            assert ended.exit_code == 0, (line, ended.output)
            said.append(ended.stdout)
        for name in re.findall(r"(?:--output|new) (\S+)", command):
            assert (folder / name).is_file(), line
            load_workbook(folder / name)
        if "new bike-rack" in line:
            first_job(folder / "bike-rack.xlsx")
    return "".join(said)


def test_every_command_shown_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is typed from the README does what it says: exit 0, and the file it names is there."""
    shutil.copytree(ROOT / "examples", tmp_path / "examples")
    inline = re.findall(r"`(cutplan [a-z]+ [a-z][\w.-]*\.xlsx)`", README)
    assert inline == ["cutplan new bike-rack.xlsx"]
    assert WORKED[0] == "cutplan recut saw-list.xlsx"
    assert len(WORKED) == 5
    lines = [*inline, *(line for line in SHOWN if "-m pytest" not in line)]
    assert len(lines) == 10
    said = run_all(lines, tmp_path, monkeypatch)
    (build,) = [block for block in BLOCKS if "was an estimate" in block]
    assert len(build.splitlines()) > 10
    assert shown(build, said) == []
    assert "To buy" not in said
    assert (tmp_path / "rack.csv").is_file()
    run_all(WORKED[1:-1], tmp_path, monkeypatch)
    assert (tmp_path / "bay 2.xlsx").is_file()
    assert WORKED[-1] == "cutplan recut bay.xlsx --job bay-job.xlsx"
    (tmp_path / "bay 2.xlsx").unlink()
    shutil.copy(tmp_path / "examples" / "sand-rail-bay.xlsx", tmp_path / "bay-job.xlsx")
    run_all(WORKED[-1:], tmp_path, monkeypatch)
    assert (tmp_path / "bay 2.xlsx").is_file()


def test_the_line_for_the_tests_is_what_the_gate_runs() -> None:
    """The README's second set-up line cannot run within itself: the gate runs it, word for word."""
    (line,) = [line for line in SHOWN if "-m pytest" in line]
    assert line in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_the_first_screen_shows_the_job_two_commands_and_the_result() -> None:
    """Within the first 60 lines: what it is for, the two set-up lines, one picture, and the way to the caution."""
    screen = "\n".join(README.splitlines()[:60])
    assert screen.startswith("# cutplan\n\nYou weld a frame from round tube")
    assert re.findall(r"^    (python3 .+)$", screen, re.MULTILINE) == [line for line in SHOWN if "venv" in line]
    assert len(re.findall(r"^```text$", screen, re.MULTILINE)) == 1
    assert "\n## " not in screen[: screen.index("(#caution)")]
