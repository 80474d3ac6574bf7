"""What to mark on each blank by hand: where each end's line lies round the tube."""

from __future__ import annotations

from math import pi

import numpy as np
from openpyxl.worksheet.worksheet import Worksheet

from cutplan.geometry import Blank, EndShape, end_line
from cutplan.geometry.inside import insides
from cutplan.job.model import Cut, Units
from cutplan.output import words
from cutplan.output.sheets.page import Column, Page, part_format
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
        f"{_allowed(plan)}"
    )
    blocks = []
    for group in alike(plan):
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
        words.end(shape, units),
        *(words.number(float(depth), units) for depth in end_line(shape, _QUARTERS)),
        words.number(once * shape.tip_turn_deg, units),
        *_second_ear(shape, once, units),
        words.number(once * shape.throat_turn_deg, units),
        words.number(shape.throat, units),
        _setting(group[0], side, shape, plan),
    )


def _allowed(plan: Plan) -> str:
    """Where the figures are laid, as the blank may be longer than the finished joint."""
    settings = plan.job.settings
    fits = [
        f"{words.length(mm, settings.units)} {settings.units.value} at a {cut.value}"
        for mm, cut in ((settings.fit_cope, Cut.COPE), (settings.fit_mitre, Cut.MITRE))
        if mm
    ]
    if not fits:
        return "The tip is at the sawn end."
    return (
        f"The tip of the finished joint lies inside the sawn end by the fitting allowance ({', '.join(fits)}): laid on "
        "from the sawn end, the figures leave that much to be ground off."
    )


def _second_ear(shape: EndShape, once: float, units: Units) -> tuple[object, object]:
    """The longest point but for the tip and what is next to it: how far round from 0, and how far in from the tip."""
    turns = np.arange(0.0, 360.0, 0.25)
    line = end_line(shape, turns)
    lowest = (line <= np.roll(line, 1)) & (line < np.roll(line, -1))
    apart = np.abs((turns - shape.tip_turn_deg + 180.0) % 360.0 - 180.0)
    others = np.flatnonzero(lowest & (apart > 2.0))
    if not len(others):
        return "", ""
    ear = others[np.argmin(line[others])]
    return words.number(once * float(turns[ear]), units), words.number(max(float(line[ear]), 0.0), units)


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
        said.append(f"its 0 lies {_way(blank.turn_deg)} end a's")
    inside = insides(blank, plan.job)
    turn = inside.a if side == "a" else inside.b
    if blank.bends:
        bend = f"bend {1 if side == 'a' else len(blank.bends)}"
        said.append(f"inside of {bend} at {words.degrees(turn)}°" if turn is not None else f"to {bend}: not told")
    return "; ".join(said)


def _way(turn_deg: float) -> str:
    """Which way round, in words: the sense matters but where it is nothing or half a turn."""
    if turn_deg % 180.0 == 0.0:
        return "on the line of" if turn_deg % 360.0 == 0.0 else "opposite"
    way = "clockwise" if turn_deg > 0 else "anticlockwise"
    return f"{words.degrees(abs(turn_deg))}° {way} from"
