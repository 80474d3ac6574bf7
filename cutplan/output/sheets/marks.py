"""What to mark on each blank by hand: where each end's line lies round the tube."""

from __future__ import annotations

from math import pi

import numpy as np
from openpyxl.worksheet.worksheet import Worksheet

from cutplan.geometry import Blank, EndShape, bevel, ears_and_throats, end_line
from cutplan.geometry.inside import insides
from cutplan.job.model import Cut, Units
from cutplan.output import wording
from cutplan.output.sheets.page import Column, Page, part_format
from cutplan.output.wrap_drawing import BEVEL_MM
from cutplan.plan.model import Plan

_QUARTERS = (0.0, 90.0, 180.0, 270.0)


def fill(sheet: Worksheet, plan: Plan) -> None:
    """Fill ``sheet``."""
    settings = plan.job.settings
    unit = settings.units.value
    lengths = part_format(settings)
    columns = (
        Column("mark", 15, bold=True),
        Column("end", 6, centred=True),
        Column("shape", 20),
        Column(f"short side, at 0: in from the tip ({unit})", 12, lengths, bold=True),
        Column(f"at 90 ({unit})", 9, lengths, bold=True),
        Column(f"long side, at 180 ({unit})", 11, lengths, bold=True),
        Column(f"at 270 ({unit})", 9, lengths, bold=True),
        Column(f"tip (first ear): round the tube from 0 ({unit})", 13, lengths),
        Column(f"second ear: round from 0 ({unit})", 12, lengths),
        Column(f"second ear: in from the tip ({unit})", 12, lengths),
        Column(f"throat: round from 0 ({unit})", 12, lengths),
        Column(f"throat: in from the tip ({unit})", 12, lengths),
        Column("set", 27),
    )
    page = Page(sheet, settings, columns)
    page.start(
        "Mark four lines along the tube, a quarter turn apart, clockwise as seen from end a looking to end b (standing "
        "at end a); 0 is the short side of the joint. Round the tube: on its surface, the same way round from 0. "
        "Inside of the wall: where a thick wall needs it, how deep to grind its inside edge, or the joint stays open. "
        f"{_allowed(plan)}"
    )
    blocks = []
    for group in alike(plan):
        first = page.row
        for side, shape in (("a", group[0].end_a), ("b", group[0].end_b)):
            if shape.cut is not Cut.SQUARE:
                page.line(_end(group, side, shape, plan))
                wall = float(plan.job.tube(group[0].tube).wall)
                if (inside := _inside(group, side, shape, wall, settings.units)) is not None:
                    page.line(inside)
        if page.row > first:
            blocks.append((first, page.row - 1))
    if not blocks:
        page.sentence("Every end is square.")
    page.keep_together(blocks)
    page.finish()


def alike(plan: Plan) -> list[list[Blank]]:
    """Marks whose ends and bends are all alike stand together."""
    groups: dict[object, list[Blank]] = {}
    for blank in plan.blanks:
        shape = (blank.member, blank.end_a, blank.end_b, blank.turn_deg, blank.bends, insides(blank, plan.job))
        groups.setdefault(shape, []).append(blank)
    return list(groups.values())


def _end(group: list[Blank], side: str, shape: EndShape, plan: Plan) -> tuple[object, ...]:
    units = plan.job.settings.units
    once = pi * shape.od / 360.0
    return (
        ", ".join(blank.mark for blank in group),
        side,
        wording.end(shape, units),
        *(wording.number(float(depth), units) for depth in end_line(shape, _QUARTERS)),
        wording.number(once * shape.tip_turn_deg, units),
        *_second_ear(shape, once, units),
        wording.number(once * shape.throat_turn_deg, units),
        wording.number(shape.throat, units),
        _setting(group[0], side, shape, plan),
    )


def _inside(group: list[Blank], side: str, shape: EndShape, wall: float, units: Units) -> tuple[object, ...] | None:
    """The same places on the inside of the wall, where that must go deeper than the outside by enough to matter."""
    ears = ears_and_throats(shape)[0] if shape.cut is Cut.COPE else ()
    second = ears[1][0] if len(ears) > 1 else None
    turns = (*_QUARTERS, shape.tip_turn_deg, shape.tip_turn_deg if second is None else second, shape.throat_turn_deg)
    deeper = bevel(shape, turns, wall)
    if float(bevel(shape, np.arange(0.0, 360.0, 2.0), wall).max()) <= BEVEL_MM:
        return None
    depths = [wording.number(float(one), units) for one in end_line(shape, turns) + deeper]
    tip = f"grind the inside this deep; at the tip {wording.length(round(float(deeper[4]), 1), units)}"
    return (
        ", ".join(blank.mark for blank in group),
        side,
        "inside of the wall",
        *depths[:4],
        "",
        "",
        "" if second is None else depths[5],
        "",
        depths[6],
        tip,
    )


def _allowed(plan: Plan) -> str:
    """Where the figures are laid, as the blank may be longer than the finished joint."""
    settings = plan.job.settings
    fits = [
        f"{wording.length(mm, settings.units)} {settings.units.value} at a {cut.value}"
        for mm, cut in ((settings.fit_cope, Cut.COPE), (settings.fit_mitre, Cut.MITRE))
        if mm
    ]
    if not fits:
        return "The tip is at the sawn end."
    return (
        f"The tip of the finished joint is inside the sawn end by the fitting allowance ({', '.join(fits)}): measured "
        "from the sawn end, the figures leave that much to grind off."
    )


def _second_ear(shape: EndShape, once: float, units: Units) -> tuple[object, object]:
    """The longest point but for the tip and what is next to it: how far round from 0, and how far in from the tip."""
    ears, _ = ears_and_throats(shape) if shape.cut is Cut.COPE else ((), ())
    if len(ears) < 2:
        return "", ""
    turn, depth = ears[1]
    return wording.number(once * turn, units), wording.number(max(depth, 0.0), units)


def _further(shape: EndShape, once: float, units: Units) -> list[str]:
    """The ears after the second and the throats after the first, as an end on several tubes has them."""
    if shape.cut is not Cut.COPE:
        return []
    ears, throats = ears_and_throats(shape)
    return [
        f"{what} {wording.length(once * turn, units)} round, {wording.length(max(depth, 0.0), units)} in"
        for what, more in (("further ear", ears[2:]), ("further throat", throats[1:]))
        for turn, depth in more
        if min(turn % 90.0, -turn % 90.0) > 1.0  # the quarters have columns of their own
    ]


def _setting(blank: Blank, side: str, shape: EndShape, plan: Plan) -> str:
    units = plan.job.settings.units
    said = []
    if shape.cut is Cut.MITRE:
        said.append(f"saw at {wording.degrees(shape.angle_deg)}°")
    for saddle in shape.saddles:
        if saddle.offset:
            said.append(f"offset {wording.length(saddle.offset, units)}")
        if saddle.turn_deg:
            said.append(f"{wording.onto(saddle.onto, units)} turned {wording.degrees(saddle.turn_deg)}°")
    both = blank.end_a.cut is not Cut.SQUARE and blank.end_b.cut is not Cut.SQUARE
    if side == "b" and both:
        said.append(f"its 0 is {_way(blank.turn_deg)} end a's" + ("" if blank.turn_known else " (turn not given)"))
    inside = insides(blank, plan.job)
    turn = inside.a if side == "a" else inside.b
    if blank.bends:
        bend = f"bend {1 if side == 'a' else len(blank.bends)}"
        said.append(f"inside of {bend} at {wording.degrees(turn)}°" if turn is not None else f"to {bend}: not known")
    return "; ".join([*said, *_further(shape, pi * shape.od / 360.0, units)])


def _way(turn_deg: float) -> str:
    """Which way round, in words: the sense matters but where it is nothing or half a turn."""
    if turn_deg % 180.0 == 0.0:
        return "on the line of" if turn_deg % 360.0 == 0.0 else "opposite"
    way = "clockwise" if turn_deg > 0 else "anticlockwise"
    return f"{wording.degrees(abs(turn_deg))}° {way} from"
