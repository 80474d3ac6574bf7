"""What every sheet shares: safe cells, styles, number formats, headings and the page it prints on."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from copy import copy
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import groupby
from typing import Any
from weakref import WeakKeyDictionary

from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE, Cell
from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.cell_range import CellRange, MultiCellRange
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.header_footer import HeaderFooterItem
from openpyxl.worksheet.pagebreak import Break
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from cutplan.job.model import Settings, Units
from cutplan.plan.wording import decimals, unit_name

FIRST_ROW = 4
"""The row of the headings; above it the job, the sheet's name and a line of help."""

FACE = "Arial"
"""On every machine, or a face of the same widths: what fits here fits there."""

_BODY = 10
CHARACTER = 5.25
_LINE = 13.5
"""Points a figure is wide and a line of text is high at the body size."""

_TAPE = (2, 4, 8, 16, 32, 64)
"""The fractions of an inch that a tape has."""

_THIN = Side(style="thin", color="808080")
_FRAME = Border(left=_THIN, right=_THIN, top=_THIN, bottom=_THIN)
HEAD_FILL = PatternFill("solid", fgColor="E6E6E6")
GROUP_FILL = PatternFill("solid", fgColor="F2F2F2")
BOLD = Font(name=FACE, size=_BODY, bold=True)
PLAIN = Font(name=FACE, size=_BODY)
MONEY = "#,##0.00"
NO_BORDER = Border()
NO_FILL = PatternFill()
_CENTRED = Alignment(horizontal="center", vertical="center", wrap_text=True)
_WORDS = Alignment(horizontal="left", vertical="center", wrap_text=True, indent=1)
_NUMBER = Alignment(horizontal="right", vertical="center", indent=1)
_LEVEL = Alignment(horizontal="center", vertical="center")
_UNLOCKED = Protection(locked=False)
_SENTENCE = Alignment(vertical="center", wrap_text=True)

_STYLES: WeakKeyDictionary[Workbook, dict[object, tuple[Any, object]]] = WeakKeyDictionary()
"""Of each workbook the styles that its cells were given so far."""


@dataclass(frozen=True, slots=True)
class SheetColumn:
    """A heading, its width in characters, and the number format and weight of what is under it."""

    heading: str
    width: float
    format: str = "General"
    bold: bool = False
    centred: bool = False


@dataclass(slots=True)
class Page:
    """A worksheet being filled from the top. ``row``: the next free row; ``upright``: it prints on upright pages."""

    sheet: Worksheet
    settings: Settings
    columns: tuple[SheetColumn, ...]
    upright: bool = False
    row: int = FIRST_ROW + 1
    heights: dict[int, float] = field(default_factory=dict)
    styles: dict[object, tuple[Any, object]] = field(init=False)

    def __post_init__(self) -> None:
        book = self.sheet.parent
        assert book is not None
        self.styles = _STYLES.setdefault(book, {})
        for number, column in enumerate(self.columns, 1):
            self.sheet.column_dimensions[get_column_letter(number)].width = column.width

    def start(self, says: str) -> None:
        """Title, a line of help and the headings, frozen and repeated on every printed page."""
        self.title(says)
        self.headings(FIRST_ROW)

    def title(self, says: str) -> None:
        """The job, the sheet's name and a line of help; what is in ``FIRST_ROW`` is frozen and repeated."""
        title = put(self.sheet, 1, 1, f"{self.settings.name}: {self.sheet.title}")
        title.font = Font(name=FACE, size=14, bold=True)
        self.height(1, 20)
        self.sentence(says, row=2)
        self.sheet.freeze_panes = f"A{FIRST_ROW + 1}"
        self.sheet.print_title_rows = f"{FIRST_ROW}:{FIRST_ROW}"

    def headings(self, row: int, columns: Sequence[SheetColumn] | None = None) -> None:
        """A row of headings; ``columns`` where they are others than the sheet's own."""
        lines = 1
        for number, column in enumerate(columns or self.columns, 1):
            cell = put(self.sheet, row, number, column.heading)
            self.dress(cell, font=BOLD, fill=HEAD_FILL, border=_FRAME, alignment=_CENTRED)
            lines = max(lines, lines_of(column.heading, self.columns[number - 1].width))
        self.height(row, lines * _LINE + 4)

    def line(
        self, values: Iterable[object], columns: Sequence[SheetColumn] | None = None, *, least: float = _LINE
    ) -> int:
        """A framed row under the headings; its row number. Strings stay text, even if they begin like a formula."""
        lines = 1
        for number, (value, column) in enumerate(zip(values, columns or self.columns, strict=True), 1):
            cell = put(self.sheet, self.row, number, value)
            text = isinstance(value, str)
            self.dress(
                cell,
                font=BOLD if column.bold else PLAIN,
                border=_FRAME,
                alignment=_CENTRED if column.centred else _WORDS if text else _NUMBER,
                number_format="General" if text else _reduced(column.format, value),
            )
            if isinstance(value, str):
                lines = max(lines, lines_of(value, self.columns[number - 1].width - 2))
        self.height(self.row, max(least, lines * _LINE))
        self.row += 1
        return self.row - 1

    def dress(
        self,
        cell: Cell,
        *,
        font: Font = PLAIN,
        border: Border = NO_BORDER,
        fill: PatternFill = NO_FILL,
        alignment: Alignment,
        number_format: str = "General",
    ) -> None:
        """Set a cell's whole style; styles met before are copied, which is many times faster than setting them."""
        key = (id(font), id(border), id(fill), id(alignment), number_format, bool(cell.quotePrefix))
        known = self.styles.get(key)
        if known is None:
            cell.font, cell.border, cell.fill = font, border, fill
            cell.alignment, cell.number_format = alignment, number_format
            # The objects are kept with their ids, which could else be given to others.
            self.styles[key] = (style_of(cell), (font, border, fill, alignment))
        else:
            set_style(cell, known[0])

    def merge(self, row: int, start: int, end: int) -> None:
        """Join cells of a row that no other joins; borders stay as set. (The library's own way redraws borders and
        looks through all that is joined already, which takes minutes on thousands of rows.)"""
        if end > start:
            self.sheet.merged_cells.ranges.add(CellRange(min_col=start, min_row=row, max_col=end, max_row=row))

    def group(self, text: str) -> int:
        """A shaded row across the sheet that names what follows; its row number."""
        self._across(text, self.row, BOLD, GROUP_FILL)
        self.row += 1
        return self.row - 1

    def sentence(self, text: str, *, row: int | None = None, bold: bool = False) -> None:
        """A sentence across the whole width, in ``row`` or the next free one."""
        at = self.row if row is None else row
        self._across(text, at, BOLD if bold else PLAIN, None)
        if row is None:
            self.row += 1

    def gap(self) -> None:
        """An empty row."""
        self.row += 1

    def height(self, row: int, points: float) -> None:
        """Set the height of ``row``."""
        self.sheet.row_dimensions[row].height = points
        self.heights[row] = points

    def total(self, row: int, number: int, formula: str, style: str) -> None:
        """A bold sum in column ``number`` of ``row``. ``formula`` is ours, never a user's text."""
        cell = self.sheet.cell(row, number, formula)
        cell.font, cell.border, cell.number_format = BOLD, _FRAME, style
        cell.alignment = Alignment(horizontal="right", vertical="center", indent=1)

    def entries(self, rows: Sequence[int], first: int, last: int, check: DataValidation | None = None) -> None:
        """Let a person write in columns ``first`` to ``last`` of ``rows`` though the sheet is locked; what is typed
        there goes by ``check``."""
        for row in rows:
            for number in range(first, last + 1):
                cell = self.sheet.cell(row, number)
                assert isinstance(cell, Cell)
                key = ("entry", tuple(style_of(cell)))
                if key in self.styles:
                    set_style(cell, self.styles[key][0])
                else:
                    cell.protection, cell.alignment = _UNLOCKED, _LEVEL
                    self.styles[key] = (style_of(cell), None)
        if check is not None and rows:
            # Rows without a gap are one range. The library looks through all ranges at each one that is added to it.
            runs = (list(run) for _, run in groupby(enumerate(rows), lambda pair: pair[1] - pair[0]))
            check.sqref = MultiCellRange(
                CellRange(min_col=first, min_row=run[0][1], max_col=last, max_row=run[-1][1]) for run in runs
            )
            self.sheet.add_data_validation(check)

    def lock(self) -> None:
        """Keep a slip of the hand off all but the entries: no password; widths and heights stay free."""
        protection = self.sheet.protection
        protection.sheet = True
        protection.formatColumns = protection.formatRows = False

    def finish(self) -> None:
        """Print on one page's width, A4 for mm and Letter for inches, numbered, to the last row."""
        sheet = self.sheet
        setup = sheet.page_setup
        setup.orientation = "portrait" if self.upright else "landscape"
        setup.paperSize = 9 if self.settings.units is Units.MM else 1
        setup.fitToWidth, setup.fitToHeight = 1, 0
        sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
        sheet.print_options.horizontalCentered = True
        margins = sheet.page_margins
        margins.left = margins.right = 0.4
        margins.top, margins.bottom = 0.6, 0.6
        margins.header = margins.footer = 0.3
        sheet.oddHeader = edge(_code(self.settings.name), sheet.title)
        sheet.oddFooter = edge(f"lengths in {unit_name(self.settings)}", "page &P of &N")
        sheet.print_area = f"A1:{get_column_letter(len(self.columns))}{self.row - 1}"

    def keep_together(self, blocks: Sequence[tuple[int, int]]) -> None:
        """Break pages so that no block (first row, last row) is split that would fit on a page of its own."""
        room = self._room()
        heading = self.heights.get(FIRST_ROW, _LINE)
        used = sum(self.heights.get(row, _LINE) for row in range(1, FIRST_ROW + 1))
        for first, last in blocks:
            need = sum(self.heights.get(row, _LINE) for row in range(first, last + 1))
            if used + need > room and used > heading + 4 * _LINE:
                self.sheet.row_breaks.append(Break(id=first - 1))
                used = heading
            used = (used + need - heading) % (room - heading) + heading if used + need > room else used + need

    def across(self) -> float:
        """Width of the whole sheet in points."""
        return sum(column.width for column in self.columns) * CHARACTER

    def _room(self) -> float:
        """Points of height a page has, in the scale that its width is printed at."""
        long, short = (841.9, 595.3) if self.settings.units is Units.MM else (792.0, 612.0)
        wide, high = (short, long) if self.upright else (long, short)
        scale = min(1.0, (wide - 0.8 * 72) / self.across())
        return (high - 1.2 * 72) / scale * 0.97

    def _across(self, text: str, row: int, font: Font, fill: PatternFill | None) -> None:
        last = len(self.columns)
        cell = put(self.sheet, row, 1, text)
        if fill is None:
            self.dress(cell, font=font, alignment=_SENTENCE)
        else:
            self.dress(cell, font=font, border=_FRAME, fill=fill, alignment=_SENTENCE)
            for number in range(2, last + 1):
                self.dress(put(self.sheet, row, number, None), border=_FRAME, fill=fill, alignment=_SENTENCE)
        self.merge(row, 1, last)
        width = self.across() / CHARACTER
        self.height(row, lines_of(text, width) * _LINE + (3 if fill is not None else 0))


def put(sheet: Worksheet, row: int, column: int, value: object) -> Cell:
    """Write a value; text stays text even where it begins like a formula."""
    cell = sheet.cell(row, column)
    assert isinstance(cell, Cell)
    if isinstance(value, str):
        cell.value = ILLEGAL_CHARACTERS_RE.sub(" ", value)
        cell.data_type = "s"
        if value[:1] in ("=", "+", "-", "@", "\t", "\r"):
            cell.quotePrefix = True
    else:
        cell.value = value  # type: ignore[assignment]  # what a table holds, a cell can hold
    return cell


def style_of(cell: Cell) -> Any:
    """All of a cell's style in one, for which the library has no public name."""
    return copy(cell._style)  # type: ignore[attr-defined]  # not in the stubs


def set_style(cell: Cell, style: Any) -> None:
    """Give a cell a style taken from another, which is many times faster than setting its parts."""
    cell._style = copy(style)  # type: ignore[attr-defined]  # not in the stubs


def lines_of(text: str, width: float) -> int:
    """How many lines ``text`` takes in a column of ``width`` characters (a little on the safe side)."""
    lines, used = 1, 0
    for word in text.split():
        need = len(word) + (1 if used else 0)
        if used and used + need > width * 0.95:
            lines, used = lines + 1, len(word)
        else:
            used += need
        lines += max(0, math.ceil(len(word) / width) - 1)
    return lines


def blank_format(settings: Settings) -> str:
    """How a blank shows: mm with the step's decimals, inches as a fraction of the step."""
    return _format(settings.units, [settings.step])


def left_format(settings: Settings) -> str:
    """How a rest of bar shows: as fine as step, kerf and trims make it."""
    return _format(settings.units, [settings.step, settings.kerf, settings.end_trim, settings.saw_hold])


def exact_format(settings: Settings) -> str:
    """How a part of a blank shows: worked out and summed up, so in decimals."""
    return "0.000" if settings.units is Units.MM else "0.0000"


def part_format(settings: Settings) -> str:
    """How a worked-out length shows that is marked by tape: tenths of a mm, or inches to the nearest fraction of the
    step's kind. The cell itself holds the decimal."""
    if settings.units is Units.MM:
        return "0.0"
    under = (settings.step / settings.units.mm).denominator
    return f"# {'?' * len(str(under))}/{under}" if under in _TAPE else "0" if under == 1 else "0.000"


def _reduced(style: str, value: object) -> str:
    """``style`` for this value: a fraction of a fixed kind reduced, as a tape is read (1 1/2 for 1 16/32)."""
    kind = style.partition("/")[2]
    if not kind.isdigit() or not isinstance(value, int | float):
        return style
    under = Fraction(round(value * int(kind)), int(kind)).denominator
    return "0" if under == 1 else f"# {'?' * len(str(under))}/{under}"


def _format(units: Units, steps: Sequence[Fraction]) -> str:
    if units is Units.MM:
        places = max(decimals(step) for step in steps)
        return f"0.{'0' * places}" if places else "0"
    under = max((step / units.mm).denominator for step in steps)
    if under == 1:
        return "0"
    if under not in _TAPE:
        return "0.000"
    # Reduced, as a tape is read: 14 1/4, not 14 8/32. The values are whole multiples, so it stays exact.
    return "# ?/?" if under <= 8 else "# ??/??"


def edge(left: str, right: str) -> HeaderFooterItem:
    item = HeaderFooterItem()
    item.left.text, item.right.text = left, right
    return item


def _code(text: str) -> str:
    """Text for a page header, where & starts a code and a leading figure would be read as a size."""
    text = ILLEGAL_CHARACTERS_RE.sub(" ", text).replace("&", "&&")
    return f" {text}" if text[:1].isdigit() else text
