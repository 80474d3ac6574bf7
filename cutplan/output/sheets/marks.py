"""What to mark on each blank by hand: where each end's line lies round the tube."""

from __future__ import annotations

from math import pi

from openpyxl.worksheet.worksheet import Worksheet

from cutplan.geometry import Blank, EndShape, end_line
from cutplan.job.model import Cut
from cutplan.output import words
from cutplan.output.sheets.page import Column, Page, part_format
from cutplan.plan.model import Plan

_QUARTERS = (0.0, 90.0, 180.0, 270.0)


def fill(sheet: Worksheet, plan: Plan) -> None:
    """Fill ``sheet``."""
    settings = plan.job.settings
    unit = settings.units.value
    lengths = "0.0" if unit == "mm" else part_format(settings)
    columns = (
        Column("mark", 17, bold=True),
        Column("end", 6, centred=True),
        Column("shape", 22),
        Column(f"in from the sawn end ({unit}): at 0, short side", 14, lengths),
        Column("at 90", 10, lengths),
        Column("at 180, long side", 11, lengths),
        Column("at 270", 10, lengths),
        Column(f"tip: round the tube from 0 ({unit})", 13, lengths),
        Column(f"throat: in from the end ({unit})", 13, lengths),
        Column(f"throat: round the tube from 0 ({unit})", 13, lengths),
        Column("set", 26),
    )
    page = Page(sheet, settings, columns)
    page.start(
        "Mark four lines along the tube, a quarter turn apart, clockwise as seen from end a looking to end b; 0 is the "
        "short side of the joint. The figures are those of the finished joint: a fitting allowance comes on top."
    )
    blocks = []
    for group in alike(plan.blanks):
        first = page.row
        for side, shape in (("a", group[0].end_a), ("b", group[0].end_b)):
            if shape.cut is not Cut.SQUARE:
                page.line(_end(group, side, shape, plan))
        if page.row > first:
            blocks.append((first, page.row - 1))
    if not blocks:
        page.sentence("Every end is square.")
    page.keep_together(blocks)
    page.finish()


def alike(blanks: tuple[Blank, ...]) -> list[list[Blank]]:
    """Marks whose ends and bends are all alike stand together."""
    groups: dict[object, list[Blank]] = {}
    for blank in blanks:
        groups.setdefault((blank.member, blank.end_a, blank.end_b, blank.turn_deg, blank.bends), []).append(blank)
    return list(groups.values())


def _end(group: list[Blank], side: str, shape: EndShape, plan: Plan) -> tuple[object, ...]:
    units = plan.job.settings.units
    once = pi * shape.od / 360.0
    return (
        ", ".join(blank.mark for blank in group),
        side,
        words.end(shape, units),
        *(words.number(float(depth), units) for depth in end_line(shape, _QUARTERS)),
        words.number(once * shape.tip_turn_deg, units),
        words.number(shape.throat, units),
        words.number(once * shape.throat_turn_deg, units),
        _setting(group[0], side, shape, plan),
    )


def _setting(blank: Blank, side: str, shape: EndShape, plan: Plan) -> str:
    units = plan.job.settings.units
    said = []
    if shape.cut is Cut.MITRE:
        said.append(f"saw at {words.degrees(shape.angle_deg)}°")
    for saddle in shape.saddles:
        if saddle.offset:
            said.append(f"offset {words.length(saddle.offset, units)}")
        if saddle.turn_deg:
            said.append(f"{words.onto(saddle.onto, units)} turned {words.degrees(saddle.turn_deg)}°")
    both = blank.end_a.cut is not Cut.SQUARE and blank.end_b.cut is not Cut.SQUARE
    if side == "b" and both:
        said.append(f"its 0 lies {words.degrees(blank.turn_deg)}° from end a's")
    return "; ".join(said)
