"""For every cut, where its replacement would come from; and which marks nothing in hand could replace."""

from __future__ import annotations

from openpyxl.worksheet.worksheet import Worksheet

from cutplan.output import wording
from cutplan.output.sheets.page import Column, Page, blank_format
from cutplan.plan.model import Plan


def fill(sheet: Worksheet, plan: Plan) -> None:
    """Fill ``sheet``."""
    settings = plan.job.settings
    unit = settings.units.value
    columns = (
        Column("cut", 8, "0", bold=True, centred=True),
        Column("mark", 18, bold=True),
        Column("tube", 20),
        Column(f"blank ({unit})", 14, blank_format(settings)),
        Column("on bar", 9, centred=True),
        Column("again from bar", 12, bold=True, centred=True),
        Column("how", 54),
    )
    page = Page(sheet, settings, columns)
    page.start(
        "If a blank is spoilt: stop, tick it as spoilt in the saw list, and cut it again from the bar named here."
    )
    blocks = []
    for tube in plan.tubes:
        first = page.group(tube.tube)
        for sentence in wording.spares(tube.spares, settings):
            page.sentence(sentence)
        cuts = sorted(((cut, bar) for bar in tube.bars for cut in bar.cuts), key=lambda pair: pair[0].number)
        for cut, bar in cuts:
            again = cut.if_spoilt
            page.line(
                (
                    cut.number,
                    cut.mark,
                    bar.tube,
                    wording.number(cut.blank, settings.units),
                    bar.name,
                    again.bar if again else "-",
                    again.how if again else "no tube left could replace it: buy another bar",
                )
            )
        blocks.append((first, page.row - 1))
    page.sentence(wording.fitted(settings))
    page.keep_together(blocks)
    page.finish()
