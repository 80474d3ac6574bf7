"""A job's tables as they are in a workbook or a folder of ``.csv`` files: raw cells, each with its place.

Sheets and headings are matched without regard to case or spacing. Left out silently: sheets whose name begins with
``Notes`` or ``_``, and wholly blank rows. Left out with one remark for all: rows whose first cell begins with
``EXAMPLE`` (the worked lines of a template). Anything else that is not understood is a fault.
"""

from __future__ import annotations

import difflib
import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from cutplan.job.column import Sheet
from cutplan.job.faults import Fault, Place, Remark
from cutplan.job.letters import composed, hidden
from cutplan.job.schema import SHEETS

MOST_ROWS = 30_000
"""Rows of one sheet: room for some 5,000 bent members, and few enough to read within seconds."""

MOST_COLUMNS = 200
_SHORT_LIST = 40


@dataclass(frozen=True, slots=True)
class Spoilt:
    """A cell that holds no value to read (an error, a formula without a result, a date): the fault it makes."""

    got: str | None
    rule: str
    cure: str


Cell = str | int | float | bool | Spoilt
"""A cell's value; blank cells are absent."""


def quoted(cell: Cell) -> str | None:
    """A cell's own text, as a fault quotes it."""
    return cell.got if isinstance(cell, Spoilt) else str(cell)


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a table: its place, its cells by heading, and the headings that the table has."""

    place: Place
    cells: Mapping[str, Cell]
    headings: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Table:
    """One sheet's headings as found (in this project's spelling) and its rows."""

    sheet: Sheet
    headings: frozenset[str]
    rows: tuple[Row, ...]


@dataclass(slots=True)
class Tables:
    """What was read: the tables by sheet name, with every fault and remark met on the way."""

    tables: dict[str, Table] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    remarks: list[Remark] = field(default_factory=list)

    examples: int = 0
    """Worked lines left out."""

    unread: set[str] = field(default_factory=set)
    """Sheets that are there, or are meant, and could not be read (a fault says so): what they hold is not known."""

    def known(self, sheet: str) -> bool:
        """Whether everything that ``sheet`` names is known: read with its first heading, or rightly absent."""
        table = self.tables.get(sheet)
        if table is None:
            kind = sheet_called(sheet)
            return sheet not in self.unread and kind is not None and not kind.needed
        return table.sheet.headings[0] in table.headings

    def rows(self, sheet: str) -> tuple[Row, ...]:
        """The rows of ``sheet``, none where it is missing."""
        table = self.tables.get(sheet)
        return table.rows if table else ()


NumberedRow = tuple[int, Sequence[Cell | None]]
"""A row's number and its cells."""


@dataclass(frozen=True, slots=True)
class RawSheet:
    """A sheet before its headings are understood: its name and its rows with their numbers, blank
    cells None; wholly blank rows are left out."""

    name: str
    rows: Iterable[NumberedRow]


def squash(text: str) -> str:
    """``text`` as headings, marks and words are compared: without case or spacing, accents in one spelling."""
    return composed("".join(composed(text).split()).casefold())


def nearest(word: str, known: Iterable[str]) -> str:
    """The word of ``known`` that ``word`` was likely meant to be, or nothing."""
    by_key = {squash(each): each for each in known}
    near = difflib.get_close_matches(squash(word), by_key, n=1, cutoff=0.6)
    return by_key[near[0]] if near else ""


def likely(word: str, known: Iterable[str]) -> str:
    """The cure of a word that is not one of ``known``: a character nobody sees, the nearest of them, else the list
    where it is short."""
    known = list(known)
    if hidden(word):
        return hidden(word)
    meant = nearest(word, known)
    if meant:
        return f"did you mean {meant}?"
    return f"choose from {', '.join(known)}" if 0 < len(known) <= _SHORT_LIST else ""


def called(path: Path) -> str:
    """The name of a file or folder, also of one that is given as ``.`` or ``..``."""
    return Path(os.path.abspath(path)).name or str(path)


def not_a_file(path: Path) -> Fault | None:
    """The fault of what is there and is no ordinary file, so that reading it may never end; None for a file."""
    if path.is_file():
        return None
    if path.is_dir():
        rule, cure = "is a folder, not a file", "move it away, or put the file in its place"
    elif path.is_symlink() and not path.exists():
        rule, cure = "is a link to a file that is not there", "put the file itself in its place"
    else:
        rule, cure = "is a device or a pipe, not a file", "put the file itself in its place"
    return Fault(Place(called(path)), rule, cure=cure)


def aside(name: str) -> bool:
    """Whether a sheet of this name is left out."""
    return squash(name).startswith(("notes", "_"))


def sheet_called(name: str) -> Sheet | None:
    """The sheet that ``name`` means."""
    return next((sheet for sheet in SHEETS if squash(sheet.name) == squash(name)), None)


def too_long(name: str) -> Fault:
    """The fault of a sheet with more rows than a job can have."""
    return Fault(Place(name), f"has more than {MOST_ROWS:,} rows", cure="delete the rows below the last one used")


def read_table(
    sheet: Sheet, number: int, heading_row: Sequence[Cell | None], rows: Iterable[NumberedRow], found: Tables
) -> Table:
    """A table with its headings understood, which are in row ``number``; faults go to ``found``."""
    columns = _columns(sheet, number, heading_row, found)
    headings = frozenset(each for each in columns if each)
    read = []
    for row_number, cells in rows:
        place = Place(sheet.name, row_number)
        by_heading: dict[str, Cell] = {}
        for index, cell in enumerate(cells):
            name = columns[index] if index < len(columns) else None
            if cell is None:
                continue
            if name is not None:
                by_heading[name] = cell
            elif index >= len(heading_row) or heading_row[index] is None:
                cure = "give the column a heading, or clear the cell; put text with a comma in double quotes"
                found.faults.append(Fault(place, f"column {index + 1} has no heading", quoted(cell), cure))
        read.append(Row(place, by_heading, headings))
    return Table(sheet, headings, tuple(read))


def _columns(sheet: Sheet, number: int, heading_row: Sequence[Cell | None], found: Tables) -> list[str | None]:
    """The known heading of every column (None: blank or not understood), faults noted."""
    place = Place(sheet.name, number)
    known = {squash(each): each for each in sheet.headings}
    columns: list[str | None] = []
    meant: set[str] = set()
    for cell in heading_row:
        text = "" if cell is None or isinstance(cell, Spoilt) else str(cell).strip()
        name = known.get(squash(text))
        if isinstance(cell, Spoilt):
            found.faults.append(Fault(place, f"a heading {cell.rule}", cell.got, cell.cure))
        elif text and name is None:
            meant.add(nearest(text, sheet.headings))
            found.faults.append(Fault(place, "is not a heading of this sheet", text, likely(text, sheet.headings)))
        elif name in columns and name is not None:
            found.faults.append(Fault(place, "the heading appears twice", text, "keep one of the two columns"))
            name = None
        columns.append(name)
    for column in sheet.columns:
        if column.needed and column.heading not in columns and column.heading not in meant:
            rule = f"the heading {column.heading} is missing"
            found.faults.append(Fault(place, rule, cure=f"row {number} must hold the headings"))
    return columns
