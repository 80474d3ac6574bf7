"""What is left when everything is cut, bar by bar: what it may still serve, and whether it is worth racking."""

from __future__ import annotations

from openpyxl.worksheet.worksheet import Worksheet

from cutplan.job.model import Fitted, Source
from cutplan.output import wording
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
        Column("then", 50),
    )
    page = Page(sheet, settings, columns)
    keep = f"{wording.length(settings.keep, settings.units)} {unit}"
    page.start(f"What is left of each bar after its last cut. Worth racking from {keep} upwards (the setting keep).")
    for tube in plan.tubes:
        first = page.row
        for bar in tube.bars:
            page.line(
                (
                    bar.name,
                    bar.tube,
                    bar.label,
                    wording.number(bar.offcut, settings.units),
                    wording.number(bar.usable, settings.units),
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
    # What lay there before the job stays there; what the job itself has left is worth racking or it is not.
    lay = {(row.tube, row.length) for row in plan.rack_before}
    if not bar.cuts and bar.source is Source.RACK and (bar.tube, bar.length) in lay:
        rack = "back to the rack"
    if _needed(bar, plan):
        return f"keep until all is fitted, then {rack}"
    return rack if bar.cuts else f"not cut: {rack}"


def _needed(bar: Bar, plan: Plan) -> bool:
    """Whether what is left of ``bar`` is kept as a spare, or is where a cut's replacement would come from."""
    tube = next(tube for tube in plan.tubes if bar in tube.bars)
    # One at a time, a mistake shows before the next cut: those before the bar's last can no more ask for what is left.
    last = bar.cuts[-1].number if bar.cuts and tube.spares.fitted is Fitted.ONE_AT_A_TIME else 0
    ways = [cut.if_spoilt for other in tube.bars for cut in other.cuts if cut.number >= last and cut.if_spoilt]
    named = {name for way in ways for name in (way.bar, *way.following, *(name for name, _ in way.layout))}
    return bool(bar.spares) or bar.name in named
