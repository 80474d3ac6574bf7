"""The saw-list workbook: what to buy, what to cut, and room to tick off what was done.

The same plan gives the same file, byte for byte. The plan itself travels along in a hidden sheet, so that the rest
can be planned again after a mistake.
"""

from __future__ import annotations

import hashlib
import io
import re
import zipfile
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from openpyxl import Workbook, load_workbook
from openpyxl.utils.indexed_list import IndexedList

from cutplan import __version__
from cutplan.output.entries import ENTRIES, damaged, refuse_unreadable
from cutplan.output.files import OutputError, write_beside
from cutplan.output.sheets import (
    bars,
    bars_in_hand,
    bending,
    buy,
    if_spoilt,
    marks,
    members,
    notes,
    offcuts,
    rough_cuts,
    saw_list,
)
from cutplan.output.sheets.page import PLAIN
from cutplan.output.state import freeze, thaw
from cutplan.output.ticks import Row, SawListError, notes_on, ticks_on
from cutplan.plan.model import Plan
from cutplan.plan.recut.ticks import BarNote, Tick
from cutplan.plan.tables import Tables

PLAN_DATA = "Plan data"
"""The hidden sheet: the plan as JSON, cut into cells from A1 down; in B1 the version that wrote it."""

WORKED = tuple(ENTRIES)
"""The sheets on which a person writes what was done."""

_SHEETS = (
    ("Buy", buy.fill),
    (saw_list.TITLE, saw_list.fill),
    ("Bars", bars.fill),
    ("Members", members.fill),
    ("Marks", marks.fill),
    ("Rough cuts", rough_cuts.fill),
    ("Bending", bending.fill),
    ("If spoilt", if_spoilt.fill),
    (bars_in_hand.TITLE, bars_in_hand.fill),
    ("Offcuts", offcuts.fill),
    ("Notes", notes.fill),
)
SHEETS = tuple(title for title, _ in _SHEETS)
"""All that a saw list may show."""

_MOST = 200_000_000
"""Bytes of a workbook unpacked beyond which it is not looked into at once."""

_ROWS, _COLUMNS = 200_000, 100
"""Beyond which a saw list has nothing: the longest, of the most pieces that a job may have, stay below."""

_CELL = 30_000
"""Characters of JSON a cell: a spreadsheet takes 32 767."""

_CORE = "docProps/core.xml"
_SEAL = re.compile(rb"<dc:identifier>cutplan:([0-9a-f]{64})</dc:identifier>")

_THEN = datetime(2000, 1, 1)
"""Stands for every date in the file: a plan has none of its own."""


def write_saw_list(plan: Plan, path: Path, *, force: bool = False) -> None:
    """Write the saw list of ``plan`` to ``path``, in one step.

    ``force`` False: a file there is replaced only if it is a saw list with nothing ticked, by the last look at it.
    Raises OutputError.
    """
    write_beside(
        path,
        # Made inside, as it takes temporary files, for which the disk may be full too.
        lambda beside: beside.write_bytes(saw_list_bytes(plan)),
        agreed=None if force else lambda: spare_worked(path),
    )


def saw_list_bytes(plan: Plan) -> bytes:
    """The workbook as the bytes of its file."""
    return settled(saw_list_book(plan), sealed=True)


def saw_list_book(plan: Plan) -> Workbook:
    """The workbook with all its sheets."""
    book = Workbook()
    book.remove(book.worksheets[0])
    set_face(book)
    tables = Tables(plan)
    left_out = _idle(tables)
    for title, fill in _SHEETS:
        if title not in left_out:
            fill(book.create_sheet(title), tables)
    data = book.create_sheet(PLAN_DATA)
    data.sheet_state = "veryHidden"
    text = freeze(plan)
    for row, start in enumerate(range(0, len(text), _CELL), 1):
        data.cell(row, 1, text[start : start + _CELL]).data_type = "s"
    data.cell(1, 2, __version__)
    book.active = 1
    return book


def rows_of(path: Path, *, formulas: bool = False, only: Collection[str] | None = None) -> dict[str, list[Row]]:
    """Every sheet of a workbook by name, or those in ``only``, row by row, all rows of a sheet equally long.
    ``formulas``: as written, not what was last worked out. Raises SawListError."""
    try:
        # Read-only: without styles and merged cells, of which the drawn bars have thousands.
        book = load_workbook(io.BytesIO(path.read_bytes()), data_only=not formulas, read_only=True)
        wanted = [sheet for sheet in book.worksheets if only is None or sheet.title in only]
        sheets = {sheet.title: _padded(_near(sheet)) for sheet in wanted}
    except FileNotFoundError:
        raise SawListError(str(path), "does not exist", "give the saw list that cutplan plan wrote") from None
    except Exception as error:  # openpyxl raises whatever the damaged part raised
        raise damaged(path, error) from error
    return sheets


def _near(sheet: Any) -> Iterable[Row]:
    """The rows that a saw list may have: a stray cell at the far edge of a sheet would make millions of empty ones."""
    width = _COLUMNS if (sheet.max_column or 0) > _COLUMNS else None
    rows: Iterable[Row] = sheet.iter_rows(values_only=True, max_row=_ROWS, max_col=width)
    return rows


def _padded(rows: Iterable[Row]) -> list[Row]:
    every = list(rows)
    while every and all(cell is None for cell in every[-1]):
        every.pop()
    width = max((len(row) for row in every), default=0)
    return [(*row, *[None] * (width - len(row))) for row in every]


def written_by(sheets: Mapping[str, Sequence[Row]]) -> str:
    """The version that wrote a saw list; empty where it does not say."""
    return str(next((row[1] for row in sheets[PLAN_DATA][:1] if len(row) > 1), None) or "")


def set_face(book: Workbook) -> None:
    """Make the sheets' face the workbook's own, by which columns are measured and in which new cells are typed."""
    book._fonts = IndexedList([PLAIN])  # type: ignore[attr-defined]
    book._named_styles["Normal"].font = PLAIN  # type: ignore[attr-defined]


def _idle(tables: Tables) -> set[str]:
    """The sheets that this plan has nothing for."""
    return {title for title, rows in (("Rough cuts", tables.rough_cuts), ("Bending", tables.bends)) if not rows}


def settled(book: Workbook, *, sealed: bool = False) -> bytes:
    """``book`` saved without any trace of when: the same content gives the same bytes.

    ``sealed``: with a digest of all its other parts among its properties, by which ``untouched`` knows it again.
    """
    book.properties.creator = "cutplan"
    book.properties.created = _THEN
    raw, out = io.BytesIO(), io.BytesIO()
    book.save(raw)
    with zipfile.ZipFile(raw) as source, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as target:
        seal = _digest(source) if sealed else b""
        for name in source.namelist():
            content = source.read(name)
            if name == _CORE:
                content = re.sub(
                    rb"(<dcterms:modified[^>]*>)[^<]*", rb"\g<1>" + _THEN.isoformat().encode() + b"Z", content
                )
                if sealed:
                    identifier = b"<dc:identifier>cutplan:" + seal + b"</dc:identifier>"
                    content = content.replace(b"</cp:coreProperties>", identifier + b"</cp:coreProperties>")
            entry = zipfile.ZipInfo(name, (2000, 1, 1, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            target.writestr(entry, content)
    return out.getvalue()


def untouched(path: Path) -> bool:
    """Whether the file is a saw list just as it was written: nobody has saved it since. A hundred times quicker to tell
    than what is ticked on it."""
    try:
        with zipfile.ZipFile(path) as book:
            seal = _SEAL.search(book.read(_CORE)) if sum(part.file_size for part in book.infolist()) < _MOST else None
            return seal is not None and seal[1] == _digest(book)
    except Exception:  # zipfile raises whatever the damaged part raised
        return False


def _digest(book: zipfile.ZipFile) -> bytes:
    """A digest of the names and contents of all parts but the one that holds it."""
    digest = hashlib.sha256()
    for name in book.namelist():
        if name != _CORE:
            digest.update(f"{name} {len(content := book.read(name))}\n".encode() + content)
    return digest.hexdigest().encode()


def read_saw_list(path: Path) -> tuple[Plan, tuple[Tick, ...]]:
    """The plan that a saw list carries, and what was ticked on it. Raises SawListError."""
    plan, ticks, _ = read_worked_list(path)
    return plan, ticks


def read_worked_list(path: Path) -> tuple[Plan, tuple[Tick, ...], tuple[BarNote, ...]]:
    """The plan that a saw list carries, what was ticked on it, and what was written against its bars.

    Raises SawListError.
    """
    sheets = rows_of(path, only=(PLAN_DATA, *WORKED))
    if not sheets.get(PLAN_DATA):
        raise SawListError(str(path), "is not a saw list", "give the workbook that cutplan plan wrote")
    if saw_list.TITLE not in sheets:
        raise SawListError(str(path), f"is missing its sheet {saw_list.TITLE}", "put it back, or plan the job again")
    text = "".join(str(row[0]) for row in sheets[PLAN_DATA])
    try:
        plan = thaw(text)
    except ValueError as error:
        raise SawListError(f"{path}, {PLAN_DATA}", f"cannot be read: {error}", "plan the job again") from error
    refuse_unreadable(path, sheets, rows_of(path, formulas=True, only=WORKED))
    settings = plan.job.settings
    bar_notes = notes_on(sheets[bars_in_hand.TITLE], settings) if bars_in_hand.TITLE in sheets else ()
    return plan, ticks_on(sheets[saw_list.TITLE], settings), bar_notes


def carries_plan(path: Path) -> bool:
    """Whether the workbook is one of ours, whatever became of its other sheets."""
    try:
        return bool(rows_of(path, only=(PLAN_DATA,)).get(PLAN_DATA))
    except SawListError:
        return False


def spare_worked(path: Path) -> None:
    """Refuse to write over a workbook that is not ours, or that someone has worked with. Raises OutputError."""
    if not path.is_file() or untouched(path):
        return
    try:
        _, ticks, bar_notes = read_worked_list(path)
    except SawListError as error:
        if not carries_plan(path):
            raise OutputError(
                path, "already exists and is not a saw list", "choose another name with --output, or add --force"
            ) from None
        raise OutputError(
            path,
            f"is a saw list with something that cannot be read ({error.where}: {error.rule})",
            "correct that and use cutplan recut, or choose another name with --output; --force loses all its ticks",
        ) from error
    marked = [tick for tick in ticks if tick.done or tick.spoilt or tick.left is not None]
    if marked:
        raise OutputError(
            path,
            f"has ticks (cut {marked[0].cut} and {len(marked) - 1} more)"
            if len(marked) > 1
            else f"has a tick (cut {marked[0].cut})",
            "use cutplan recut, choose another name with --output, or add --force",
        )
    worked = next((note for note in bar_notes if note.gone or note.measured is not None), None)
    if worked is not None:
        raise OutputError(
            path,
            f"has an entry for bar {worked.bar}",
            "use cutplan recut, choose another name with --output, or add --force",
        )
