"""What is left when everything is cut, bar by bar: what it may still serve, and whether it is worth racking."""

from __future__ import annotations

from itertools import groupby

from openpyxl.worksheet.worksheet import Worksheet

from cutplan.output.sheets.page import Column, Page, left_format
from cutplan.plan import wording
from cutplan.plan.tables import Tables


def fill(sheet: Worksheet, tables: Tables) -> None:
    """Fill ``sheet``."""
    settings = tables.settings
    unit = settings.units.value
    lengths = left_format(settings)
    columns = (
        Column("bar", 9, bold=True, centred=True),
        Column("tube", 22),
        Column("label", 20),
        Column(f"left ({unit})", 14, lengths, bold=True),
        Column(f"of it usable ({unit})", 14, lengths),
        Column("spares on it", 12, "0", centred=True),
        Column("then", 50),
    )
    page = Page(sheet, settings, columns)
    keep = f"{wording.length(settings.keep, settings.units)} {unit}"
    page.start(f"What is left of each bar after its last cut. Worth racking from {keep} upwards (the setting keep).")
    for tube, rows in groupby(tables.offcuts, key=lambda row: row.tube):
        first = page.row
        for bar in rows:
            page.line(
                (
                    bar.bar,
                    bar.tube,
                    bar.label,
                    wording.number(bar.left, settings.units),
                    wording.number(bar.usable, settings.units),
                    bar.spares or None,
                    bar.then,
                )
            )
        row = page.line(("", f"{tube}, together", "", None, None, None, ""))
        for number, letter in ((4, "D"), (5, "E")):
            page.total(row, number, f"=SUM({letter}{first}:{letter}{row - 1})", lengths)
    page.finish()
