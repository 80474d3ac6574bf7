"""For every cut, where its replacement would come from; and which marks nothing in hand could replace."""

from __future__ import annotations

from openpyxl.worksheet.worksheet import Worksheet

from cutplan.output.sheets.page import Column, Page, blank_format
from cutplan.plan import wording
from cutplan.plan.tables import Tables


def fill(sheet: Worksheet, tables: Tables) -> None:
    """Fill ``sheet``."""
    settings = tables.settings
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
    for tube in tables.spares:
        first = page.group(tube.tube)
        for sentence in tube.covers:
            page.sentence(sentence)
        for cut in (cut for cut in tables.saw_list if cut.tube == tube.tube):
            page.line(
                (
                    cut.cut,
                    cut.mark,
                    cut.tube,
                    f"up to {wording.blank(cut.room, settings)}"
                    if cut.blank is None
                    else wording.number(cut.blank, settings.units),
                    cut.bar,
                    cut.recovery.bar if cut.recovery else "-",
                    cut.if_spoilt or "no tube left could replace it: buy another bar",
                )
            )
        blocks.append((first, page.row - 1))
    page.sentence(wording.fitted(settings))
    page.keep_together(blocks)
    page.finish()
