"""Guards that a person who plans a broken job is told its fault in full, exit 1, and that no file comes or changes."""

from __future__ import annotations

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

WRITES: dict[str, Callable[[Path], Path]] = {
    **{name: lambda where, edits=edits: as_folder(broken_sheets(*edits), where) for name, edits in CELLS.items()},
    **FILES,
}


def _printed(text: str) -> str:
    """``text`` on one line, as a terminal shows it."""
    return "".join(letter for letter in " ".join(text.split()) if letter.isprintable())


@pytest.mark.parametrize("name", WRITES)
def test_a_broken_job_ends_with_1_and_writes_nothing(name: str, tmp_path: Path) -> None:
    """The one fault is told with its place, without a traceback, within seconds; every file is as it was."""
    path = WRITES[name](tmp_path)
    before = {each: each.read_bytes() for each in tmp_path.rglob("*") if each.is_file()}
    made = ("--output", tmp_path / "saw-list.xlsx", "--json", tmp_path / "plan.json", "--csv", tmp_path / "list.csv")
    start = time.process_time()
    result = CliRunner().invoke(main, ["plan", str(path), *map(str, made)])
    assert time.process_time() - start < SECONDS
    assert result.exit_code == 1, result.output
    assert isinstance(result.exception, SystemExit)
    assert result.stdout == ""
    told = _printed(result.stderr)
    assert "The job has 1 fault: nothing was planned" in told
    assert _printed(SAYS[name][1]) in told
    assert {each: each.read_bytes() for each in tmp_path.rglob("*") if each.is_file()} == before
