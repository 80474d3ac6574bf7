"""The sheet to hand over the counter: what to buy, tube by tube, what it costs, with its proof, and weighs."""

from __future__ import annotations

from openpyxl.worksheet.worksheet import Worksheet

from cutplan.output.sheets.page import MONEY, Page, SheetColumn, left_format
from cutplan.plan import wording
from cutplan.plan.tables import Tables


def fill(sheet: Worksheet, tables: Tables) -> None:
    """Fill ``sheet``."""
    settings = tables.settings
    shops, cuts = any(line.shop for line in tables.buy), any(line.cut_into for line in tables.buy)
    unit, mass = settings.units.value, wording.mass_unit(settings)
    currency = f" ({settings.currency})" if settings.currency else ""
    columns = (
        SheetColumn("tube", 22, bold=True),
        SheetColumn(f"OD x wall ({unit})", 20),
        SheetColumn(f"length of bar ({unit})", 16, left_format(settings), bold=True),
        SheetColumn("bars", 9, "0", bold=True),
        SheetColumn(f"price of a bar{currency}", 16, MONEY),
        SheetColumn(f"cost{currency}", 16, MONEY),
        SheetColumn(f"mass of a bar ({mass})", 14, "0.0"),
        SheetColumn(f"mass ({mass})", 14, "0.0"),
        *((SheetColumn("shop", 18),) if shops else ()),
        *((SheetColumn("cut into", 24),) if cuts else ()),
    )
    page = Page(sheet, settings, columns)
    page.start("What to buy for this job, and how much it weighs for the drive home.")
    sums = []
    for tube in tables.spares:
        lines = [line for line in tables.buy if line.tube == tube.tube]
        if not lines:
            continue
        first = page.row
        for line in lines:
            row = page.row
            priced = line.price is not None
            page.line(
                (
                    line.tube,
                    line.section,
                    wording.number(line.length, settings.units),
                    line.bars,
                    wording.amount(line.price) if line.price is not None else "no price",
                    "" if not priced else None,
                    round(line.bar_mass, 3),
                    None,
                    *((line.shop,) if shops else ()),
                    *((line.cut_into,) if cuts else ()),
                )
            )
            if priced:
                page.total(row, 6, f"=D{row}*E{row}", MONEY)
            page.total(row, 8, f"=D{row}*G{row}", "0.0")
        last = page.row - 1
        sums.append(_sums(page, f"{tube.tube}, together", [f"{{0}}{first}:{{0}}{last}"], tube.priced, len(columns)))
    if len(sums) > 1:
        _sums(page, "all tubes", [f"{{0}}{row}" for row in sums], tables.priced, len(columns))
    for sentence in tables.charges if sums else ():
        page.sentence(sentence)
    if not sums:
        page.sentence("Nothing to buy: the tube you have is enough.", bold=True)
    page.gap()
    page.sentence(tables.cost)
    for tube in tables.spares if tables.totalled and not tables.charged else ():
        if not tube.proven:
            page.sentence(tube.costs)
    page.finish()


def _sums(page: Page, text: str, ranges: list[str], priced: bool, columns: int) -> int:
    row = page.line((text, "", "", None, "", None, "", None, *[""] * (columns - 8)))
    for number, letter, style in ((4, "D", "0"), (6, "F", MONEY), (8, "H", "0.0")):
        if number == 6 and not priced:
            continue
        page.total(row, number, f"=SUM({','.join(part.format(letter) for part in ranges)})", style)
    return row
