"""Ticking a written saw list, as a person at the saw does."""

from __future__ import annotations

from pathlib import Path

from openpyxl import load_workbook


def tick(path: Path, column: str, *marks: str) -> None:
    """Tick a cut of each mark on a saw list."""
    book = load_workbook(path)
    rows = list(book["Saw list"].iter_rows())
    heads = [str(cell.value) for cell in next(row for row in rows if row[0].value == "cut")]
    left = list(marks)
    for row in rows:
        if row[heads.index("mark")].value in left:
            left.remove(row[heads.index("mark")].value)
            row[heads.index(column)].value = "x"
    assert not left
    book.save(path)
