"""The folder form of a job: one ``.csv`` file a sheet, UTF-8, comma-separated.

Commas that were meant as decimals, or as part of a text, split a cell in two: signs of that are looked for.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence
from pathlib import Path

from cutplan.job.faults import Fault, JobError, Place, Remark
from cutplan.job.tables import (
    MOST_ROWS,
    Cell,
    NumberedRow,
    RawSheet,
    Tables,
    aside,
    called,
    not_a_file,
    sheet_called,
    squash,
    too_long,
)

_MOST_BYTES = 50_000_000
_WHOLE = re.compile(r"[+-]?\d+", re.ASCII)
_FIGURES = re.compile(r"\d+", re.ASCII)


def raw_sheets(path: Path, found: Tables) -> Iterator[RawSheet]:
    """The sheets of the folder ``path``; files that are not ``.csv`` are not part of a job. Raises JobError,
    OSError."""
    files = sorted(each for each in path.iterdir() if each.suffix.lower() == ".csv" and not each.name.startswith("."))
    if not files:
        raise JobError.of(called(path), "the folder contains no .csv files", cure="one for each sheet of the job")
    texts = {file: _text(file) for file in files if not aside(file.stem)}
    for file, text in texts.items():
        rows = _rows_or_faults(file, text, found)
        if rows is not None:
            sheet = sheet_called(file.stem)
            if sheet is not None:
                look_for_commas(sheet.name, rows, found)
            yield RawSheet(file.stem, rows)


def raw_sheet(file: Path, found: Tables) -> RawSheet:
    """The one table of ``file``, which is not part of a job; without rows where a fault was reported. Raises
    JobError."""
    return RawSheet(file.stem, _rows_or_faults(file, _text(file), found) or ())


def _text(file: Path) -> str:
    """The file's text. Raises JobError for one that is not UTF-8 text."""
    place, cure = Place(file.name), "save it again as CSV UTF-8"
    fault = not_a_file(file)
    if fault:
        raise JobError([fault])
    try:
        large = file.stat().st_size > _MOST_BYTES
        raw = b"" if large else file.read_bytes()
    except OSError as error:
        raise JobError.of(place, f"cannot be read: {error.strerror or error}") from error
    if large:
        raise JobError.of(place, f"is larger than {_MOST_BYTES // 1_000_000} MB")
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise JobError.of(place, "is UTF-16 text", cure=cure)
    if raw.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        cure = "give it back its own ending and use just that file"
        raise JobError.of(place, "is a workbook renamed to .csv", cure=cure)
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = raw.count(b"\n", 0, error.start) + 1
        got = f"byte {raw[error.start]:02x}"
        raise JobError.of(Place(file.name, row), "is not UTF-8 text", got, cure) from error
    if "\0" in text:
        raise JobError.of(place, "contains a NUL character: it is not text", cure=cure)
    return text


def _rows_or_faults(file: Path, text: str, found: Tables) -> list[NumberedRow] | None:
    """The rows of a file; None where they cannot be told apart, which is noted in ``found``."""
    try:
        return _rows(file, text)
    except JobError as error:
        found.faults.extend(error.faults)
        sheet = sheet_called(file.stem)
        found.unread.add(sheet.name if sheet else file.stem)
        return None


def _rows(file: Path, text: str) -> list[NumberedRow]:
    """The rows that hold anything, with their numbers. Raises JobError."""
    head = text.split("\n", 1)[0]
    for mark, name in ((";", "semicolons"), ("\t", "tabs")):
        if mark in head and "," not in head:
            cure = "save it with commas between the cells"
            raise JobError.of(Place(file.stem, 1), f"the cells are separated by {name}", cure=cure)
    rows: list[NumberedRow] = []
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    try:
        for number, cells in enumerate(reader, 1):
            if number > MOST_ROWS:
                raise JobError([too_long(file.stem)])
            if any(cell.strip() for cell in cells):
                rows.append((number, [cell.strip() or None for cell in cells]))
    except csv.Error as error:
        place = Place(file.stem, reader.line_num)
        rule, cure = f"the quotes do not match ({error})", "a double quote inside a cell is written twice"
        if "larger than field limit" in str(error):
            rule, cure = f"has a cell with more than {csv.field_size_limit():,} characters", ""
        raise JobError.of(place, rule, cure=cure) from error
    return rows


def look_for_commas(sheet: str, rows: Sequence[NumberedRow], found: Tables) -> None:
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


def _look_for_notes(sheet: str, headings: Sequence[Cell | None], below: Sequence[NumberedRow], found: Tables) -> None:
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
