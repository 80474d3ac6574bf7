"""A space frame by points, through the command line."""

from __future__ import annotations

import sys
from pathlib import Path

from openpyxl import load_workbook
from pypdf import PdfReader

sys.path.insert(0, str(Path(__file__).parents[1] / "geometry"))
from frames import two_bays


def test_a_space_frame_of_12_nodes_and_32_tubes(tmp_path: Path, run) -> None:
    """Plan, saw list, its check, and the wraps of all its shaped ends; what does not sit well is few lines."""
    frame, made = tmp_path / "frame", tmp_path / "list.xlsx"
    frame.mkdir()
    planned = run("plan", two_bays(frame), "--output", made)
    assert planned.exit_code == 0, planned.stderr
    book = load_workbook(made, read_only=True)
    marks = [row[5] for row in book["Saw list"].iter_rows(values_only=True) if isinstance(row[0], int)]
    assert len(marks) == len(set(marks)) == 32
    assert len([line for line in planned.stderr.splitlines() if line.startswith("remark")]) <= 12
    assert run("check", made).exit_code == 0
    copes = (frame / "Members.csv").read_text(encoding="utf-8").count(",cope,")
    shaped = [row for row in book["Making"].values if row[0] in ("a", "b") and row[1] != "inside of the wall"]
    assert len(shaped) == copes > 45
    wraps = tmp_path / "wraps.pdf"
    assert run("wrap", frame, "--output", wraps).exit_code == 0
    assert len(PdfReader(wraps).pages) >= copes
