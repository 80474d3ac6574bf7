"""The saw-list workbook: what to buy, what to cut, and room to tick off what was done.

The same plan gives the same file, byte for byte. The plan itself travels along in a hidden sheet, so that the rest
can be planned afresh after a mistake.
"""

from __future__ import annotations

import io
import re
import zipfile
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from pathlib import Path

from openpyxl import Workbook, load_workbook
from openpyxl.utils.indexed_list import IndexedList
from openpyxl.worksheet.worksheet import Worksheet

from cutplan.errors import CutplanError
from cutplan.job.model import Settings
from cutplan.job.units import LengthError, parse_length
from cutplan.output.files import OutputError, write_beside
from cutplan.output.sheets import bars, buy, if_spoilt, marks, members, notes, offcuts, saw_list
from cutplan.output.sheets.page import PLAIN
from cutplan.output.state import freeze, thaw
from cutplan.plan.model import Plan

PLAN_DATA = "Plan data"
"""The hidden sheet: the plan as JSON, cut into cells from A1 down."""

_SHEETS = (
    ("Buy", buy.fill),
    (saw_list.TITLE, saw_list.fill),
    ("Bars", bars.fill),
    ("Members", members.fill),
    ("Marks", marks.fill),
    ("If spoilt", if_spoilt.fill),
    ("Offcuts", offcuts.fill),
    ("Notes", notes.fill),
)
_CELL = 30_000
"""Characters of JSON a cell: a spreadsheet takes 32 767."""

_THEN = datetime(2000, 1, 1)
"""Stands for every date in the file: a plan has none of its own."""


@dataclass(frozen=True, slots=True)
class Tick:
    """What a person wrote against a cut. ``left``: how much of a spoilt blank is still good (mm), if said."""

    cut: int
    done: bool
    spoilt: bool
    left: Fraction | None = None


class SawListError(CutplanError, ValueError):
    """A workbook that is no saw list, or whose ticks cannot be read: where, the rule, the value, the cure."""

    def __init__(self, where: str, rule: str, cure: str) -> None:
        self.where, self.rule, self.cure = where, rule, cure
        super().__init__(where, rule, cure)

    def __str__(self) -> str:
        return f"{self.where}: {self.rule} ({self.cure})"


def write_saw_list(plan: Plan, path: Path, *, force: bool = False) -> None:
    """Write the saw list of ``plan`` to ``path``, in one step.

    ``force`` False: a file there is replaced only if it is a saw list with nothing ticked. Raises OutputError.
    """
    if not force and path.is_file():
        _spare(path)
    content = saw_list_bytes(plan)
    write_beside(path, lambda beside: _bytes(beside, content))


def saw_list_bytes(plan: Plan) -> bytes:
    """The workbook as the bytes of its file."""
    book = Workbook()
    book.remove(book.worksheets[0])
    set_face(book)
    for title, fill in _SHEETS:
        fill(book.create_sheet(title), plan)
    data = book.create_sheet(PLAN_DATA)
    data.sheet_state = "veryHidden"
    text = freeze(plan)
    for row, start in enumerate(range(0, len(text), _CELL), 1):
        data.cell(row, 1, text[start : start + _CELL]).data_type = "s"
    book.active = 1
    return settled(book)


def set_face(book: Workbook) -> None:
    """Make the sheets' face the workbook's own, by which columns are measured and in which new cells are typed."""
    book._fonts = IndexedList([PLAIN])  # type: ignore[attr-defined]
    book._named_styles["Normal"].font = PLAIN  # type: ignore[attr-defined]


def settled(book: Workbook) -> bytes:
    """``book`` saved without any trace of when: the same content gives the same bytes."""
    book.properties.creator = "cutplan"
    book.properties.created = _THEN
    raw, out = io.BytesIO(), io.BytesIO()
    book.save(raw)
    with zipfile.ZipFile(raw) as source, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as target:
        for name in source.namelist():
            content = source.read(name)
            if name == "docProps/core.xml":
                content = re.sub(
                    rb"(<dcterms:modified[^>]*>)[^<]*", rb"\g<1>" + _THEN.isoformat().encode() + b"Z", content
                )
            entry = zipfile.ZipInfo(name, (2000, 1, 1, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            target.writestr(entry, content)
    return out.getvalue()


def read_saw_list(path: Path) -> tuple[Plan, tuple[Tick, ...]]:
    """The plan that a saw list carries, and what was ticked on it. Raises SawListError."""
    try:
        book = load_workbook(path, data_only=True)
    except FileNotFoundError:
        raise SawListError(str(path), "is not there", "give the saw list that cutplan plan wrote") from None
    except Exception as error:  # openpyxl raises whatever the damaged part raised
        raise SawListError(str(path), "is no workbook that can be read", "give a saw list in .xlsx") from error
    if PLAN_DATA not in book.sheetnames or saw_list.TITLE not in book.sheetnames:
        raise SawListError(str(path), "is not a saw list", "give the workbook that cutplan plan wrote")
    text = "".join(str(row[0]) for row in book[PLAN_DATA].iter_rows(max_col=1, values_only=True))
    try:
        plan = thaw(text)
    except ValueError as error:
        raise SawListError(f"{path}, {PLAN_DATA}", f"cannot be read: {error}", "plan the job again") from error
    return plan, _ticks(book[saw_list.TITLE], plan.job.settings)


def _ticks(sheet: Worksheet, settings: Settings) -> tuple[Tick, ...]:
    rows = list(sheet.iter_rows(values_only=True))
    heads = next((i for i, row in enumerate(rows) if {saw_list.CUT, saw_list.DONE, saw_list.SPOILT} <= set(row)), None)
    if heads is None:
        raise SawListError(sheet.title, "has lost its heads", "undo the change, or plan the job again")
    names = [str(name) for name in rows[heads]]
    cut, done, spoilt = (names.index(head) for head in (saw_list.CUT, saw_list.DONE, saw_list.SPOILT))
    left = next((i for i, name in enumerate(names) if name.startswith(saw_list.LEFT_OF_IT)), None)
    ticks = []
    for number, row in enumerate(rows[heads + 1 :], heads + 2):
        number_of_cut = row[cut]
        if isinstance(number_of_cut, bool) or not isinstance(number_of_cut, int | float):
            continue
        good = None if left is None else _good(row[left], f"{sheet.title} row {number}, {names[left]}", settings)
        ticks.append(Tick(int(number_of_cut), _ticked(row[done]), _ticked(row[spoilt]), good))
    return tuple(ticks)


def _ticked(value: object) -> bool:
    """Whether a cell is ticked: anything but nothing, no and 0."""
    return str(value or "").strip().lower() not in ("", "no", "0", "false")


def _good(value: object, where: str, settings: Settings) -> Fraction | None:
    if value is None or not str(value).strip():
        return None
    try:
        length = parse_length(value if isinstance(value, int | float) else str(value), settings.units)
    except LengthError as error:
        raise SawListError(where, str(error), "give what is still good of the spoilt blank") from error
    if length < 0:
        raise SawListError(where, f'"{value}" is negative', "give what is still good of the spoilt blank")
    return length


def _spare(path: Path) -> None:
    """Refuse to write over a workbook that is not ours, or that someone has worked with."""
    try:
        _, ticks = read_saw_list(path)
    except SawListError:
        raise OutputError(
            path, "is there already and is not a saw list", "choose another name with --output, or add --force"
        ) from None
    marked = [tick for tick in ticks if tick.done or tick.spoilt or tick.left is not None]
    if marked:
        raise OutputError(
            path,
            f"carries ticks (cut {marked[0].cut} and {len(marked) - 1} more)"
            if len(marked) > 1
            else f"carries a tick (cut {marked[0].cut})",
            "use cutplan recut, choose another name with --output, or add --force",
        )


def _bytes(beside: Path, content: bytes) -> None:
    beside.write_bytes(content)
