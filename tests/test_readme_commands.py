"""Guards that every command line of the README and the manual's worked page runs as shown, in order, in one folder."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

from openpyxl import Workbook, load_workbook

from cutplan.manual import page

ROOT = Path(__file__).parents[1]
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


def worked(path: Path, done: int, spoilt: int) -> None:
    """Tick cuts 1 to ``done`` as done and ``spoilt`` as spoilt, as a person does between two commands."""
    book = load_workbook(path)
    sheet = book["Saw list"]
    heads = {str(cell.value): cell.column for cell in sheet[4]}
    for row in range(5, sheet.max_row + 1):
        cut = sheet.cell(row, heads["cut"]).value
        if isinstance(cut, int) and cut <= done:
            sheet.cell(row, heads["done"]).value = "x"
        elif cut == spoilt:
            sheet.cell(row, heads["spoilt"]).value = "x"
    book.save(path)


def run_all(lines: list[str], folder: Path, environment: dict[str, str]) -> None:
    """Run each line in ``folder``; each must end with 0 and leave the file it names."""
    for line in lines:
        # The environment is there already: the first set-up line is run from its own command on.
        command = re.sub(r"^python3 -m venv .* && \.venv/bin/", "", line)
        assert command.startswith("cutplan ")
        if command.startswith("cutplan recut"):
            worked(folder / command.split()[2], done=6, spoilt=7)
        ended = subprocess.run(
            command, shell=True, cwd=folder, env=environment, capture_output=True, text=True, check=False
        )
        assert ended.returncode == 0, (line, ended.stderr)
        for name in re.findall(r"(?:--output|new) (\S+)", command):
            assert (folder / name).is_file(), line
            load_workbook(folder / name)
        if "new bike-rack" in line:
            first_job(folder / "bike-rack.xlsx")


def test_every_command_shown_runs(tmp_path: Path) -> None:
    """What is typed from the README does what it says: exit 0, and the file it names is there."""
    shutil.copytree(ROOT / "examples", tmp_path / "examples")
    environment = os.environ | {"PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"}
    inline = re.findall(r"`(cutplan [a-z]+ [a-z][\w.-]*\.xlsx)`", README)
    assert inline == ["cutplan new bike-rack.xlsx"]
    assert WORKED[0] == "cutplan recut saw-list.xlsx"
    assert len(WORKED) == 5
    lines = [*inline, *(line for line in SHOWN if "-m pytest" not in line)]
    assert len(lines) == 7
    run_all(lines, tmp_path, environment)
    for name in ("bay.xlsx", "bay 2.xlsx"):
        (tmp_path / name).unlink()
    run_all(WORKED[1:-1], tmp_path, environment)
    assert (tmp_path / "bay 2.xlsx").is_file()
    assert WORKED[-1] == "cutplan recut bay.xlsx --job bay-job.xlsx"
    (tmp_path / "bay 2.xlsx").unlink()
    shutil.copy(tmp_path / "examples" / "sand-rail-bay.xlsx", tmp_path / "bay-job.xlsx")
    run_all(WORKED[-1:], tmp_path, environment)
    assert (tmp_path / "bay 2.xlsx").is_file()


def test_the_line_for_the_tests_is_what_the_gate_runs() -> None:
    """The README's second set-up line cannot run within itself: the gate runs it, word for word."""
    (line,) = [line for line in SHOWN if "-m pytest" in line]
    assert line in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_the_first_screen_tells_the_job_two_commands_and_the_result() -> None:
    """Within the first 60 lines: what it is for, the two set-up lines, one picture, and the way to the caution."""
    screen = "\n".join(README.splitlines()[:60])
    assert screen.startswith("# cutplan\n\nYou weld a frame from round tube")
    assert re.findall(r"^    (python3 .+)$", screen, re.MULTILINE) == [line for line in SHOWN if "venv" in line]
    assert len(re.findall(r"^```text$", screen, re.MULTILINE)) == 1
    assert "\n## " not in screen[: screen.index("(#caution)")]
