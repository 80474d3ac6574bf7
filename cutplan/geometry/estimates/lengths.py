"""How long a blank may come out, over all its numbers that are written with a ± or as a range.

Every number may be anywhere in its own range, whatever the others are, so the least and the greatest length are sums
of what each part of the member can do at most. No part needs to act one way only:

* a straight adds what it is long;
* a bend adds its arc, less its stretch, less the setbacks of the straights beside it: a concave function of its angle,
  whose peak is where its derivative is nothing;
* a mitre's tangent only grows;
* an end on a bend, or on several tubes, is looked into by :mod:`cutplan.geometry.estimates.ends`;
* any other cope grows with the offset, either way (see :func:`cope_extremes`). With the angle it rises or falls up to
  square and turns back there; off centre it may turn before. Then it is looked at on a grid of angles, and what it can
  do between them is bounded by how fast it can change (Lipschitz; the derivative of the saddle's distance is
  -(r·cos(phi) + s·cos(theta)) / sin²(theta), at most (r + R) / sin²(theta)).

So the greatest is a true upper bound, and no more than hundredths of a millimetre above what can be.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import acos, ceil, degrees, pi, radians, sin, sqrt

import numpy as np

from cutplan.geometry import bend, ends
from cutplan.geometry.byhand import runs_straight_on
from cutplan.geometry.derivation import to_tip
from cutplan.geometry.errors import GeometryError
from cutplan.geometry.estimates.ends import TargetsAt, extremes_in_doubt, in_doubt
from cutplan.geometry.figures import Figures
from cutplan.geometry.model import EndShape
from cutplan.geometry.placing import Placer
from cutplan.geometry.run import Run
from cutplan.job.faults import Fault
from cutplan.job.model import MOST_COPE_DEG, Cut, End, Measured, Member, Saddle, Tube

_CLOSE_MM = 0.01
_FEWEST, _MOST = 3, 4001
"""Angles of a grid."""
_HAIR_MM = 1e-9


@dataclass(frozen=True, slots=True)
class Margin:
    """By how much a length may come out less and more than likely, in mm, neither below 0."""

    less: float = 0.0
    more: float = 0.0

    @classmethod
    def of(cls, tolerance: float | Fraction) -> Margin:
        """That of a ±."""
        return cls(float(tolerance), float(tolerance))

    def __add__(self, other: Margin) -> Margin:
        return Margin(self.less + other.less, self.more + other.more)

    @property
    def most(self) -> float:
        """The greater of the two: the ± of the length."""
        return max(self.less, self.more)


def margin_of(
    member: Member, tube: Tube, run: Run, shapes: Sequence[EndShape], reaches: Sequence[float], placer: Placer
) -> tuple[Margin, tuple[Margin, ...]]:
    """The margin of a whole blank, and of each of its straights to the tangent points. ``shapes``, ``reaches``: of end
    a and end b, and what the blank gains there in mm.

    Raises GeometryError for a doubt that cannot be worked out.
    """
    at_a, at_b = ends_of(member, run, shapes, placer)
    straights = tuple(_straight(member, tube, run, i) for i in range(len(run.straights)))
    if not run.turns:
        return at_a + at_b + straights[0], straights
    grip = float(tube.grip)
    edges = ((0, at_a, reaches[0]), (-1, at_b, reaches[1]))
    if all(grip <= run.straights[i].length + reach - straights[i].less - end.less for i, end, reach in edges):
        given = (Margin.of(row.tolerance) for row in member.bends)
        turned = (_bend(member, tube, run, i, setbacks=True) for i in range(len(run.turns)))
        # By nodes, the whole centreline has one ±.
        whole = Margin.of(member.tolerance) if member.points else Margin()
        return sum((*given, *turned), at_a + at_b + whole), straights
    # A straight too short for the bender is lengthened to its grip in any case: both ends are held apart.
    if member.points:
        # What is left of the whole is in doubt by no more than the whole and both ends are.
        whole = Margin.of(member.tolerance) + straights[0] + straights[-1]
    else:
        whole = sum((_bend(member, tube, run, i, setbacks=False) for i in range(len(run.turns))), Margin())
        whole = sum(straights[1:-1], whole)
    for i, end, reach in edges:
        likely, edge = run.straights[i].length + reach, straights[i] + end
        held = max(likely, grip)
        whole += Margin(held - max(likely - edge.less, grip), max(likely + edge.more, grip) - held)
    return whole, straights


def _straight(member: Member, tube: Tube, run: Run, index: int) -> Margin:
    """Of a straight to its tangent points."""
    if not member.bends:
        doubts = member.route.doubts if member.route is not None else ()
        # Where nodes on the way were moved into a straight line, or out of it, any may be in doubt by the whole.
        return Margin.of(doubts[index] if len(doubts) == len(run.straights) else member.tolerance)
    row = member.bends[index]
    found = Margin.of(row.tolerance)
    for number in (index - 1, index):
        if 0 <= number < len(run.turns) and (doubt := member.bends[number].angle_tolerance):
            turn = run.turns[number]
            back = [
                bend.setback(row.to, turn.angle_deg + by, turn.radius, float(tube.od)) for by in (-doubt, 0.0, doubt)
            ]
            found += Margin(back[2] - back[1], back[1] - back[0])
    return found


def _bend(member: Member, tube: Tube, run: Run, index: int, *, setbacks: bool) -> Margin:
    """Of a bend, arc less stretch, and with the ``setbacks`` of the straights beside it taken off."""
    doubt, turn = member.bends[index].angle_tolerance if member.bends else 0.0, run.turns[index]
    if not doubt:
        return Margin()
    rows = [row.to for row in member.bends[index : index + 2]] if setbacks else []
    reach = sum(bend.setback(to, 90.0, turn.radius, float(tube.od)) for to in rows)
    rate = bend.arc(1.0, turn.radius) - bend.growth(1.0, float(tube.stretch))

    def length(angle_deg: float) -> float:
        return rate * angle_deg - (reach * bend.setback_factor(angle_deg) if reach else 0.0)

    low, high = turn.angle_deg - doubt, turn.angle_deg + doubt
    likely, at = length(turn.angle_deg), [length(low), length(high)]
    # The derivative, rate - reach·(pi/360) / cos²(A/2), is nothing at the peak.
    if reach and rate > 0.0 and (square := reach * pi / 360.0 / rate) < 1.0:
        peak = 2.0 * degrees(acos(sqrt(square)))
        at += [length(peak)] if low < peak < high else []
    return margin_between(likely, min(at), max(at))


def ends_of(member: Member, run: Run, shapes: Sequence[EndShape], placer: Placer) -> tuple[Margin, Margin]:
    """The margins of both ends, by what their own rows say."""
    straights = [one.length for one in run.straights] or [0.0]
    at_a = at_end("a", member.end_a, shapes[0], straights[0], placer)
    return at_a, at_end("b", member.end_b, shapes[1], straights[-1], placer)


def at_end(name: str, end: End, shape: EndShape, straight: float, placer: Placer) -> Margin:
    """The margin of what the blank gains at an end between the point measured to and its tip. ``straight``: how long
    the member is straight there."""
    if end.from_points or not _is_doubtful(end):
        return Margin()
    if end.cut is Cut.MITRE:
        doubt = end.angle_tolerance
        low, likely, high = (
            to_tip(ends.mitre(shape.od, shape.angle_deg + by), end.measured) for by in (-doubt, 0.0, doubt)
        )
        return margin_between(likely, min(low, high), max(low, high))
    if len(end.saddles) > 1 or not runs_straight_on(end.saddles[0]):
        extremes = extremes_in_doubt(TargetsAt.of(name, end, shape.od / 2.0, straight, placer))
    else:
        extremes = cope_extremes(shape.od, end.saddles[0], end.measured)
    return margin_between(to_tip(shape, end.measured), *extremes)


def is_doubtful(member: Member) -> bool:
    """Whether a number that the blank of ``member`` is made from has a ±."""
    bends = any(row.tolerance or row.angle_tolerance for row in member.bends)
    return bool(member.tolerance) or bends or any(map(_is_doubtful, member.ends))


def _is_doubtful(end: End) -> bool:
    """Whether a number of ``end`` has a ±."""
    return bool(end.angle_tolerance) or any(map(in_doubt, end.saddles))


def margin_between(likely: float, least: float, greatest: float) -> Margin:
    """That of a length that is ``likely``, and from ``least`` to ``greatest``."""
    return Margin(max(likely - least, 0.0), max(greatest - likely, 0.0))


def cope_extremes(od: float, one: Saddle, measured: Measured) -> tuple[float, float]:
    """The least and the greatest that a cope onto one straight tube can add between the point measured to and its tip.

    With offset e the saddle is the mirror image of that with -e, so let e be 0 or more. The tip is on the side where
    sin(phi) <= 0, as the distance there, (r·cos(phi)·cos(theta) + sqrt(R² - (r·sin(phi) - e)²)) / sin(theta), is never
    more than on the other; and there it falls as e grows, no slower than on the axis or along its long and short sides,
    where sin(phi) is 0: |r·sin(phi) - e| is at least e, and x / sqrt(R² - x²) grows with x. So the blank grows with
    e, whichever point was measured to.
    """
    if measured is Measured.TIP:
        return 0.0, 0.0
    away, doubt = abs(one.offset), one.offset_tolerance
    low, high = one.angle_deg - one.angle_tolerance, one.angle_deg + one.angle_tolerance
    kinds: tuple[Measured, ...] = (measured,)
    if high > MOST_COPE_DEG:
        # Beyond square the acute angle, and with it the short side, is on the other side.
        low, high = min(low, 180.0 - high), MOST_COPE_DEG
        if measured in (Measured.LONG, Measured.SHORT):
            kinds = (Measured.LONG, Measured.SHORT)
    found, slack = [], []
    for offset in (max(away - doubt, Fraction(0)), away + doubt):
        angles, between = _grid(od, float(one.onto.od), low, high, measured, centred=not offset)
        saddles = [replace(one, angle_deg=angle, offset=offset, turn_deg=0.0) for angle in angles]
        shapes = ends.simple_copes([od] * len(angles), saddles)
        if wrong := next((shape for shape in shapes if isinstance(shape, GeometryError)), None):
            raise wrong
        found.append([to_tip(shape, kind) for shape in shapes for kind in kinds if isinstance(shape, EndShape)])
        slack.append(between)
    return min(found[0]) - slack[0], max(found[1]) + slack[1]


def _grid(
    od: float, onto: float, low: float, high: float, measured: Measured, *, centred: bool
) -> tuple[list[float], float]:
    """The angles to look at, and by how much, in mm, the blank can gain more or less between two of them."""
    if low == high:
        return [low], 0.0
    if centred:
        # By the closed form (see ends._centred_extremes) each distance only rises or only falls up to square.
        return [low, high], 0.0
    fastest = (od + onto) / 2.0 / sin(radians(low)) ** 2 * (1.0 if measured is Measured.CENTRE else 2.0)
    turn = radians(high - low)
    count = min(max(ceil(fastest * turn / 2.0 / _CLOSE_MM) + 1, _FEWEST), _MOST)
    return np.linspace(low, high, count).tolist(), fastest * turn / (count - 1) / 2.0


def range_faults(run: Run, straights: Sequence[Margin], figures: Figures) -> list[Fault]:
    """Straights that, somewhere in their range, would be shorter than their bends need."""
    return [
        Fault(
            one.place,
            f"straight {number} may be {figures.named(margin.less - one.length)} shorter than its bends need",
            cure="narrow the range, or check what it was measured to",
        )
        for number, (one, margin) in enumerate(zip(run.straights, straights, strict=True), 1)
        if run.turns and margin.less > one.length + _HAIR_MM
    ]
