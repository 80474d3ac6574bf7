"""Commas in a ``.csv`` file that were meant as decimals or as part of a text, and split a cell in two."""

from __future__ import annotations

import re
from collections.abc import Sequence

from cutplan.job.faults import Fault, Place, Remark
from cutplan.job.tables import Cell, Tables, squash

_WHOLE = re.compile(r"[+-]?\d+", re.ASCII)
_FIGURES = re.compile(r"\d+", re.ASCII)

Rows = Sequence[tuple[int, Sequence[Cell | None]]]


def look_for_commas(sheet: str, rows: Rows, found: Tables) -> None:
    """Note in ``found`` signs of a split cell: a row with more cells than headings, though the last be blank, and
    decimals read as a note. ``rows``: the headings, then every row that holds anything, to its last comma.

    A program that pads a table pads all rows alike: blank cells past the headings at the end of every row, of two at
    least, are remarked once and stop nothing.
    """
    if not rows:
        return
    (_, headings), *below = rows
    # What is beyond the headings and not blank is a fault that is reported with its text.
    wide = [number for number, cells in below if len(cells) > len(headings) and not any(cells[len(headings) :])]
    widths = {len(cells) for _, cells in below}
    if wide and len(widths) == 1 and len(below) > 1:
        text = f"every row has {widths.pop()} cells under {len(headings)} headings, the last of them blank"
        found.remarks.append(Remark(Place(sheet), f"{text} (check that no number is written with a decimal comma)"))
    else:
        cure = "write decimals with a point; put text with a comma in double quotes"
        width = {number: len(cells) for number, cells in below}
        found.faults.extend(
            Fault(Place(sheet, number), f"has {width[number]} cells under {len(headings)} headings", cure=cure)
            for number in wide
        )
    _look_for_notes(sheet, headings, below, found)


def _look_for_notes(sheet: str, headings: Sequence[Cell | None], below: Rows, found: Tables) -> None:
    """A note of figures alone, right of a whole number, may be the decimals that a comma cut off."""
    at = next(
        (index for index, heading in enumerate(headings) if heading is not None and squash(str(heading)) == "note"), 0
    )
    for number, cells in below if at else ():
        if len(cells) <= at:
            continue
        before, note = cells[at - 1], cells[at]
        if not (isinstance(before, str) and isinstance(note, str)):
            continue
        if _WHOLE.fullmatch(before) and _FIGURES.fullmatch(note):
            text = f'"{note}" is read as a note (if {before}.{note} was meant, write it with a point)'
            found.remarks.append(Remark(Place(sheet, number, "note"), text))
