"""Guards that a person who plans a broken job reads its fault in full, exit 1, and that no file comes or changes.

What is said of each fault, ``test_broken.py`` holds; here it is held that a command shows it as it is: for a fault in
each column and of each kind of file, and wherever a message holds more than a terminal may be given.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from broken_base import as_folder, broken_sheets
from broken_cases import CELLS
from broken_files import FILES
from broken_says import SAYS, SECONDS
from click.testing import CliRunner

from cutplan.cli.main import main

FILE_OF: dict[str, Callable[[Path], Path]] = {
    **{name: lambda where, edits=edits: as_folder(broken_sheets(*edits), where) for name, edits in CELLS.items()},
    **FILES,
}


def _chosen() -> list[str]:
    """The first case of each kind of message and place, and all with letters that are not printed as they are."""
    found: dict[tuple[str, str], str] = {}
    for name in FILE_OF:
        kind, text = SAYS[name]
        found.setdefault((kind, re.sub(r" row \d+", "", text.partition(": ")[0])), name)
    return [name for name in FILE_OF if name in found.values() or not SAYS[name][1].isascii() or "escape" in name]


CHOSEN = _chosen()


def test_a_fault_of_every_column_is_among_those_chosen() -> None:
    """Guards the choice: of the cases, and of the files that cannot be read, a fair part."""
    assert len(CHOSEN) > 60
    assert sum(SAYS[name][0] == "refused" for name in CHOSEN) >= 6


def _printed(text: str) -> str:
    """``text`` on one line, as a terminal shows it."""
    return "".join(letter for letter in " ".join(text.split()) if letter.isprintable())


@pytest.mark.parametrize("name", CHOSEN)
def test_a_broken_job_ends_with_1_and_writes_nothing(name: str, tmp_path: Path) -> None:
    """The one fault is reported with its place, without a traceback, within seconds; every file is as it was."""
    path = FILE_OF[name](tmp_path)
    before = {each: each.read_bytes() for each in tmp_path.rglob("*") if each.is_file()}
    made = ("--output", tmp_path / "saw-list.xlsx", "--json", tmp_path / "plan.json", "--csv", tmp_path / "list.csv")
    start = time.process_time()
    result = CliRunner().invoke(main, ["plan", str(path), *map(str, made)])
    assert time.process_time() - start < SECONDS
    assert result.exit_code == 1, result.output
    assert isinstance(result.exception, SystemExit)
    assert result.stdout == ""
    shown = _printed(result.stderr)
    assert "The job has 1 fault: nothing was planned" in shown
    assert _printed(SAYS[name][1]) in shown
    assert {each: each.read_bytes() for each in tmp_path.rglob("*") if each.is_file()} == before
