"""What is left when everything is cut, bar by bar: what it may still serve, and whether it is worth racking."""

from __future__ import annotations

from openpyxl.worksheet.worksheet import Worksheet

from cutplan.output import words
from cutplan.output.sheets.page import Column, Page, left_format
from cutplan.plan.model import Bar, Plan


def fill(sheet: Worksheet, plan: Plan) -> None:
    """Fill ``sheet``."""
    settings = plan.job.settings
    unit = settings.units.value
    lengths = left_format(settings)
    columns = (
        Column("bar", 9, bold=True, centred=True),
        Column("tube", 22),
        Column("label", 20),
        Column(f"left ({unit})", 14, lengths, bold=True),
        Column(f"of it usable ({unit})", 14, lengths),
        Column("spares on it", 12, "0", centred=True),
        Column("then", 44),
    )
    page = Page(sheet, settings, columns)
    keep = f"{words.length(settings.keep, settings.units)} {unit}"
    page.start(f"What is left of each bar after its last cut. Worth racking from {keep} upwards (the setting keep).")
    for tube in plan.tubes:
        first = page.row
        for bar in tube.bars:
            page.line(
                (
                    bar.name,
                    bar.tube,
                    bar.label,
                    words.number(bar.offcut, settings.units),
                    words.number(bar.usable, settings.units),
                    bar.spares or None,
                    _then(bar, plan),
                )
            )
        row = page.line(("", f"{tube.tube}, together", "", None, None, None, ""))
        for number, letter in ((4, "D"), (5, "E")):
            page.total(row, number, f"=SUM({letter}{first}:{letter}{row - 1})", lengths)
    page.finish()


def _then(bar: Bar, plan: Plan) -> str:
    rack = "to the rack" if bar.offcut >= plan.job.settings.keep else "scrap"
    if bar.spares:
        return f"keep until all is fitted, then {rack}"
    return "not cut: back to the rack" if not bar.cuts else rack
