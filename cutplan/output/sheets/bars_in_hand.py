"""The sheet of the bars: what each is for and what becomes of it; here it is struck out or its length put right."""

from __future__ import annotations

from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from cutplan.output.sheets.page import Page, SheetColumn, left_format
from cutplan.plan import wording
from cutplan.plan.tables import Tables

TITLE = "Bars in hand"
BAR, STRUCK_OUT, MEASURED = "bar", "struck out", "measured now"
"""Headings by which entries are found again (the last one is followed by the unit)."""


def fill(sheet: Worksheet, tables: Tables) -> None:
    """Fill ``sheet``."""
    settings = tables.settings
    unit = settings.units.value
    lengths = left_format(settings)
    columns = (
        SheetColumn(BAR, 6, bold=True, centred=True),
        SheetColumn("tube", 17),
        SheetColumn("label", 17),
        SheetColumn("from", 9),
        SheetColumn(f"length ({unit})", 12, lengths),
        SheetColumn(STRUCK_OUT, 10, centred=True),
        SheetColumn(f"{MEASURED} ({unit})", 13, lengths),
        SheetColumn("what for", 25),
        SheetColumn(f"left at the end ({unit})", 11, lengths, bold=True),
        SheetColumn(f"of it usable ({unit})", 11, lengths),
        SheetColumn("spares on it", 8, "0", centred=True),
        SheetColumn("then", 34),
    )
    page = Page(sheet, settings, columns)
    keep = wording.measured(settings.keep, settings)
    page.start(
        "Is a bar rusty, bent or not available? Put x under struck out. Is it longer or shorter than it should be? "
        "Write what the tape shows under measured now: from the last saw cut to the far end, or end to end where "
        "nothing is cut from it yet. Then plan the rest: cutplan recut. What is left after a bar's last cut is worth "
        f"racking from {keep} upwards (the setting keep)."
    )
    tick = DataValidation(type="list", formula1='"x"', allow_blank=True, showErrorMessage=False)
    rows = [
        page.line(
            (
                bar.bar,
                bar.tube,
                bar.label,
                bar.origin,
                wording.number(bar.length, settings.units),
                None,
                None,
                bar.use,
                wording.number(left.left, settings.units),
                wording.number(left.usable, settings.units),
                left.spares or None,
                left.then,
            ),
            least=21.0,
        )
        for bar, left in zip(tables.bars, tables.offcuts, strict=True)
    ]
    page.entries(rows, 6, 6, tick)
    page.entries(rows, 7, 7)
    page.lock()
    page.finish()
