"""The folder form of a job: one ``.csv`` file a sheet, UTF-8, comma-separated."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from pathlib import Path

from cutplan.job.commas import look_for_commas
from cutplan.job.faults import Fault, JobError, Place
from cutplan.job.tables import MOST_ROWS, Cell, RawSheet, Tables, aside, called, not_a_file, sheet_called, too_long

_MOST_BYTES = 50_000_000


def raw_sheets(path: Path, found: Tables) -> Iterator[RawSheet]:
    """The sheets of the folder ``path``; files that are not ``.csv`` are none of a job's. Raises JobError, OSError."""
    files = sorted(each for each in path.iterdir() if each.suffix.lower() == ".csv" and not each.name.startswith("."))
    if not files:
        raise JobError(
            [Fault(Place(called(path)), "the folder contains no .csv files", cure="one for each sheet of the job")]
        )
    texts = {file: _text(file) for file in files if not aside(file.stem)}
    for file, text in texts.items():
        rows = _rows(file, text, found)
        if rows is not None:
            sheet = sheet_called(file.stem)
            if sheet is not None:
                look_for_commas(sheet.name, rows, found)
            yield RawSheet(file.stem, rows)


def raw_sheet(file: Path, found: Tables) -> RawSheet:
    """The one table of ``file``, which is no job's; without rows where a fault was reported. Raises JobError."""
    return RawSheet(file.stem, _rows(file, _text(file), found) or ())


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
        raise JobError([Fault(place, f"cannot be read: {error.strerror or error}")]) from error
    if large:
        raise JobError([Fault(place, f"is larger than {_MOST_BYTES // 1_000_000} MB")])
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise JobError([Fault(place, "is UTF-16 text", cure=cure)])
    if raw.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        raise JobError(
            [Fault(place, "is a workbook renamed to .csv", cure="give it back its own ending and use just that file")]
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = raw.count(b"\n", 0, error.start) + 1
        got = f"byte {raw[error.start]:02x}"
        raise JobError([Fault(Place(file.name, row), "is not UTF-8 text", got, cure)]) from error
    if "\0" in text:
        raise JobError([Fault(place, "contains a NUL character: it is not text", cure=cure)])
    return text


def _rows(file: Path, text: str, found: Tables) -> list[tuple[int, list[Cell | None]]] | None:
    head = text.split("\n", 1)[0]
    for mark, name in ((";", "semicolons"), ("\t", "tabs")):
        if mark in head and "," not in head:
            cure = "save it with commas between the cells"
            found.faults.append(Fault(Place(file.stem, 1), f"the cells are separated by {name}", cure=cure))
            _unread(file, found)
            return None
    rows: list[tuple[int, list[Cell | None]]] = []
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    try:
        for number, cells in enumerate(reader, 1):
            if number > MOST_ROWS:
                found.faults.append(too_long(file.stem))
                _unread(file, found)
                return None
            if any(cell.strip() for cell in cells):
                rows.append((number, [cell.strip() or None for cell in cells]))
    except csv.Error as error:
        place = Place(file.stem, reader.line_num)
        if "larger than field limit" in str(error):
            found.faults.append(Fault(place, f"has a cell with more than {csv.field_size_limit():,} characters"))
        else:
            cure = "a double quote inside a cell is written twice"
            found.faults.append(Fault(place, f"the quotes do not match ({error})", cure=cure))
        _unread(file, found)
        return None
    return rows


def _unread(file: Path, found: Tables) -> None:
    sheet = sheet_called(file.stem)
    found.unread.add(sheet.name if sheet else file.stem)
