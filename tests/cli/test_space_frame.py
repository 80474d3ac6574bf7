"""A whole space frame by points, through the command line."""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import pytest
from openpyxl import load_workbook
from pypdf import PdfReader

sys.path.insert(0, str(Path(__file__).parents[1] / "geometry"))
from frames import space_frame


@pytest.fixture
def frame(tmp_path: Path) -> Path:
    """Its tables as a folder."""
    folder = tmp_path / "frame"
    folder.mkdir()
    for name, table in space_frame().items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows([["" if cell is None else cell for cell in row] for row in table])
    return folder


def test_a_space_frame_of_18_nodes_and_65_tubes(frame: Path, tmp_path: Path, run) -> None:
    """Plan, saw list, its check, and the wraps of all its shaped ends; what does not sit well is few lines."""
    made = tmp_path / "list.xlsx"
    planned = run("plan", frame, "--output", made)
    assert planned.exit_code == 0, planned.stderr
    book = load_workbook(made, read_only=True)
    marks = [row[5] for row in book["Saw list"].iter_rows(values_only=True) if isinstance(row[0], int)]
    assert len(marks) == len(set(marks)) == 65
    assert len([line for line in planned.stderr.splitlines() if line.startswith("remark")]) <= 12
    assert run("check", made).exit_code == 0
    shaped = [row for row in book["Making"].values if row[0] in ("a", "b") and row[1] != "inside of the wall"]
    assert len(shaped) == 112
    wraps = tmp_path / "wraps.pdf"
    assert run("wrap", frame, "--output", wraps).exit_code == 0
    assert len(PdfReader(wraps).pages) >= 112
