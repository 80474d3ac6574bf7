"""The empty job workbook that ``cutplan new`` writes: headings with notes, drop-downs, checks, examples, a drawing."""

from __future__ import annotations

from collections.abc import Sequence
from enum import Enum
from fractions import Fraction
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.cell.cell import Cell
from openpyxl.comments import Comment
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.pagebreak import Break
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from cutplan.job.column import Column, Kind, Sheet
from cutplan.job.model import Settings, Units
from cutplan.job.schema import MEMBERS, SETTINGS, SHEETS
from cutplan.job.settings import defaults
from cutplan.output.files import write_beside
from cutplan.output.sheets.page import BOLD, CHARACTER, FACE, HEAD_FILL, PLAIN, edge, put, set_style, style_of
from cutplan.output.template_drawing import clock, drawing
from cutplan.output.template_words import ASIDES, EXAMPLES, MEASURED, SIDES, STEPS
from cutplan.output.workbook import set_face, settled
from cutplan.plan import wording

_LAST = 400
"""The last row that is checked as it is typed."""

_ROW = 21.0
"""Points that a row is high on paper: enough to write in by hand."""

_THIN = Side(style="thin", color="808080")
_RULED = Border(left=_THIN, right=_THIN, top=_THIN, bottom=_THIN)

_AS_TEXT = (Kind.TEXT, Kind.NAME, Kind.REFERENCE)
_EXAMPLE = Font(name=FACE, size=10, italic=True, color="595959")
_EXAMPLE_FILL = PatternFill("solid", fgColor="EFEFEF")
_NEEDED = Font(name=FACE, size=10, bold=True, color="FFFFFF")
_NEEDED_FILL = PatternFill("solid", fgColor="404040")
"""Headings of columns that must be filled in: white on dark, so that they stand out in black and white too."""


def write_template(path: Path, units: Units = Units.MM) -> None:
    """Write an empty job workbook in ``units`` to ``path``, replacing any file there. Raises OutputError."""
    content = template_bytes(units)
    write_beside(path, lambda beside: beside.write_bytes(content))


def template_bytes(units: Units) -> bytes:
    """The workbook as the bytes of its file."""
    book = Workbook()
    book.remove(book.worksheets[0])
    set_face(book)
    notes = book.create_sheet("Notes")
    for sheet in SHEETS:
        _sheet(book.create_sheet(sheet.name), sheet, units)
    # The reader leaves out sheets whose names begin with Notes or _.
    data = book.create_sheet("_drawing")
    data.sheet_state = "hidden"
    _notes(notes, data, units)
    book.active = 0
    return settled(book)


def _sheet(page: Worksheet, sheet: Sheet, units: Units) -> None:
    for number, column in enumerate(sheet.columns, 1):
        heading = put(page, 1, number, column.heading)
        heading.font, heading.fill = (_NEEDED, _NEEDED_FILL) if column.needed else (PLAIN, HEAD_FILL)
        heading.alignment = Alignment(horizontal="center", vertical="center", wrap_text=True)
        heading.comment = Comment(_note(column, units), "cutplan", width=260, height=90)
        letter = get_column_letter(number)
        page.column_dimensions[letter].width = (
            90 if sheet.name == "Job" and column.heading == "note" else _width(column.heading, sheet)
        )
        if column.kind in _AS_TEXT or (units is Units.IN and column.kind is Kind.LENGTH):
            # As text, so that a spreadsheet does not make a date of 1-3/4 or of the mark 2-1.
            page.column_dimensions[letter].number_format = "@"
        check = _check(column, f"{letter}2")
        if check is not None:
            check.showErrorMessage = True
            check.errorTitle, check.error = column.heading, f"Expected: {_expected(column, units)}"[:220]
            check.add(f"{letter}2:{letter}{_LAST}")
            page.add_data_validation(check)
    page.row_dimensions[1].height = 30
    page.freeze_panes = "B2"
    for row, example in enumerate(EXAMPLES[units][sheet.name], 2):
        for number, column in enumerate(sheet.columns, 1):
            cell = put(page, row, number, example.get(column.heading))
            cell.font, cell.fill = _EXAMPLE, _EXAMPLE_FILL
    if sheet.name == "Job":
        _settings(page, units, 2 + len(EXAMPLES[units]["Job"]))
    _rule(page, sheet, units)
    _print(page, units)


def _rule(page: Worksheet, sheet: Sheet, units: Units) -> None:
    """Rule as many empty rows as a page has room for, so that the sheet can be printed and filled in by hand."""
    across = sum(page.column_dimensions[get_column_letter(number)].width for number in range(1, len(sheet.columns) + 1))
    wide, high = (841.9, 595.3) if units is Units.MM else (792.0, 612.0)
    # The members take two pages side by side.
    blocks = 2 if sheet is MEMBERS else 1
    scale = min(1.0, (wide - 0.8 * 72) * blocks / (across * CHARACTER))
    page.sheet_format.defaultRowHeight, page.sheet_format.customHeight = round(_ROW / scale, 2), True
    rows = int(((high - 1.2 * 72) - 30.0 * scale) / _ROW)
    styles: dict[tuple[object, ...], Any] = {}
    for row in range(1, 2 + rows):
        for number in range(1, len(sheet.columns) + 1):
            cell = page.cell(row, number)
            assert isinstance(cell, Cell)
            shows = cell.number_format if row == 1 else page.column_dimensions[get_column_letter(number)].number_format
            met = (shows, *(style_of(cell) or ()))
            if met not in styles:
                cell.border, cell.number_format = _RULED, shows
                styles[met] = style_of(cell)
            set_style(cell, styles[met])


def _settings(page: Worksheet, units: Units, first: int) -> None:
    """Every setting with its default, ready to be changed, and each with its own check."""
    usual = defaults(units)
    unit = wording.unit_name(usual)
    for row, setting in enumerate(SETTINGS, first):
        put(page, row, 1, setting.heading).font = BOLD
        cell = put(page, row, 2, usual_value(usual, setting.heading))
        cell.font, cell.alignment = PLAIN, Alignment(horizontal="right")
        says = put(page, row, 3, setting.says)
        says.font, says.alignment = PLAIN, Alignment(horizontal="left", indent=1)
        if setting.kind is Kind.WHOLE:
            cell.number_format = "0"
        check = _check(setting, f"B{row}")
        if check is not None:
            check.errorTitle, check.showErrorMessage = setting.heading, True
            more = f" ({unit}); decimals take a point" if setting.kind is Kind.LENGTH else ""
            check.error = f"Expected: {setting.says}{more}"[:220]
            check.add(f"B{row}")
            page.add_data_validation(check)


def usual_value(settings: Settings, name: str) -> object:
    """What the setting ``name`` is unless it is changed, as the workbook holds it."""
    value = getattr(settings, name.replace(" ", "_"))
    if name == "name":
        return "my frame"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, Fraction):
        if settings.units is Units.IN:
            return wording.length(value, settings.units)
        return wording.number(value, settings.units)
    return value or None if isinstance(value, str) else value


def _note(column: Column, units: Units) -> str:
    unit = f" ({wording.unit_name(defaults(units))})" if column.kind is Kind.LENGTH else ""
    return f"{column.says}{unit}{' *' if column.needed else ''}"


def _expected(column: Column, units: Units) -> str:
    return _note(column, units) + ("; decimals take a point" if column.kind is Kind.LENGTH else "")


_FOLDED = {
    "tube": 16.0,
    "length": 12.0,
    "note": 76.0,
    **dict.fromkeys(("from", "via", "to", "past a", "past b"), 10.0),
    **dict.fromkeys(("qty", "pair", "rank", "turn", "insured", "stage", "made"), 8.0),
}
"""Widths on the members' sheet: so that what it is and end a are as wide as the mark, end b and the rest, and a
program that prints it on two pages side by side turns the page there."""


def _width(heading: str, sheet: Sheet) -> float:
    if sheet is MEMBERS and heading in _FOLDED:
        return _FOLDED[heading]
    if heading == "note":
        return 46
    if heading in ("mark", "tube", "setting"):
        return 20
    return 16 if heading in ("value", "label", "length") else 11.5


def _check(column: Column, first: str) -> DataValidation | None:
    """The check on what is typed in a column, its first cell ``first``; None where anything goes."""
    least, most = column.least, column.most
    if column.kind is Kind.REFERENCE:
        # A name from another sheet; one that is not there yet only gives a warning.
        return DataValidation("list", f"{column.of}!$A$3:$A${_LAST}", allow_blank=True, errorStyle="warning")
    if column.kind in (Kind.YES, Kind.WORD):
        words = ["yes", "no"] if column.words is None else [word.value for word in column.words]
        return DataValidation("list", f'"{",".join(words)}"', allow_blank=True)
    if column.kind is Kind.WHOLE:
        return DataValidation("whole", f"{least or 0:g}", f"{most or 0:g}", operator="between", allow_blank=True)
    if column.kind is Kind.DEGREES:
        # Text may be several angles, or one with its sign.
        formula = f"OR(ISTEXT({first}),AND({first}>={least or 0:g},{first}<={most or 360:g}))"
    elif column.kind is Kind.NUMBER:
        formula = f"AND(ISNUMBER({first}),{first}>={least or 0:g})"
    elif column.kind is Kind.LENGTH:
        # A number, or text, which may be a length too: 59 7/16, 1.5 m. The reader judges it; a comma is never right.
        text = f'AND(ISTEXT({first}),ISERROR(FIND(",",{first})))'
        formula = f"OR({text},AND(ISNUMBER({first}),{'TRUE' if column.signed else f'{first}>=0'}))"
    else:
        return None
    return DataValidation("custom", formula, allow_blank=True)


def _notes(page: Worksheet, data: Worksheet, units: Units) -> None:
    page.column_dimensions["A"].width = 14
    page.column_dimensions["B"].width = 92
    title = put(page, 1, 1, f"A job for cutplan, lengths in {wording.unit_name(defaults(units))}")
    title.font = Font(name=FACE, size=14, bold=True)
    for row, step in enumerate(STEPS, 3):
        put(page, row, 1, step)
    row = _lines(page, 4 + len(STEPS), "measured: what you measured to at a coped end", MEASURED)
    put(page, row, 1, "At a mitred or square end on a plate, centre and face are the same point.")
    page.add_chart(drawing(data), f"A{row + 2}")
    # The drawing is as high as 24 rows, the next one as 15.
    row = _lines(page, row + 27, "turn, offset, at and side: seen from end a, looking to end b", SIDES)
    page.add_chart(clock(data), f"A{row + 1}")
    row += 18
    for heading, lines in ASIDES:
        row = 1 + _lines(page, row, heading, lines)
    _print(page, units)


def _lines(page: Worksheet, row: int, heading: str, lines: Sequence[tuple[str, str]]) -> int:
    """A heading in ``row``, and below it words with what they mean; the next free row."""
    put(page, row, 1, heading).font = BOLD
    for at, (name, says) in enumerate(lines, row + 1):
        put(page, at, 1, name).font = BOLD
        put(page, at, 2, says)
    return row + 1 + len(lines)


def _print(page: Worksheet, units: Units) -> None:
    page.page_setup.orientation = "portrait" if page.title == "Notes" else "landscape"
    page.page_setup.paperSize = 9 if units is Units.MM else 1
    notes, wide = page.title == "Notes", page.title == MEMBERS.name
    page.page_setup.fitToWidth, page.page_setup.fitToHeight = 2 if wide else 1, int(notes)
    page.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    margins = page.page_margins
    margins.left = margins.right = 0.4
    margins.top = margins.bottom = 0.6
    page.oddHeader = edge(page.title, "")
    page.oddFooter = edge(f"lengths in {wording.unit_name(defaults(units))}", "page &P of &N")
    if not notes:
        page.print_title_rows = "1:1"
    if wide:
        # In two blocks, each with the mark: what it is and end a, then end b and the rest.
        page.print_title_cols = "A:A"
        page.page_setup.pageOrder = "overThenDown"
        page.col_breaks.append(Break(id=MEMBERS.headings.index("measured a") + 1))
