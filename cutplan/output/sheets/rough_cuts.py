"""Two straight cuts for each coped end, that leave its saddle to be crept up on."""

from __future__ import annotations

from math import pi

from openpyxl.worksheet.worksheet import Worksheet

from cutplan.geometry.roughcut import RoughCut
from cutplan.output import words
from cutplan.output.sheets.page import Column, Page, part_format
from cutplan.plan.model import Plan


def fill(sheet: Worksheet, plan: Plan) -> None:
    """Fill ``sheet``; marks that are cut alike stand together."""
    settings = plan.job.settings
    unit = settings.units.value
    lengths = "0.0" if unit == "mm" else part_format(settings)
    columns = (
        Column("mark", 24, bold=True),
        Column("end", 7, centred=True),
        Column("shape", 26),
        Column("cut", 7, centred=True),
        Column("saw angle (°), 0 is square", 16, "0.0", bold=True),
        Column("turn (°)", 12, "0.0"),
        Column(f"round the tube from 0 ({unit})", 18, lengths),
        Column(f"start, in from the end ({unit})", 18, lengths, bold=True),
    )
    page = Page(sheet, settings, columns)
    page.start(
        "Turn the tube until the line at this turn (as on the sheet Marks) is uppermost, set the saw, and start there; "
        "the cut runs out towards the end. Neither cut goes beyond the saddle, inside or outside. Grind to the line."
    )
    groups: dict[tuple[str, str, tuple[RoughCut, ...]], list[str]] = {}
    for rough in plan.rough_ends:
        if rough.cuts:
            groups.setdefault((plan.blank_of(rough.mark).member, rough.end, rough.cuts), []).append(rough.mark)
    blocks = []
    for (_, side, cuts), marks in groups.items():
        blank = plan.blank_of(marks[0])
        shape = blank.end_a if side == "a" else blank.end_b
        first = page.row
        for number, cut in enumerate(cuts, 1):
            page.line(
                (
                    ", ".join(marks),
                    side,
                    words.end(shape, settings.units),
                    number,
                    round(cut.saw_deg, 1),
                    round(cut.turn_deg, 1),
                    words.number(pi * shape.od * cut.turn_deg / 360.0, settings.units),
                    words.number(cut.start, settings.units),
                )
            )
        blocks.append((first, page.row - 1))
    page.keep_together(blocks)
    page.finish()
