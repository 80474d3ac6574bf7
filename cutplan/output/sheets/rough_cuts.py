"""Two straight cuts for each coped end, that leave its saddle to be crept up on."""

from __future__ import annotations

from itertools import groupby

from openpyxl.worksheet.worksheet import Worksheet

from cutplan.output.sheets.page import Column, Page, part_format
from cutplan.plan import wording
from cutplan.plan.tables import Tables


def fill(sheet: Worksheet, tables: Tables) -> None:
    """Fill ``sheet``; marks that are cut alike stand together."""
    settings = tables.settings
    unit = settings.units.value
    lengths = part_format(settings)
    columns = (
        Column("mark", 20, bold=True),
        Column("end", 7, centred=True),
        Column("shape", 24),
        Column("cut", 7, centred=True),
        Column("saw angle (°), 0 is square", 13, "0.0", bold=True),
        Column("turn (°)", 10, "0.0"),
        Column(f"line of the start: round the tube from 0 ({unit})", 16, lengths),
        Column(f"start on that line, in from the sawn end ({unit})", 16, lengths, bold=True),
        Column(f"then left to grind, at most ({unit})", 13, lengths),
        Column("cross-check: a third of the diameter", 36),
    )
    page = Page(sheet, settings, columns)
    page.start(
        "A cut starts on the line named (turns as on the sheet Marks) and runs out towards the end, across the tube. "
        "On a saw that swings to the angle, turn the tube until that line is level, facing you or the fence; by hand, "
        "turn it to the top. No cut goes beyond the saddle, inside or outside the wall, and none is steeper than the "
        f"saw swings ({wording.degrees(settings.saw_swing)}°): grind the rest to the line. "
        "Cross-check (common practice, no source): two cuts that meet in the tube's middle a third of its diameter in."
    )
    blocks = []
    shown = (row for row in tables.rough_cuts if row.mark == row.alike[0])
    for _, cuts in groupby(shown, key=lambda row: (row.mark, row.end)):
        first = page.row
        for row in cuts:
            page.line(
                (
                    ", ".join(row.alike),
                    row.end,
                    row.shape,
                    row.cut,
                    round(row.saw_angle, 1),
                    round(row.turn, 1),
                    wording.number(row.round, settings.units),
                    wording.number(row.start, settings.units),
                    None if row.left_to_grind is None else wording.number(row.left_to_grind, settings.units),
                    row.check,
                )
            )
        blocks.append((first, page.row - 1))
    page.keep_together(blocks)
    page.finish()
