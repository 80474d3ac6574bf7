"""How each blank came about: its parts one under the other, summed by the spreadsheet itself."""

from __future__ import annotations

from itertools import groupby

from openpyxl.worksheet.worksheet import Worksheet

from cutplan.output.sheets.page import Page, SheetColumn, blank_format, exact_format
from cutplan.plan import wording
from cutplan.plan.tables import Tables


def fill(sheet: Worksheet, tables: Tables) -> None:
    """Fill ``sheet``."""
    settings = tables.settings
    unit = settings.units.value
    columns = (
        SheetColumn("part", 62),
        SheetColumn(f"length ({unit})", 11, exact_format(settings)),
        SheetColumn("how it is worked out", 40),
        SheetColumn("qty", 5, "0"),
    )
    page = Page(sheet, settings, columns, upright=True)
    page.start(
        "Each blank, tip to tip, is the sum of its parts. Lengths are rounded up to the marking step at the end."
    )
    blocks = []
    # Marks of one member (a left and a right) are kept together: they are made alike.
    for (_, parts), rows in groupby(tables.members, key=lambda row: (row.member, row.parts)):
        group = list(rows)
        member = group[0]
        marks = ", ".join(row.mark for row in group)
        note = f": {member.note}" if member.note else ""
        setups: dict[str, list[str]] = {}
        for row in group:
            setups.setdefault(row.setup, []).append(row.mark)
        # The other hand's ends are its own where it lands on the other side of a pair, or is turned the other way.
        said = "; ".join(f"{', '.join(those)} {text}" if len(setups) > 1 else text for text, those in setups.items())
        first = page.group(f"{marks} ({member.tube}): {said}{note}")
        start = page.row
        for part in parts:
            page.line((part.what, wording.number(part.length, settings.units), part.how, None))
        total = "room kept for it, no length to saw" if member.estimate else "blank, tip to tip"
        last = page.line((total, None, member.aside, sum(row.pieces for row in group)))
        page.total(last, 2, f"=SUM(B{start}:B{last - 1})", blank_format(settings))
        blocks.append((first, last))
    for standing in tables.standing:
        page.group(f"{standing.mark} ({standing.tube}): {standing.said}")
    page.keep_together(blocks)
    page.finish()
