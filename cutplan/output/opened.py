"""A saw list opened once: its cells as they were written, the plan that it carries, and what a person wrote on it."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from openpyxl import load_workbook

from cutplan.output.sheets import bars_in_hand, saw_list
from cutplan.output.state import thaw
from cutplan.output.ticks import ENTRIES, Row, SawListError, Sheets, notes_on, refuse_uncalculated, ticks_on
from cutplan.plan.model import Plan
from cutplan.plan.recut.ticks import BarNote, Tick

PLAN_DATA = "Plan data"
"""The hidden sheet: the plan as JSON, cut into cells from A1 down; in B1 the version that wrote it."""

WORKED = tuple(ENTRIES)
"""The sheets on which a person writes what was done."""

_NEEDED = (PLAN_DATA, *WORKED)

_ROWS, _COLUMNS = 200_000, 100
"""A saw list has nothing beyond: even that of the most pieces a job may have ends before."""

_FORMULA = re.compile(rb"<(?:[\w.-]+:)?f[\s/>]")
_MERGED = re.compile(rb'<mergeCell ref="[A-Z]+(\d+):[A-Z]+(\d+)"')


@dataclass(frozen=True, slots=True)
class Opened:
    """A workbook as it is in its file. ``written``: its sheets, formulas as text; ``results``: those that carry the
    plan and what was done, with what their formulas gave; ``parts``: each sheet's part of the file, with all that a
    reader of values passes over; ``seen``: the sheets that are not hidden."""

    path: Path
    written: Sheets
    results: Sheets
    parts: Mapping[str, bytes]
    seen: frozenset[str]

    @property
    def carries_plan(self) -> bool:
        """Whether the workbook is one of ours, even if other sheets of it are damaged."""
        return bool(self.results.get(PLAN_DATA))

    @property
    def version(self) -> str:
        """The version that wrote it; empty where it does not say."""
        return str(next((row[1] for row in self.written[PLAN_DATA][:1] if len(row) > 1), None) or "")


@dataclass(frozen=True, slots=True)
class SawList:
    """A saw list that can be read: its plan, what was ticked, and what was written against its bars."""

    book: Opened
    plan: Plan
    ticks: tuple[Tick, ...]
    notes: tuple[BarNote, ...]


def read_saw_list(path: Path, *, whole: bool = False) -> SawList:
    """The saw list at ``path``; ``whole``: with the sheets that only show something. Raises SawListError."""
    return parsed(opened(path, whole=whole))


def carries_plan(path: Path) -> bool:
    """Whether the workbook at ``path`` is one of ours, even if other sheets of it are damaged."""
    try:
        return opened(path).carries_plan
    except SawListError:
        return False


def opened(path: Path, *, whole: bool = False) -> Opened:
    """The workbook at ``path``; ``whole``: with the sheets that only show something. Raises SawListError."""
    try:
        content = path.read_bytes()
        # Read-only: without styles and merged cells, of which the drawn bars have thousands.
        book = load_workbook(io.BytesIO(content), read_only=True)
        with zipfile.ZipFile(io.BytesIO(content)) as file:
            # The library keeps the part's name to itself.
            parts = {sheet.title: file.read(sheet._worksheet_path) for sheet in book.worksheets}  # type: ignore[attr-defined]
        written = _rows_of(book, None if whole else _NEEDED)
        results = {title: rows for title, rows in written.items() if title in _NEEDED}
        if any(_FORMULA.search(parts[title]) for title in results):
            results = _rows_of(load_workbook(io.BytesIO(content), read_only=True, data_only=True), _NEEDED)
    except FileNotFoundError:
        raise SawListError(path, "does not exist", "give the saw list that cutplan plan wrote") from None
    except Exception as error:  # openpyxl may raise anything on a damaged part
        about = f" ({error})" if isinstance(error, zipfile.BadZipFile) else ""
        rule, cure = f"is damaged or is not a workbook{about}", "use a backup copy, or write the list again"
        raise SawListError(path, rule, cure) from error
    seen = frozenset(sheet.title for sheet in book.worksheets if sheet.sheet_state == "visible")
    return Opened(path, written, results, parts, seen)


def parsed(book: Opened) -> SawList:
    """What the workbook says as a saw list. Raises SawListError."""
    sheets, path = book.results, book.path
    if not book.carries_plan:
        cure = "give the workbook that cutplan plan wrote"
        if "Members" in book.seen:
            cure += f'; to check a job: cutplan lengths "{path}"'
        raise SawListError(path, "is not a saw list", cure)
    if saw_list.TITLE not in sheets:
        raise SawListError(path, f"is missing its sheet {saw_list.TITLE}", "put it back, or plan the job again")
    try:
        plan = thaw("".join(str(row[0]) for row in sheets[PLAN_DATA]))
    except ValueError as error:
        raise SawListError(f"{path}, {PLAN_DATA}", f"cannot be read: {error}", "plan the job again") from error
    refuse_uncalculated(sheets, book.written)
    for title, first, last in _merged(book):
        raise SawListError(
            f"{title} rows {first} to {last}", "contain merged cells", "unmerge them and fill in every one"
        )
    settings = plan.job.settings
    notes = notes_on(sheets[bars_in_hand.TITLE], settings) if bars_in_hand.TITLE in sheets else ()
    return SawList(book, plan, ticks_on(sheets[saw_list.TITLE], settings), notes)


def _rows_of(book: Any, only: Iterable[str] | None) -> dict[str, list[Row]]:
    return {sheet.title: _padded(_near(sheet)) for sheet in book.worksheets if only is None or sheet.title in only}


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


def _merged(book: Opened) -> Iterator[tuple[str, int, int]]:
    """Cells merged over several rows of a sheet that a person writes on."""
    for title in WORKED:
        for first, last in _MERGED.findall(book.parts.get(title, b"")):
            if first != last:
                yield title, int(first), int(last)
