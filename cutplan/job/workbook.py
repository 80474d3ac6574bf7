"""The workbook form of a job: an ``.xlsx`` file, one sheet a table."""

from __future__ import annotations

import datetime
import io
import re
import warnings
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from cutplan.job.faults import Fault, JobError, Place, Remark
from cutplan.job.tables import (
    MOST_COLUMNS,
    MOST_ROWS,
    Cell,
    RawSheet,
    Spoilt,
    Tables,
    aside,
    not_a_file,
    quoted,
    sheet_called,
    too_long,
)

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.cell.cell import Cell as SheetCell
    from openpyxl.worksheet.worksheet import Worksheet

_MOST_BYTES = 500_000_000
_TOO_LARGE = "is too large to be a job"
_MOST_MERGED = 20_000
_MERGED = re.compile(rb'<(?:\w+:)?mergeCell\b[^>]*\sref="([^"]*)"')
_STRICT = b"http://purl.oclc.org/ooxml/"
"""The namespaces of ISO/IEC 29500-1 Strict, which the reader of workbooks passes over."""
_ROW = re.compile(rb"<(?:\w+:)?row[\s>/]")
_UNWORKED = re.compile(rb"(?:</(?:\w+:)?f>|<(?:\w+:)?f\b[^>]*/>)\s*(?:</|<(?:\w+:)?v\s*/>|<(?:\w+:)?v>\s*</)")
"""A formula with no result beside it."""
_RELATION = re.compile(r"<(?:\w+:)?Relationship\b[^>]*>")
_SHEET = re.compile(r"<(?:\w+:)?sheet\b[^>]*>")
_ENCRYPTED = "EncryptedPackage".encode("utf-16-le")


Held = dict[int, dict[int, Cell]]
"""Values by row and column, in that order."""


def raw_sheets(path: Path, found: Tables, *, rack: bool = False) -> Iterator[RawSheet]:
    """The sheets of the workbook ``path``, a job's or a rack's. Raises JobError where it is none, is locked or too
    long; OSError."""
    raw = _checked(path)
    large, unworked = _scan(path, raw)
    if large:
        raise JobError(large)
    values = _load(path, raw, data_only=True)
    if {"Saw list", "Plan data"} <= set(values.sheetnames):
        cure = "after a mistake: cutplan recut; otherwise give the job it was made from"
        cure = "name the rack's own file" if rack else cure
        raise JobError.of(path.name, f"is a saw list, not a {'rack' if rack else 'job'}", cure=cure)
    written = _load(path, raw, data_only=False) if unworked else None
    for sheet in values.worksheets:
        if aside(sheet.title):
            continue
        held = _held(sheet, written[sheet.title] if written else None)
        kind = sheet_called(sheet.title)
        stray = _stray(sheet.title, held)
        if stray is not None:
            found.faults.append(stray)
            found.unread.add(kind.name if kind else sheet.title)
            continue
        if kind is not None or rack:
            _note_what_is_hidden(sheet, held, found)
        yield RawSheet(sheet.title, _rows(held))


def _checked(path: Path) -> bytes:
    """The file's bytes, once they look like a workbook's."""
    place = Place(path.name)
    fault = not_a_file(path)
    if fault and not (path.exists() or path.is_symlink()):
        raise JobError.of(place, "there is no such file or folder", cure="check the name and the folder")
    if fault:
        raise JobError([fault])
    if path.stat().st_size > _MOST_BYTES:
        raise JobError.of(place, _TOO_LARGE)
    raw = path.read_bytes()
    if raw.startswith(b"\xd0\xcf\x11\xe0"):
        if _ENCRYPTED in raw:
            raise JobError.of(place, "is locked with a password", cure="save it without one")
        raise JobError.of(place, "is an old .xls workbook", cure="save it as .xlsx")
    if not raw:
        raise JobError.of(place, "is empty")
    if not raw.startswith(b"PK"):
        cure = "give the folder that holds the .csv files" if path.suffix.lower() == ".csv" else "save it as .xlsx"
        raise JobError.of(place, "is not a workbook", cure=cure)
    return raw


def _scan(path: Path, raw: bytes) -> tuple[list[Fault], bool]:
    """The faults of sheets with too many rows or merged cells, and whether any formula lacks its result, without
    building any cell."""
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            if "xl/workbook.xml" not in archive.namelist():
                rule = "is not a workbook but another kind of zip file"
                raise JobError.of(path.name, rule, cure="save it as .xlsx")
            if sum(each.file_size for each in archive.infolist()) > _MOST_BYTES:
                raise JobError.of(path.name, _TOO_LARGE)
            if _STRICT in archive.read("xl/workbook.xml"):
                raise JobError.of(path.name, "is saved as Strict Open XML", cure="save it as plain .xlsx")
            names = _sheet_names(archive)
            large, unworked = [], False
            for part in archive.namelist():
                if part.startswith("xl/worksheets/") and part.endswith(".xml"):
                    content = archive.read(part)
                    name = names.get(part.rsplit("/", 1)[1], part)
                    if not aside(name) and len(_ROW.findall(content)) > MOST_ROWS:
                        large.append(too_long(name))
                    large.extend(_large_merges(name, content))
                    unworked = unworked or _UNWORKED.search(content) is not None
            return large, unworked
    except JobError:
        raise
    except Exception as error:  # a damaged archive raises anything at all from the reader
        raise _damaged(path) from error


def _large_merges(name: str, content: bytes) -> Iterator[Fault]:
    """A fault for each range of merged cells so large that the reader of workbooks would build cells for minutes."""
    from openpyxl.worksheet.cell_range import CellRange

    for match in _MERGED.finditer(content):
        merged = CellRange(match[1].decode())
        if merged.size["rows"] * merged.size["columns"] > _MOST_MERGED:
            yield Fault(Place(name, merged.min_row), f"the cells {merged.coord} are merged", cure="unmerge them")


def _sheet_names(archive: zipfile.ZipFile) -> dict[str, str]:
    """Sheet names by the file name of their part."""
    relations = archive.read("xl/_rels/workbook.xml.rels").decode()
    book = archive.read("xl/workbook.xml").decode()
    files = {
        _attribute(each, "Id"): _attribute(each, "Target").rsplit("/", 1)[-1] for each in _RELATION.findall(relations)
    }
    return {files.get(_attribute(each, r"\w+:id"), ""): _attribute(each, "name") for each in _SHEET.findall(book)}


def _attribute(tag: str, name: str) -> str:
    found = re.search(rf'\s{name}="([^"]*)"', tag)
    return found[1] if found else ""


def _load(path: Path, raw: bytes, *, data_only: bool) -> Workbook:
    from openpyxl import load_workbook

    try:
        with warnings.catch_warnings():
            # Drop-downs and styles of other programs have no meaning for a job.
            warnings.simplefilter("ignore")
            return load_workbook(io.BytesIO(raw), data_only=data_only, keep_links=False)
    except Exception as error:  # a damaged part raises anything at all from the reader
        raise _damaged(path) from error


def _damaged(path: Path) -> JobError:
    return JobError.of(path.name, "is damaged and cannot be opened", cure="save it again as .xlsx")


def _held(sheet: Worksheet, written: Worksheet | None) -> Held:
    """Every cell that holds anything: only those in the file are looked at, so that one far off costs no time."""
    held: Held = {}
    for (row, column), cell in sorted(sheet._cells.items()):
        value = _value(cell, written)  # type: ignore[arg-type]  # the library's own dictionary is not in the stubs
        if value is not None:
            held.setdefault(row, {})[column] = value
    return held


def _stray(name: str, held: Held) -> Fault | None:
    """The fault of a cell beyond any table."""
    if any(max(cells) > MOST_COLUMNS for cells in held.values()):
        rule, cure = f"has cells beyond column {MOST_COLUMNS}", "clear the stray cells on the right"
        return Fault(Place(name), rule, cure=cure)
    far = next((row for row in held if row > MOST_ROWS), None)
    if far is None:
        return None
    rule, cure = f"has a cell beyond row {MOST_ROWS:,}", "clear the stray cells below the last row used"
    return Fault(Place(name, far), rule, quoted(next(iter(held[far].values()))), cure)


def _note_what_is_hidden(sheet: Worksheet, held: Held, found: Tables) -> None:
    """Note what a person does not see, and merged cells, which hide what belongs to which row."""
    from openpyxl.utils import column_index_from_string

    if sheet.sheet_state != "visible":
        found.remarks.append(Remark(Place(sheet.title), "the sheet is hidden but was read"))
    for merged in sheet.merged_cells.ranges:
        if merged.min_col in held.get(merged.min_row, ()):
            place, cure = Place(sheet.title, merged.min_row), "unmerge them and fill in every cell"
            found.faults.append(Fault(place, f"the cells {merged.coord} are merged", cure=cure))
    for number, row in sheet.row_dimensions.items():
        if row.hidden and number in held:
            found.remarks.append(Remark(Place(sheet.title, number), "the row is hidden but was read"))
    for letter, column in sheet.column_dimensions.items():
        heading = held.get(1, {}).get(column_index_from_string(letter))
        if column.hidden and heading is not None:
            found.remarks.append(Remark(Place(sheet.title, 1, quoted(heading)), "the column is hidden but was read"))


def _rows(held: Held) -> Iterator[tuple[int, list[Cell | None]]]:
    for number, cells in held.items():
        yield number, [cells.get(column) for column in range(1, max(cells) + 1)]


def _value(cell: SheetCell, written: Worksheet | None) -> Cell | None:
    value = cell.value
    if value is None:
        # A formula whose result is an empty text was worked out: its cell is of the kind "str".
        if written is not None and cell.data_type != "str" and written[cell.coordinate].data_type == "f":
            cure = "open and save it in a spreadsheet program"
            return Spoilt(None, "contains a formula that was never calculated", cure)
        return None
    if isinstance(value, bool):
        return value
    if isinstance(value, datetime.date | datetime.time | datetime.timedelta):
        cure = "the spreadsheet turned it into a date: format the cell as text and type it again"
        return Spoilt(str(value).removesuffix(" 00:00:00"), "is a date or a time", cure)
    if isinstance(value, int | float):
        return value
    text = str(value).strip()
    if cell.data_type == "e":
        return Spoilt(text, "is a spreadsheet error", "correct the formula, or type the value")
    return text or None
