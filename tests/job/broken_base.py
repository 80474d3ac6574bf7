"""A sound job in parts, and the edits that break it in one place; written as a folder or as a workbook."""

from __future__ import annotations

import copy
import csv
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from openpyxl import Workbook

Sheets = dict[str, list[list[object]]]
Edit = Callable[[Sheets], None]

BASE: Sheets = {
    "Job": [
        ["setting", "value"],
        ["name", "rear bay"],
        ["units", "mm"],
        ["kerf", "2.5"],
        ["step", "0.5"],
        ["spares", "1"],
        ["fitted", "after all cuts"],
        ["keep", "300"],
        ["share mitres", "no"],
        ["end trim", "10"],
    ],
    "Tubes": [
        ["tube", "od", "wall", "clr", "stretch", "grip", "mass", "density"],
        ["38x2.5", "38", "2.5", "114", "1.5", "120", None, None],
        ["30x2", "30", "2", None, None, None, None, None],
    ],
    "Stock": [
        ["tube", "length", "price", "available", "from", "label", "end trim"],
        ["38x2.5", "6000", "58.20", None, "buy", None, None],
        ["38x2.5", "3000", "33.40", "4", "buy", None, None],
        ["30x2", "6000", "37.90", None, "buy", None, None],
        ["30x2", "880", None, None, "rack", "R3", "0"],
    ],
    "Members": [
        [
            "mark",
            "tube",
            "qty",
            "pair",
            "length",
            "measured",
            "end a",
            "angle a",
            "onto a",
            "offset a",
            "measured a",
            "end b",
            "angle b",
            "onto b",
            "offset b",
            "measured b",
            "turn",
            "insured",
            "note",
        ],
        ["HOOP", "38x2.5", "1", None, None, None, "square", *[None] * 4, "square", *[None] * 6, "main hoop"],
        ["BS", "38x2.5", "1", "yes", "1186", "face", "cope", "55", "HOOP", "0", None, "square", *[None] * 7],
        [
            "DG",
            "38x2.5",
            "1",
            None,
            "1352",
            None,
            "cope",
            "48",
            "HOOP",
            None,
            None,
            "cope",
            "42",
            "BS-L",
            None,
            None,
            "90",
            "yes",
            None,
        ],
        ["KB", "30x2", "2", None, "318", "short", "mitre", "45", None, None, None, "mitre", "30", *[None] * 6],
        ["FR", "38x2.5", "1", *[None] * 16],
        ["RA", "30x2", "1", None, None, None, "cope", None, "FR", *[None] * 10],
    ],
    "Bends": [
        ["mark", "straight", "to", "angle", "radius", "rotation"],
        ["HOOP", "1010", "apex", "82", "114", None],
        ["HOOP", "840", "apex", "82", None, "0"],
        ["HOOP", "1010", "apex", None, None, None],
    ],
    "Points": [
        ["mark", "x", "y", "z", "radius"],
        ["FR", "0", "0", "0", None],
        ["FR", "800", "0", "0", "120"],
        ["FR", "800", "600", "0", None],
        ["RA", "400", "0", "0", None],
        ["RA", "400", "500", "0", None],
    ],
}


@dataclass(frozen=True)
class Broken:
    """A broken job: its fault's name, how to write it (to a fresh folder, giving the job's path), and what
    must be said; ``refused``: it cannot be read at all."""

    name: str
    write: Callable[[Path], Path]
    says: str
    refused: bool = False


def put(sheet: str, row: int, heading: str, value: object) -> Edit:
    """Another value in one cell (rows as the spreadsheet counts them)."""

    def edit(sheets: Sheets) -> None:
        table = sheets[sheet]
        line = table[row - 1]
        line[table[0].index(heading)] = value

    return edit


def add(sheet: str, **cells: object) -> Edit:
    """One more row, by headings with ``_`` for the space."""

    def edit(sheets: Sheets) -> None:
        table = sheets[sheet]
        table.append([cells.get(str(heading).replace(" ", "_")) for heading in table[0]])

    return edit


def cut(sheet: str, *rows: int) -> Edit:
    """Without these rows."""

    def edit(sheets: Sheets) -> None:
        sheets[sheet] = [line for number, line in enumerate(sheets[sheet], 1) if number not in rows]

    return edit


def heading(sheet: str, old: str, new: object) -> Edit:
    """Another heading in place of ``old``."""
    return put(sheet, 1, old, new)


def drop(sheet: str) -> Edit:
    """Without this sheet."""
    return lambda sheets: sheets.pop(sheet) and None


def broken_sheets(*edits: Edit) -> Sheets:
    """The base after the edits."""
    sheets = copy.deepcopy(BASE)
    for edit in edits:
        edit(sheets)
    return sheets


def as_folder(sheets: Sheets, where: Path) -> Path:
    """The job as a folder of ``.csv`` files."""
    folder = where / "job"
    folder.mkdir()
    for name, table in sheets.items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows([["" if cell is None else cell for cell in row] for row in table])
    return folder


def as_workbook(sheets: Sheets, where: Path, finish: Callable[[Workbook], None] | None = None) -> Path:
    """The job as a workbook, ``finish`` being given the last word on it."""
    book = Workbook()
    book.remove(book.active)
    for name, table in sheets.items():
        sheet = book.create_sheet(name)
        for row in table:
            sheet.append(row)
    if finish:
        finish(book)
    target = where / "job.xlsx"
    book.save(target)
    return target
