"""The sheet to hand over the counter: what to buy, tube by tube, what it costs and weighs; and what the rack gives."""

from __future__ import annotations

from openpyxl.worksheet.worksheet import Worksheet

from cutplan.job.model import Source
from cutplan.output import wording
from cutplan.output.sheets.page import MONEY, Column, Page, left_format
from cutplan.plan.model import Plan


def fill(sheet: Worksheet, plan: Plan) -> None:
    """Fill ``sheet``."""
    settings = plan.job.settings
    unit, mass = settings.units.value, wording.mass_unit(settings)
    currency = f" ({settings.currency})" if settings.currency else ""
    columns = (
        Column("tube", 22, bold=True),
        Column(f"OD x wall ({unit})", 20),
        Column(f"length of bar ({unit})", 16, left_format(settings), bold=True),
        Column("bars", 9, "0", bold=True),
        Column(f"price of a bar{currency}", 16, MONEY),
        Column(f"cost{currency}", 16, MONEY),
        Column(f"mass of a bar ({mass})", 14, "0.0"),
        Column(f"mass ({mass})", 14, "0.0"),
    )
    page = Page(sheet, settings, columns)
    page.start("What to buy for this job, and how much it weighs for the drive home.")
    sums = []
    for tube in plan.tubes:
        lines = [line for line in plan.buy if line.tube == tube.tube]
        if not lines:
            continue
        first = page.row
        for line in lines:
            row = page.row
            priced = line.price is not None
            page.line(
                (
                    line.tube,
                    wording.section(plan.job, line.tube),
                    wording.number(line.length, settings.units),
                    line.count,
                    wording.amount(line.price) if line.price is not None else "no price",
                    "" if not priced else None,
                    round(wording.mass(plan.job, line.tube, line.length), 3),
                    None,
                )
            )
            if priced:
                page.total(row, 6, f"=D{row}*E{row}", MONEY)
            page.total(row, 8, f"=D{row}*G{row}", "0.0")
        last = page.row - 1
        sums.append(_sums(page, f"{tube.tube}, together", [f"{{0}}{first}:{{0}}{last}"], tube.priced))
    if len(sums) > 1:
        _sums(page, "all tubes", [f"{{0}}{row}" for row in sums], plan.priced and not plan.unpriced)
    if not sums:
        page.sentence("Nothing to buy: the tube you have is enough.", bold=True)
    page.gap()
    page.sentence(wording.plan_cost(plan))
    _rack(page, plan)
    page.finish()


def _sums(page: Page, text: str, ranges: list[str], priced: bool) -> int:
    row = page.line((text, "", "", None, "", None, "", None))
    for number, letter, style in ((4, "D", "0"), (6, "F", MONEY), (8, "H", "0.0")):
        if number == 6 and not priced:
            continue
        page.total(row, number, f"=SUM({','.join(part.format(letter) for part in ranges)})", style)
    return row


def _rack(page: Page, plan: Plan) -> None:
    settings = plan.job.settings
    bars = [bar for tube in plan.tubes for bar in tube.bars if bar.source is Source.RACK]
    if not bars:
        return
    page.gap()
    page.group("Tube you already have")
    for bar in bars:
        use = f"for {wording.cuts_among(cut.number for cut in bar.cuts)}" if bar.cuts else "kept whole, just in case"
        page.sentence(f"{wording.bar_title(bar, settings)}: {use}")
