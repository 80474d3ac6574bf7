"""A rack's workbook changed in place: its other sheets, widths, fills and comments stay as they are."""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from collections.abc import Iterator, Sequence
from pathlib import Path

from openpyxl import Workbook, load_workbook
from openpyxl.cell.cell import Cell, MergedCell
from openpyxl.worksheet.worksheet import Worksheet

from cutplan.job.rack import HEADINGS, Rack, row_of, row_of_job
from cutplan.job.tables import squash
from cutplan.output.files import OutputError
from cutplan.output.workbook import settled

_KEPT = re.compile(
    r"(?!xl/)|xl/((workbook|styles|sharedStrings|calcChain)\.xml|(_rels|worksheets|theme|tables|externalLinks)/"
    r"|persons/|printerSettings/|comments|drawings/(_rels/)?(vml|comments)Drawing)"
)
"""The parts of a workbook that are written again, or hold nothing that a person would miss."""

_CURE = "keep the rack in a workbook of its own"

Values = Sequence[str | int | None]


def changed_book(path: Path, old: Rack, new: Rack) -> bytes:
    """The workbook at ``path``, which holds ``old``, with ``new`` in its place.

    A piece that stays keeps its row; of one that is gone the row is cleared, and used for the next that comes. Formulas
    of the rack's sheet become what they were worked out to, since a program that has not worked them out again would
    find nothing there. Raises OutputError where something in the workbook would be lost.
    """
    raw = path.read_bytes()
    book = _loaded(path, raw)
    sheet = book[old.sheet]
    results = load_workbook(io.BytesIO(raw), data_only=True)[old.sheet]
    for cell in _filled(sheet):
        if cell.data_type == "f":
            _put(cell, results[cell.coordinate].value)
    _change(path, sheet, old, new)
    return settled(book)


def _loaded(path: Path, raw: bytes) -> Workbook:
    """The workbook. Raises OutputError where its reader passes over anything that matters."""
    with zipfile.ZipFile(io.BytesIO(raw)) as parts:
        lost = not all(map(_KEPT.match, parts.namelist()))
    with warnings.catch_warnings(record=True) as warned:
        warnings.simplefilter("always")
        book = load_workbook(io.BytesIO(raw), rich_text=True)
    if lost or any(_matters(str(one.message)) for one in warned):
        rule = "contains a chart, picture or similar item that would be lost"
        raise OutputError(path, rule, _CURE)
    return book


def _matters(warning: str) -> bool:
    """Whether the reader of workbooks names a known thing that it leaves out (rules of a later kind, sparklines)."""
    return warning.endswith("will be removed") and not warning.startswith("Unknown")


def _change(path: Path, sheet: Worksheet, old: Rack, new: Rack) -> None:
    filled = [cell.row for cell in _filled(sheet)]
    top, last = (min(filled), max(filled)) if filled else (1, 1)
    columns = {squash(str(cell.value)): cell.column for cell in _filled(sheet) if cell.row == top}
    if not filled:
        for column, heading in enumerate(HEADINGS, 1):
            columns[squash(heading)] = column
            _put(_cell(path, sheet, top, column), heading)

    def write(row: int, before: Values, after: Values) -> None:
        for heading, was, value in zip(HEADINGS, before, after, strict=True):
            if value == was:
                continue
            if squash(heading) not in columns:
                columns[squash(heading)] = max(columns.values(), default=0) + 1
                _put(_cell(path, sheet, top, columns[squash(heading)]), heading)
            _put(_cell(path, sheet, row, columns[squash(heading)]), value)

    staying = {rest.place.row: rest for rest in new.rests if rest.place.row is not None}
    gone = []
    for rest in old.rests:
        row = rest.place.row
        assert row is not None  # it was read from there
        if row in staying:
            write(row, row_of(rest), row_of(staying[row]))
        else:
            gone.append(row)
            for column in columns.values():
                cell = _cell(path, sheet, row, column)
                cell.comment = None
                _put(cell, None)
    free = iter([*gone, *range(last + 1, last + 1 + len(new.rests) + len(new.jobs))])
    blank: Values = (None,) * len(HEADINGS)
    for rest in new.rests:
        if rest.place.row is None:
            write(next(free), blank, row_of(rest))
    for job in new.jobs:
        if job not in old.jobs:
            write(next(free), blank, row_of_job(job))


def _filled(sheet: Worksheet) -> Iterator[Cell]:
    """The cells that are not empty. Only those in the file are looked at, however far apart they are."""
    for _, cell in sorted(sheet._cells.items()):
        if cell.value is not None and str(cell.value).strip():
            yield cell


def _cell(path: Path, sheet: Worksheet, row: int, column: int) -> Cell:
    cell = sheet.cell(row, column)
    if isinstance(cell, MergedCell):
        raise OutputError(path, f"{sheet.title} row {row} has merged cells", "unmerge them")
    return cell


def _put(cell: Cell, value: str | int | float | None) -> None:
    cell.value = value
    if isinstance(value, str):
        cell.data_type = "s"
