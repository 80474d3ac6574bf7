"""The sheet on which a bar is struck out or its length put right."""

from __future__ import annotations

from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from cutplan.output.sheets.page import Column, Page, left_format
from cutplan.plan import wording
from cutplan.plan.tables import Tables

TITLE = "Bars in hand"
BAR, STRUCK_OUT, MEASURED = "bar", "struck out", "measured now"
"""Heads by which what a person wrote is found again (the last one is followed by the unit)."""


def fill(sheet: Worksheet, tables: Tables) -> None:
    """Fill ``sheet``."""
    settings = tables.settings
    unit = settings.units.value
    columns = (
        Column(BAR, 9, bold=True, centred=True),
        Column("tube", 22),
        Column("label", 24),
        Column(f"length ({unit})", 14, left_format(settings)),
        Column(STRUCK_OUT, 12, centred=True),
        Column(f"{MEASURED} ({unit})", 16, left_format(settings)),
        Column("", 36),
    )
    page = Page(sheet, settings, columns)
    page.start(
        "Is a bar rusty, bent or not available? Put x under struck out. Is it longer or shorter than it should be? "
        "Write what the tape shows under measured now: from the last saw cut to the far end, or end to end where "
        "nothing is cut from it yet. Then plan the rest: cutplan recut."
    )
    tick = DataValidation(type="list", formula1='"x"', allow_blank=True, showErrorMessage=False)
    rows = [
        page.line(
            (bar.bar, bar.tube, bar.label, wording.number(bar.length, settings.units), None, None, ""), least=21.0
        )
        for bar in tables.bars
    ]
    page.entries(rows, 5, 5, tick)
    page.entries(rows, 6, 6)
    page.lock()
    page.finish()
