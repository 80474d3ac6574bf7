"""Two straight cuts for each coped end, that leave its saddle to be crept up on."""

from __future__ import annotations

from math import pi

from openpyxl.worksheet.worksheet import Worksheet

from cutplan.geometry import Blank, EndShape, end_line
from cutplan.geometry.roughcut import RoughCut, left_to_grind
from cutplan.job.model import Settings
from cutplan.output import wording
from cutplan.output.sheets.page import Column, Page, part_format
from cutplan.plan.model import Plan


def fill(sheet: Worksheet, plan: Plan) -> None:
    """Fill ``sheet``; marks that are cut alike stand together."""
    settings = plan.job.settings
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
    blanks = plan.by_mark()
    groups: dict[tuple[str, str, str, tuple[RoughCut, ...]], list[str]] = {}
    for rough in plan.rough_ends:
        if rough.cuts:
            blank = blanks[rough.mark]
            alike = (blank.member, rough.end, wording.end(_shape(blank, rough.end), settings.units), rough.cuts)
            groups.setdefault(alike, []).append(rough.mark)
    blocks = []
    for (_, side, named, cuts), marks in groups.items():
        shape = _shape(blanks[marks[0]], side)
        first = page.row
        for number, cut in enumerate(cuts, 1):
            page.line(
                (
                    ", ".join(marks),
                    side,
                    named,
                    number,
                    round(cut.saw_deg, 1),
                    round(cut.turn_deg, 1),
                    wording.number(pi * shape.od * cut.turn_deg / 360.0, settings.units),
                    wording.number(cut.start, settings.units),
                    wording.number(left_to_grind(shape, cuts), settings.units) if number == len(cuts) else None,
                    _third(shape, cut, settings) if number == 1 else "",
                )
            )
        blocks.append((first, page.row - 1))
    page.keep_together(blocks)
    page.finish()


def _shape(blank: Blank, side: str) -> EndShape:
    return blank.end_a if side == "a" else blank.end_b


def _third(shape: EndShape, cut: RoughCut, settings: Settings) -> str:
    """How the rule of a third compares: a cut that crosses the middle line there lies as deep at both its sides."""
    third = shape.od / 3.0
    sides = float(end_line(shape, (cut.turn_deg + 90.0, cut.turn_deg - 90.0)).min())
    named = f"{wording.tape(third, settings)} {settings.units.value}"
    room = f"{wording.tape(sides, settings)} {settings.units.value} deep" if sides > 0.05 else "at its tip"
    if third > sides + 0.05:
        return f"{named} is too deep: the saddle's sides are {room}"
    return f"{named} would do: the saddle's sides are {room}"
