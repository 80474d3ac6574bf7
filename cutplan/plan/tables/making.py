"""How each blank is made: what to mark on its ends, the rough cuts of its saddles, where to bend it, what to cut off
afterwards. Turn angles and ways round are clockwise as seen from end a looking to end b."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import pi
from typing import Annotated

import numpy as np

from cutplan.geometry.ends import BEVEL_MM, bevel, ears_and_throats, end_line
from cutplan.geometry.inside import Insides
from cutplan.geometry.model import BendMark, Blank, EndShape
from cutplan.geometry.roughcut import RoughCut, in_order, left_to_grind
from cutplan.job.faults import listed
from cutplan.job.model import Cut, Job, Settings, Units
from cutplan.plan import wording
from cutplan.plan.model import Plan, RoughEnd
from cutplan.plan.tables.alike import alike_groups
from cutplan.plan.tables.columns import Angle, Count, Kind, Text, Worked

_MATTERS_MM = 0.5
"""A grinder corrects that much: a rule of thumb that is out by less is not worth a remark."""

SAME_LINE_DEG = 0.5
"""A quarter of a millimetre round a tube of 60: two lines nearer than that are one to a scriber."""

_QUARTERS = (0.0, 90.0, 180.0, 270.0)

_Maybe = Annotated[float | None, Kind.LENGTH]
_MaybeAngle = Annotated[float | None, Kind.ANGLE]


@dataclass(frozen=True, slots=True)
class MarkRow:
    """The line of an end that is not square: how far in from the tip at each quarter and at its throat, and where on
    the surface, round from 0, the tip, a second ear and the throat are. Where a thick wall needs it, a second row
    ``inside of the wall`` gives the same places on the inside. ``alike``: every mark that is marked so."""

    mark: Text
    end: Text
    shape: Text
    at_0: Worked
    at_90: Worked
    at_180: Worked
    at_270: Worked
    tip_at: _MaybeAngle
    throat_at: _MaybeAngle
    throat: Worked
    tip_round: _Maybe
    second_ear_round: _Maybe
    second_ear: _Maybe
    throat_round: _Maybe
    set: Text
    alike: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RoughRow:
    """A straight cut, A or B, of those that rough out a saddle: its ``start`` is in from the sawn end, on the line at
    ``turn``, ``round`` the tube from 0. ``left_to_grind``: at most, after the last of them. ``check``: of the first,
    where a third of the diameter would be too deep."""

    mark: Text
    end: Text
    shape: Text
    cut: Text
    saw_angle: Angle
    turn: Angle
    round: Worked
    start: Worked
    left_to_grind: _Maybe
    check: Text
    alike: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BendRow:
    """A bend on the straight blank, from its sawn end a: where it starts and where the bender's mark goes."""

    mark: Text
    bend: Count
    start: Worked
    benders_mark: Annotated[float, Kind.LENGTH, "bender's mark"]
    angle: Angle
    radius: Worked
    rotation: Angle
    straight_before: Worked
    arc: Worked
    note: Text
    alike: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Making:
    """All that is done to a blank after the saw list. ``alike``: every mark that is made so."""

    mark: str
    member: str
    tube: str
    blank: Fraction
    alike: tuple[str, ...]
    marks: tuple[MarkRow, ...]
    rough_cuts: tuple[RoughRow, ...]
    bends: tuple[BendRow, ...]


def making(plan: Plan, insides: Mapping[str, Insides]) -> tuple[Making, ...]:
    """Blank by blank, until it is fitted; of an estimated one nothing is known yet. ``insides``: where the insides of
    the bends are, by mark."""
    rough: dict[str, list[RoughEnd]] = {}
    for end in plan.rough_ends:
        rough.setdefault(end.mark, []).append(end)
    made: dict[str, Making] = {}
    for group in alike_groups(plan.to_make, insides):
        first, marks = group[0], tuple(blank.mark for blank in group)
        known = not first.estimated
        lines = tuple(_mark_rows(first, plan.job, insides[first.mark], marks)) if known else ()
        bends = tuple(bend_rows(first, plan.job, insides[first.mark], marks)) if known else ()
        ends = rough.get(first.mark, ()) if known else ()
        cuts = [row for end in ends for row in _rough_rows(first, end, plan.job.settings, marks)]
        for blank in group:
            made[blank.mark] = Making(
                blank.mark,
                blank.member,
                blank.tube,
                blank.length,
                marks,
                tuple(replace(row, mark=blank.mark) for row in lines),
                tuple(replace(row, mark=blank.mark) for row in cuts),
                tuple(replace(row, mark=blank.mark) for row in bends),
            )
    return tuple(made[blank.mark] for blank in plan.to_make)


def _mark_rows(blank: Blank, job: Job, insides: Insides, alike: tuple[str, ...]) -> Iterator[MarkRow]:
    wall = float(job.tube(blank.tube).wall)
    for end, shape in zip("ab", blank.ends, strict=True):
        if shape.cut is Cut.SQUARE:
            continue
        ears, throats = ears_and_throats(shape) if shape.cut is Cut.COPE else ((), ())
        second = ears[1] if len(ears) > 1 else None
        yield _outside(
            blank, end, shape, second, "; ".join(_set(blank, end, shape, ears, throats, job, insides)), job, alike
        )
        if float(bevel(shape, np.arange(0.0, 360.0, 2.0), wall).max()) > BEVEL_MM:
            yield _inside(blank, end, shape, None if second is None else second[0], wall, job, alike)


def _outside(
    blank: Blank,
    end: str,
    shape: EndShape,
    second: tuple[float, float] | None,
    said: str,
    job: Job,
    alike: tuple[str, ...],
) -> MarkRow:
    once = pi * shape.od / 360.0
    at_0, at_90, at_180, at_270 = (float(depth) for depth in end_line(shape, _QUARTERS))
    return MarkRow(
        blank.mark,
        end,
        wording.end(shape, job.settings.units),
        at_0,
        at_90,
        at_180,
        at_270,
        shape.tip_turn_deg,
        shape.throat_turn_deg,
        shape.throat,
        once * shape.tip_turn_deg,
        None if second is None else once * second[0],
        None if second is None else max(second[1], 0.0),
        once * shape.throat_turn_deg,
        said,
        alike,
    )


def _inside(
    blank: Blank, end: str, shape: EndShape, second: float | None, wall: float, job: Job, alike: tuple[str, ...]
) -> MarkRow:
    """The same places on the inside of the wall, where that must go deeper than the outside by enough to matter."""
    turns = (*_QUARTERS, shape.tip_turn_deg, shape.tip_turn_deg if second is None else second, shape.throat_turn_deg)
    deeper = bevel(shape, turns, wall)
    at_0, at_90, at_180, at_270, _, ear, throat = (float(one) for one in end_line(shape, turns) + deeper)
    deep, units = float(deeper[4]), job.settings.units
    tip = wording.length(round(deep, 1), units) if units is Units.MM else wording.tape(deep, job.settings)
    return MarkRow(
        blank.mark,
        end,
        "inside of the wall",
        at_0,
        at_90,
        at_180,
        at_270,
        None,
        None,
        throat,
        None,
        None,
        None if second is None else ear,
        None,
        f"at the tip {tip}",
        alike,
    )


_Turns = Sequence[tuple[float, float]]


def _set(
    blank: Blank, end: str, shape: EndShape, ears: _Turns, throats: _Turns, job: Job, insides: Insides
) -> Iterator[str]:
    units = job.settings.units
    if shape.cut is Cut.MITRE:
        yield f"saw at {wording.degrees(shape.angle_deg, taped=shape.taped)}°"
    for saddle in shape.saddles:
        if abs(saddle.offset) >= 0.05:
            yield f"offset {wording.length(saddle.offset, units)}"
        if saddle.turn_deg:
            yield f"{wording.onto(saddle.onto, units)} turned {wording.degrees(saddle.turn_deg)}°"
    if end == "b" and blank.both_shaped:
        yield f"its 0 is {way_round(blank.turn_deg)} end a's" + ("" if blank.turn_known else " (turn not given)")
    if blank.bends:
        turn = insides.at(end)
        bend = 1 if end == "a" else len(blank.bends)
        yield f"inside of bend {bend} at {wording.degrees(turn)}°" if turn is not None else f"to bend {bend}: not known"
    # The ears after the second and the throats after the first, as an end on several tubes has them.
    once = pi * shape.od / 360.0
    for what, more in (("further ear", ears[2:]), ("further throat", throats[1:])):
        for turn, depth in more:
            if min(turn % 90.0, -turn % 90.0) > 1.0:  # the quarters have columns of their own
                yield f"{what} {wording.length(once * turn, units)} round, {wording.length(max(depth, 0.0), units)} in"


def way_round(turn_deg: float) -> str:
    """Which way round, in words: the sense matters but where it is nothing or half a turn, to what can be marked."""
    turn = (turn_deg + 180.0) % 360.0 - 180.0
    if abs(turn) < SAME_LINE_DEG:
        return "on the line of"
    if abs(turn) > 180.0 - SAME_LINE_DEG:
        return "opposite"
    return f"{wording.degrees(round(abs(turn), 1))}° {'clockwise' if turn > 0 else 'anticlockwise'} from"


def _rough_rows(blank: Blank, rough: RoughEnd, settings: Settings, alike: tuple[str, ...]) -> Iterator[RoughRow]:
    """The rough cuts of an end of ``blank``."""
    shape = blank.end(rough.end)
    cuts = in_order(rough.cuts, shape.od)
    for cut, letter in zip(cuts, "AB", strict=False):
        turn = cut.turn_deg % 360.0
        if round(turn, 1) in (0.0, 360.0):
            turn = 0.0
        yield RoughRow(
            blank.mark,
            rough.end,
            wording.end(shape, settings.units),
            letter,
            cut.saw_deg,
            turn,
            pi * shape.od * turn / 360.0,
            cut.start,
            left_to_grind(shape, cuts) if cut is cuts[-1] else None,
            _third(shape, cut, settings) if cut is cuts[0] else "",
            alike,
        )


def _third(shape: EndShape, cut: RoughCut, settings: Settings) -> str:
    """Where the rule of a third does not serve: a cut that crosses the middle line there is as deep at both its
    sides. Empty where it would do."""
    third = shape.od / 3.0
    sides = float(end_line(shape, (cut.turn_deg + 90.0, cut.turn_deg - 90.0)).min())
    if third <= sides + _MATTERS_MM:
        return ""
    named = wording.taped(third, settings)
    room = f"{wording.taped(sides, settings)} deep" if sides > 0.05 else "at its tip"
    return f"{named} is too deep: the cope's sides are {room}"


def third_said(made: Iterable[Making]) -> Iterator[str]:
    """Which ends the rule of a third would spoil, in a sentence; none where it would do for all."""
    ends: dict[str, dict[str, list[str]]] = {}
    for one in made:
        for row in one.rough_cuts if one.mark == one.alike[0] else ():
            if row.check:
                ends.setdefault(row.check, {}).setdefault(", ".join(row.alike), []).append(row.end)
    if ends:
        texts = (
            f"{check}: {'; '.join(f'{marks} end {listed(which)}' for marks, which in those.items())}"
            for check, those in ends.items()
        )
        yield (
            "Two cuts that meet in the tube's middle a third of its diameter in (common practice, no source) do not "
            f"serve here. {'. '.join(text[0].upper() + text[1:] for text in texts)}."
        )


def bend_rows(blank: Blank, job: Job, insides: Insides, alike: tuple[str, ...] = ()) -> Iterator[BendRow]:
    """The bends of a blank, from its end a."""
    for bend in blank.bends:
        yield BendRow(
            blank.mark,
            bend.number,
            bend.start,
            bend.mark,
            bend.angle_deg,
            bend.radius,
            bend.rotation_deg,
            bend.straight,
            bend.arc,
            "; ".join(_bend_note(blank, bend, job.settings, insides)),
            alike,
        )


def _bend_note(blank: Blank, bend: BendMark, settings: Settings, insides: Insides) -> Iterator[str]:
    """What is to be cut off after bending, and which way the bend next to a shaped end goes."""
    for side, last in (("a", blank.bends[0]), ("b", blank.bends[-1])):
        inside, cut_off = insides.at(side), blank.cut_off(side)
        if bend is last and inside is not None:
            yield f"its inside is at {wording.degrees(inside)}° of end {side} "
        if bend is last and cut_off:
            yield f"after bending cut {wording.taped(cut_off, settings)} off end {side}"
