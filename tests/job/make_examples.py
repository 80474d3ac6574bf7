"""Writes the workbook of each example from its folder: ``python tests/job/make_examples.py``.

Plain numbers become numbers, everything else stays text, as a person would have typed it.
"""

from __future__ import annotations

import csv
from datetime import datetime
from pathlib import Path

from openpyxl import Workbook
from openpyxl.styles import Alignment, Font

EXAMPLES = Path(__file__).parents[2] / "examples"
_ORDER = ["Job", "Tubes", "Stock", "Shops", "Members", "Bends", "Points", "Nodes", "Distances", "Notes"]
_WIDEST = 48


def typed(text: str) -> str | int | float | None:
    """A cell's value: a number where the text is one, None where it is blank."""
    for kind in (int, float):
        try:
            return kind(text)
        except ValueError:
            continue
    return text or None


def write_workbook(folder: Path, target: Path) -> None:
    """The workbook ``target`` with a sheet for each ``.csv`` file of ``folder``."""
    book = Workbook()
    book.remove(book.active)
    for file in sorted(folder.glob("*.csv"), key=lambda each: _ORDER.index(each.stem)):
        sheet = book.create_sheet(file.stem)
        with file.open(encoding="utf-8", newline="") as lines:
            for row in csv.reader(lines):
                sheet.append([typed(cell) for cell in row])
        for column in sheet.columns:
            longest = max(len(str(cell.value or "")) for cell in column)
            sheet.column_dimensions[column[0].column_letter].width = min(longest + 2, _WIDEST)
            column[0].font = Font(bold=True)
            for cell in column:
                cell.alignment = Alignment(vertical="top", wrap_text=longest > _WIDEST)
        sheet.freeze_panes = "A2"
    # A fixed date, so that a workbook written again from the same folder differs in nothing but its zip times.
    book.properties.created = book.properties.modified = datetime(2026, 1, 1)
    book.properties.creator = "cutplan"
    book.save(target)


if __name__ == "__main__":
    for folder in sorted(each for each in EXAMPLES.iterdir() if each.is_dir()):
        write_workbook(folder, folder.with_suffix(".xlsx"))
