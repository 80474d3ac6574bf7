"""The sheet for the saw: every cut in order, to be ticked off, with what must be left and where a replacement is."""

from __future__ import annotations

from copy import copy
from itertools import groupby

from openpyxl.formatting.rule import Rule
from openpyxl.styles import Font
from openpyxl.styles.differential import DifferentialStyle
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from cutplan.job.model import Settings
from cutplan.output.sheets.page import FACE, Page, SheetColumn, blank_format, left_format, lines_of
from cutplan.plan import wording
from cutplan.plan.tables import Tables

TITLE = "Saw list"
CUT, DONE, SPOILT, STILL_GOOD, FITTED = "cut", "done", "spoilt", "still good", "fitted"
"""Headings by which ticks are found again (that of a length is followed by the unit)."""

_LARGE = Font(name=FACE, size=13, bold=True)
_LARGE_ACROSS, _LARGE_LINE = 10.0, 17.0
"""Large letters that a mark's column takes, and how many points a line of them is high."""

_MADE = {
    False: "Already cut. If one of these is spoilt later, in fitting, tick it here and plan the rest.",
    True: "Fitted. If one of these has to come out again, tick it spoilt here and plan the rest.",
}
"""Over the blanks cut earlier, by whether they are fitted."""

_ROW = 21.0
"""Points: a row high enough to tick by hand on paper."""


def fill(sheet: Worksheet, tables: Tables) -> None:
    """Fill ``sheet``."""
    settings = tables.settings
    columns = _columns(settings, waiting=bool(tables.waiting))
    page = Page(sheet, settings, columns)
    page.start(
        "Tick done after each cut, and fitted once the piece is tacked in and good. If a blank is spoilt, put x under "
        "spoilt, write the length that can still be used under still good, and see the column if spoilt. Left of the "
        "bar: "
        f"{tables.left_rule}."
    )
    blocks = []
    bars = {row.bar: row for row in tables.bars}
    ticks: list[int] = []
    waiting: list[int] = []
    stages = {row.stage: row.title for row in tables.stages}
    begun: set[str] = set()
    last = None
    for (stage, bar), cuts in groupby(tables.saw_list, key=lambda row: (row.stage, row.bar)):
        first = page.row
        if stage is not None and stage != last:
            page.sentence(stages[stage], bold=True)
        last = stage
        page.group(bars[bar].back if bar in begun else bars[bar].square)
        begun.add(bar)
        for cut in cuts:
            row = page.line(
                (
                    cut.cut,
                    None,
                    None,
                    None,
                    cut.bar,
                    cut.mark,
                    f"measure first, {cut.measure_first}"
                    if cut.blank is None
                    else wording.number(cut.blank, settings.units),
                    cut.end_a,
                    cut.end_b,
                    wording.left(None, cut.at_least, settings)
                    if cut.left is None
                    else wording.number(cut.left, settings.units),
                    cut.if_spoilt or wording.NO_TUBE,
                    cut.hints,
                    None,
                ),
                least=max(_ROW, lines_of(cut.mark, _LARGE_ACROSS) * _LARGE_LINE),
            )
            sheet.cell(row, 6).font = _LARGE
            if cut.blank is not None:
                sheet.cell(row, 7).font = _LARGE
            (ticks if cut.blank is not None else waiting).append(row)
        blocks.append((first, page.row - 1))
    for sentence in (tables.early, tables.waiting):
        if sentence:
            page.sentence(sentence, bold=True)
    for fitted, says in _MADE.items():
        if rows := [made for made in tables.made if made.fitted is fitted]:
            first = page.group(says)
            for made in rows:
                long = wording.number(made.blank, settings.units)
                cells = (
                    made.cut,
                    None,
                    None,
                    None,
                    "",
                    made.mark,
                    long,
                    made.end_a,
                    made.end_b,
                    "",
                    "",
                    made.see,
                    None,
                )
                ticks.append(page.line(cells, least=_ROW))
            blocks.append((first, page.row - 1))
    if ticks or waiting:
        _inputs(page, ticks, waiting)
    page.keep_together(blocks)
    page.finish()


def _columns(settings: Settings, *, waiting: bool) -> tuple[SheetColumn, ...]:
    unit = settings.units.value
    return (
        SheetColumn(CUT, 5, "0", bold=True, centred=True),
        SheetColumn(DONE, 6, centred=True),
        SheetColumn(SPOILT, 7, centred=True),
        SheetColumn(f"{STILL_GOOD} ({unit})", 9, left_format(settings)),
        SheetColumn("bar", 5, bold=True, centred=True),
        SheetColumn("mark", 15),
        SheetColumn(f"blank ({unit})", 19 if waiting else 14, blank_format(settings)),
        SheetColumn("end a", 20),
        SheetColumn("end b", 20),
        SheetColumn(f"left of the bar ({unit})", 12, left_format(settings)),
        SheetColumn("if spoilt, cut it again", 31),
        SheetColumn("note", 20),
        SheetColumn(FITTED, 7, centred=True),
    )


def _inputs(page: Page, rows: list[int], waiting: list[int]) -> None:
    """Unlock what may be ticked, check it as it is typed, and show it without colour too. ``waiting``: rows of blanks
    that must be measured first, which take no tick and say why."""
    sheet = page.sheet
    first, last = min(rows + waiting), max(rows + waiting)
    refused = DataValidation(type="custom", formula1="FALSE", allow_blank=True, showErrorMessage=True)
    refused.errorTitle = "Measure first"
    refused.error = "This blank has no length yet. Measure it, write that in the job, and plan the rest with that job."
    page.entries(waiting, 2, 4, refused)
    page.entries(waiting, 13, 13, copy(refused))
    # Offers an x; a tick of any other kind is read as well.
    tick = DataValidation(type="list", formula1='"x"', allow_blank=True, showErrorMessage=False)
    top = rows[0] if rows else first
    rest = DataValidation(
        type="decimal",
        operator="between",
        formula1="0",
        formula2=f"G{top}",
        allow_blank=True,
        showErrorMessage=True,
    )
    rest.errorTitle = "Still good"
    rest.error = f"A length in {page.settings.units.value}, from 0 to the length of the blank."
    page.entries(rows, 2, 3, tick)
    page.entries(rows, 4, 4, rest)
    page.entries(rows, 13, 13, copy(tick))
    area = f"E{first}:L{last}"
    _marked(sheet, area, f'$C{first}<>""', Font(b=True, i=True), stop=True)
    _marked(sheet, area, f'$B{first}<>""', Font(strike=True, color="595959"), stop=False)
    page.lock()


def _marked(sheet: Worksheet, area: str, formula: str, font: Font, *, stop: bool) -> None:
    rule = Rule(type="expression", dxf=DifferentialStyle(font=font), stopIfTrue=stop, formula=[formula])
    sheet.conditional_formatting.add(area, rule)
