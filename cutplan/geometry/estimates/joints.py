"""How points in doubt move the sides and bends between them, and the places where an end lands.

The bounds are those that :mod:`cutplan.geometry.estimates.points` describes and puts together. Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from math import asin, cos, degrees, inf, radians, sin, sqrt

import numpy as np

from cutplan.geometry import bend
from cutplan.geometry.centreline import coordinates, radii
from cutplan.geometry.errors import GeometryError
from cutplan.geometry.estimates.bends import bend_moved, tip_on
from cutplan.geometry.estimates.lengths import Margin, cope_extremes, margin_between
from cutplan.geometry.estimates.moved_tubes import Numbers, StraightTube
from cutplan.geometry.kernel import saddle_line
from cutplan.geometry.model import EndShape
from cutplan.geometry.placing import Placer
from cutplan.geometry.pointrun import angles_of
from cutplan.geometry.points import Vector, cross, dot, minus, norm, plus, scaled
from cutplan.geometry.saddle import Array
from cutplan.geometry.solid import Target
from cutplan.job.model import LEAST_COPE_DEG, Measured, Member, Point, Saddle, Tube


def moved_by(point: Point) -> float:
    """How far a point may be moved, in mm."""
    return sqrt(sum(float(by) ** 2 for by in point.doubt))


@dataclass(frozen=True, slots=True)
class Side:
    """A side of a member's points: its margin, by how many degrees it may turn at the most, and how far its two points
    may be moved."""

    start: Vector
    way: Vector
    length: float
    margin: Margin
    turn_deg: float
    moved: tuple[float, float]

    def moved_at(self, along: float) -> float:
        """How far the place ``along`` mm into it, or into it prolonged, may be moved."""
        part = along / self.length
        return abs(1.0 - part) * self.moved[0] + abs(part) * self.moved[1]

    @property
    def turned_round(self) -> Side:
        """The same from its other end."""
        end = plus(self.start, scaled(self.way, self.length))
        return replace(self, start=end, way=scaled(self.way, -1.0), moved=(self.moved[1], self.moved[0]))


def sides_of(member: Member) -> list[Side]:
    """Between each point of a member and the next. Raises GeometryError where two may be one."""
    points = zip(member.points, coordinates(member), strict=True)
    return [_side(one, at, other, to) for (one, at), (other, to) in pairwise(points)]


def _side(one: Point, start: Vector, other: Point, end: Vector) -> Side:
    gap = [abs(a - b) for a, b in zip(start, end, strict=True)]
    by = [float(a + b) for a, b in zip(one.doubt, other.doubt, strict=True)]
    least, likely, greatest = (
        sqrt(sum(max(g + sign * b, 0.0) ** 2 for g, b in zip(gap, by, strict=True))) for sign in (-1.0, 0.0, 1.0)
    )
    moved = moved_by(one), moved_by(other)
    swing = sum(moved) / likely
    if swing >= 1.0 or least <= 0.0:
        raise GeometryError("two of its points may be in the same place", cure="narrow their ranges", column="mark")
    way = scaled(minus(end, start), 1.0 / likely)
    return Side(start, way, likely, Margin(likely - least, greatest - likely), degrees(asin(swing)), moved)


@dataclass(frozen=True, slots=True)
class Corner:
    """An inner point: by how much its setback and its arc (less stretch, less both setbacks) may be less and more."""

    setback: float
    back: Margin
    whole: Margin


def corners_of(member: Member, tube: Tube, sides: Sequence[Side]) -> list[Corner]:
    """The inner points of a member. Raises GeometryError where it may double back."""
    found = []
    for i, (angle, radius) in enumerate(zip(angles_of(member, tube), radii(member, tube), strict=True)):
        doubt = sides[i].turn_deg + sides[i + 1].turn_deg
        if angle + doubt >= 180.0:
            raise GeometryError("its points may double back on themselves", cure="narrow their ranges", column="mark")
        low, high = max(angle - doubt, 0.0), angle + doubt
        back = [radius * bend.setback_factor(each) for each in (low, angle, high)]
        arc = [bend.arc(each, radius) - bend.growth(each, float(tube.stretch)) for each in (low, angle, high)]
        whole = [one - 2.0 * other for one, other in zip(arc, back, strict=True)]
        found.append(
            Corner(
                back[1],
                Margin(back[1] - back[0], back[2] - back[1]),
                # Less a stretch it falls all the more.
                Margin(whole[1] - whole[2], whole[0] - whole[1]),
            )
        )
    return found


Line = Callable[[Array], Array]
"""The furthest in that a tube may cut at each turn angle in degrees; minus infinity where it is sure to cut nothing."""

_TURNS = np.arange(0.0, 360.0, 2.0)


@dataclass(frozen=True, slots=True)
class Joint:
    """Where an end lands on a tube, in mm from its last point inwards: ``at``, and how far from there at the most any
    of the tube can be within the member (``reach``, doubts included). ``clear``: of the tube's ends, all doubts
    included. ``slip``: by how much the place itself may be further in or out; ``turn_deg``, ``gaps``: of the angle, and
    between what the axes pass each other, below 0 where that may be on the other side. ``deepest``: on or near a bend,
    where it is not the whole tube that may be cut, how far in any line may be cut."""

    saddle: Saddle
    doubtful: bool
    clear: bool
    at: float
    reach: float
    slip: float = 0.0
    turn_deg: float = 0.0
    gaps: tuple[float, float] = (0.0, 0.0)
    deepest: float | None = None

    @property
    def innermost(self) -> float:
        """How far in any line may be cut."""
        return self.at + self.reach if self.deepest is None else self.deepest

    def margin(self, shape: EndShape, measured: Measured, likely: float) -> Margin:
        """Of a single saddle on a tube that runs on."""
        return margin_between(likely, *self._extremes(shape.od, measured))

    def furthest_out(self, od: float) -> float:
        """Where the tip of a saddle on this tube alone, which runs on, may be at the furthest out."""
        try:
            return -self._extremes(od, Measured.CENTRE)[1]
        except GeometryError:
            return -inf

    def _extremes(self, od: float, measured: Measured) -> tuple[float, float]:
        low, high = (min(Fraction(gap), self._room(od)) for gap in (max(self.gaps[0], 0.0), self.gaps[1]))
        doubted = replace(
            self.saddle,
            offset=(low + high) / 2,
            offset_tolerance=(high - low) / 2,
            angle_tolerance=self.turn_deg,
        )
        least, greatest = cope_extremes(od, doubted, measured)
        if measured is Measured.CENTRE:
            least, greatest = least - self.at - self.slip, greatest - self.at + self.slip
        return least, greatest

    def _room(self, od: float) -> Fraction:
        """How far the axes may pass each other at the most: what misses by more is taken that much nearer."""
        return max(self.saddle.onto.od / 2 - Fraction(od) / 2, Fraction(0))

    def line(self, radius: float, target: Target, shift: float) -> Line:
        """The furthest in that this tube may cut of a member of that radius."""
        if not self.doubtful:
            return lambda phi: saddle_line((target,), phi, radius) + shift
        if self.deepest is not None:
            return lambda phi: np.full(phi.shape, self.innermost)
        room, sign = float(self._room(2.0 * radius)), -1.0 if self.saddle.offset < 0 else 1.0
        near, far = (min(max(sign * gap, -room), room) for gap in self.gaps)
        steep, flat = max(self.saddle.angle_deg - self.turn_deg, LEAST_COPE_DEG), self.saddle.angle_deg + self.turn_deg
        swing = sin(radians(min(self.turn_deg, 90.0))) / sin(radians(self.saddle.angle_deg))
        roll = degrees(asin(swing)) if swing < 1.0 else 180.0
        middle = replace(self.saddle, angle_deg=(steep + flat) / 2.0, offset=Fraction((near + far) / 2.0))
        tube = StraightTube(middle, Numbers((flat - steep) / 2.0, abs(far - near) / 2.0, roll, 0.0, 0.0))
        return lambda phi: tube.reach(phi, np.full(phi.shape, radius)).most + self.at + self.slip


def furthest_in(lines: Sequence[Line]) -> float:
    """How far in the tip may be at the most, given what each tube can cut; infinity where that gives no limit."""
    most = np.maximum.reduce([line(_TURNS) for line in lines])
    return float(np.min(most[np.isfinite(most)], initial=np.inf))


def straight_joint(side: Side, shape: EndShape, one: Saddle, other: Member, at: float, placer: Placer) -> Joint | None:
    """On a straight of a tube; None: the saddle may be on a bend of it."""
    tube = placer.job.tube(other.tube)
    here = plus(side.start, scaled(side.way, at))
    sides = sides_of(other)
    number = min(range(len(sides)), key=lambda i: _distance(here, sides[i]))
    mine = sides[number]
    along = dot(minus(here, mine.start), mine.way)
    turn = side.turn_deg + mine.turn_deg
    steep = max(one.angle_deg - turn, LEAST_COPE_DEG)
    lean = sin(radians(steep))
    square = cross(side.way, mine.way)
    gap = abs(dot(minus(here, mine.start), square)) / norm(square)
    mine_moved, its_moved = side.moved_at(at), mine.moved_at(along)
    moved = mine_moved + its_moved
    apart, near = gap + moved, gap - moved
    flat = cos(radians(steep))
    turned = sin(radians(min(side.turn_deg, 90.0))) + flat * sin(radians(min(mine.turn_deg, 90.0)))
    slip = (gap * turned + its_moved * lean + flat * mine_moved) / lean**2
    reach = (shape.od + float(one.onto.od)) / 2.0 / lean
    # However the points are moved, the saddle along the other tube is within this much of where it is now.
    span = reach + slip + moved
    corners = corners_of(other, tube, sides)
    before = corners[number - 1].setback + corners[number - 1].back.more if number else 0.0
    after = corners[number].setback + corners[number].back.more if number < len(corners) else 0.0
    room = (along - before, mine.length - along - after)
    if (number and room[0] < span) or (number < len(corners) and room[1] < span):
        return None
    return Joint(one, True, min(room) >= span, at, reach + slip, slip, turn, (near, apart))


def bend_joint(
    side: Side, shape: EndShape, one: Saddle, other: Member, target: Target, shift: float, placer: Placer
) -> Joint:
    """On a bend of a tube, or so near one that the saddle may be on it."""
    tube = placer.job.tube(other.tube)
    sides = sides_of(other)
    moved = max(moved for each in sides for moved in each.moved)
    corners = zip(other.points[1:-1], angles_of(other, tube), radii(other, tube), pairwise(sides), strict=True)
    for point, angle, radius, (before, after) in corners:
        moved = max(moved, bend_moved(moved_by(point), radius, angle, before.turn_deg + after.turn_deg))
    tip = tip_on(target, shape.od / 2.0, moved, lambda z: side.moved_at(z + shift), side.turn_deg)
    at, reach = (tip.low + tip.high) / 2.0 + shift, (tip.high - tip.low) / 2.0
    return Joint(one, True, False, at, reach, deepest=tip.deepest + shift)


def _distance(point: Vector, side: Side) -> float:
    along = min(max(dot(minus(point, side.start), side.way), 0.0), side.length)
    return norm(minus(point, plus(side.start, scaled(side.way, along))))
