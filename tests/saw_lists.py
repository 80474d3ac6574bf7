"""Ticking a written saw list, as a person at the saw does."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

from openpyxl import load_workbook

SHEET = "Saw list"


def tick(path: Path, column: str, *cuts: int | str, word: str = "x") -> None:
    """Write ``word`` in ``column`` for these cuts of a saw list, by number, or by mark, which ticks the first of that
    mark."""
    book = load_workbook(path)
    rows = list(book[SHEET].iter_rows())
    headings = [str(cell.value) for cell in next(row for row in rows if row[0].value == "cut")]
    left = Counter(cuts)
    for row in rows:
        number, mark = row[0].value, row[headings.index("mark")].value
        for name in (number, mark):
            if name is not None and left[name]:
                left[name] -= 1
                row[headings.index(column)].value = word
    assert not +left, f"not on the list: {left}"
    book.save(path)
