"""Where each bend begins on the straight blank, one reading of the tape each, from the sawn end a."""

from __future__ import annotations

from itertools import groupby

from openpyxl.worksheet.worksheet import Worksheet

from cutplan.output.sheets.page import Column, Page, part_format
from cutplan.plan import wording
from cutplan.plan.tables import Tables


def fill(sheet: Worksheet, tables: Tables) -> None:
    """Fill ``sheet``; members bent alike stand together."""
    settings = tables.settings
    unit = settings.units.value
    lengths = part_format(settings)
    columns = (
        Column("mark", 22, bold=True),
        Column("bend", 7, centred=True),
        Column(f"bender's mark at ({unit})", 13, lengths, bold=True),
        Column(f"begins at ({unit})", 12, lengths),
        Column(f"straight before ({unit})", 12, lengths),
        Column(f"arc ({unit})", 12, lengths),
        Column("angle (°)", 10, "0.0", bold=True),
        Column(f"radius ({unit})", 11, lengths),
        Column("turn from the bend before (°)", 13, "0.0", bold=True),
        Column("note", 34),
    )
    page = Page(sheet, settings, columns)
    page.start(
        "Make all marks on the straight blank, from its sawn end a, before any bending. Turns are clockwise as seen "
        "from end a looking to end b (standing at end a); a bend goes towards its inside."
    )
    blocks = []
    for _, bends in groupby((row for row in tables.bends if row.mark == row.alike[0]), key=lambda row: row.mark):
        first = page.row
        for row in bends:
            places = (row.benders_mark, row.start, row.straight_before, row.arc)
            page.line(
                (
                    ", ".join(row.alike),
                    row.bend,
                    *(wording.number(mm, settings.units) for mm in places),
                    row.angle,
                    wording.number(row.radius, settings.units),
                    row.rotation,
                    row.note,
                )
            )
        blocks.append((first, page.row - 1))
    page.keep_together(blocks)
    page.finish()
