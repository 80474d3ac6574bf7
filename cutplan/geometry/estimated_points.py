"""How long a blank given by points may come out where points are in doubt: its own, or those of what it lands on.

Every coordinate may lie anywhere in its own range. A bound is put together from what each part can do at most:

* the distance of two points is a norm, so its extremes are those of each coordinate's difference by itself;
* a side turns by at most asin((d1 + d2) / length), where d1 and d2 are how far its two points may be moved;
* a bend adds its arc less both setbacks, which falls as it turns more;
* an end that lands on tubes ends where they are, and not at its own last point, which only leads its axis there. Let
  the member's axis pass its old landing place at p, and the other tube's axis at q; u and v are unit vectors along
  them. The axes come nearest (q·u + cos(theta)·p·v) / sin^2(theta) further along, for p is square to u and q to v. What
  of q comes of the other tube's being moved by e counts for e·(u - cos(theta)·v), at most |e|·sin(theta); the gap that
  was there before, which was square to both, counts only by as much as they turn;
* at one straight tube that runs on, the saddle is that of :mod:`cutplan.geometry.estimates`, over its ranges of angle
  and offset; at several tubes :mod:`cutplan.geometry.doubtful_nodes` says how far in the tip may lie, and those that
  run on how far out; at the end of one tube, or where these say nothing, no point of the tubes within the member lies
  further along it than (R + r) / sin(theta) from where the axes come nearest; on or near a bend
  :mod:`cutplan.geometry.doubtful_bends` says how far.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import pairwise
from math import asin, cos, degrees, inf, radians, sin, sqrt

import numpy as np

from cutplan.geometry import bend, ends
from cutplan.geometry.centreline import end_axis, end_of
from cutplan.geometry.derivation import to_tip
from cutplan.geometry.doubtful_bends import bend_moved, tip_on
from cutplan.geometry.doubtful_nodes import Doubted, Line, furthest_in
from cutplan.geometry.errors import GeometryError
from cutplan.geometry.estimates import Margin, at_end, cope_extremes, margin_between
from cutplan.geometry.kernel import saddle_line
from cutplan.geometry.landing import coordinates, radii
from cutplan.geometry.model import EndShape
from cutplan.geometry.placing import PlacedEnd, Placer
from cutplan.geometry.pointrun import angles_of
from cutplan.geometry.points import Vector, cross, dot, minus, norm, plus, scaled
from cutplan.geometry.run import Run
from cutplan.geometry.solid import Target
from cutplan.job.model import Cut, Measured, Member, Point, Saddle, Tube
from cutplan.job.schema import LEAST_COPE_DEG, MOST_MITRE_DEG


def points_in_doubt(member: Member, placer: Placer) -> bool:
    """Whether a point of ``member`` has a ±, or one of what its ends land on by their points."""
    if not member.points:
        return False
    return any(_moved(one) for each in (member, *_landed_on(member, placer)) for one in each.points)


def _landed_on(member: Member, placer: Placer) -> Iterator[Member]:
    for name in ("a", "b"):
        end = end_of(member, name)
        if end.from_points and end.cut is Cut.COPE:
            yield from (other for one in end.saddles if (other := placer.member(one.onto.member)) is not None)
        elif end.from_points:
            yield from (other for other, _ in _partners(member, name, placer))


def _partners(member: Member, name: str, placer: Placer) -> list[tuple[Member, str]]:
    """The ends that halve a corner with this mitred one, as :meth:`Placer.corner` finds them."""
    points = {point for point, _ in placer.corner(member, name)}
    return [
        (other, at)
        for other in placer.job.members
        for at in ("a", "b")
        if len(other.points) > 1
        and end_of(other, at).cut is Cut.MITRE
        and (other.mark, at) != (member.mark, name)
        and end_axis(other, at)[0] in points
    ]


def _moved(point: Point) -> float:
    """How far a point may be moved, in mm."""
    return sqrt(sum(float(by) ** 2 for by in point.doubt))


_NEAR_MM = 1_000.0
"""No landing place lies further from the last point than this."""


@dataclass(frozen=True, slots=True)
class _Side:
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
    def turned_round(self) -> _Side:
        """The same from its other end."""
        end = plus(self.start, scaled(self.way, self.length))
        return replace(self, start=end, way=scaled(self.way, -1.0), moved=(self.moved[1], self.moved[0]))


def _sides(member: Member) -> list[_Side]:
    points = zip(member.points, coordinates(member), strict=True)
    return [_side(one, at, other, to) for (one, at), (other, to) in pairwise(points)]


def _side(one: Point, start: Vector, other: Point, end: Vector) -> _Side:
    gap = [abs(a - b) for a, b in zip(start, end, strict=True)]
    by = [float(a + b) for a, b in zip(one.doubt, other.doubt, strict=True)]
    least, likely, greatest = (
        sqrt(sum(max(g + sign * b, 0.0) ** 2 for g, b in zip(gap, by, strict=True))) for sign in (-1.0, 0.0, 1.0)
    )
    moved = _moved(one), _moved(other)
    swing = sum(moved) / likely
    if swing >= 1.0 or least <= 0.0:
        raise GeometryError("two of its points may be in the same place", cure="narrow their ranges", column="mark")
    way = scaled(minus(end, start), 1.0 / likely)
    return _Side(start, way, likely, Margin(likely - least, greatest - likely), degrees(asin(swing)), moved)


@dataclass(frozen=True, slots=True)
class _Corner:
    """An inner point: by how much its setback and its arc (less stretch, less both setbacks) may be less and more."""

    setback: float
    back: Margin
    whole: Margin


def _corners(member: Member, tube: Tube, sides: Sequence[_Side]) -> list[_Corner]:
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
            _Corner(
                back[1],
                Margin(back[1] - back[0], back[2] - back[1]),
                # Less a stretch it falls all the more.
                Margin(whole[1] - whole[2], whole[0] - whole[1]),
            )
        )
    return found


@dataclass(frozen=True, slots=True)
class PointDoubt:
    """Works out the margins of members given by points."""

    placer: Placer
    near_bends: list[str] = field(default_factory=list)
    """What a member was found to land on at a bend, or next to one."""

    def margin_of(
        self,
        member: Member,
        tube: Tube,
        run: Run,
        shapes: Sequence[EndShape],
        placed: Mapping[str, PlacedEnd],
        reaches: Sequence[float],
    ) -> tuple[Margin, tuple[Margin, ...]]:
        """As :func:`cutplan.geometry.estimates.margin_of`. ``placed``: its ends that come from points.

        Raises GeometryError for a doubt that cannot be worked out.
        """
        sides = _sides(member)
        corners = _corners(member, tube, sides)
        at = [
            self._at_end(member, name, side, shape, placed.get(name), run)
            for name, side, shape in zip("ab", (sides[0], sides[-1].turned_round), shapes, strict=True)
        ]
        landed = [_is_landed(member, name, placed) for name in "ab"]
        sides[0], sides[-1] = _landed(sides[0], sides[-1], *landed) if len(sides) > 1 else _between(sides[0], *landed)
        inner = sum((one.whole for one in corners), sum((side.margin for side in sides), Margin()))
        straights = tuple(_straights(member, run, sides, corners))
        whole = inner + at[0] + at[1]
        if run.turns:
            for number, end, reach in ((0, at[0], reaches[0]), (-1, at[1], reaches[1])):
                edge, likely = straights[number] + end, run.straights[number].length + reach
                whole += _gripped(float(tube.grip), likely, edge)
        return whole, straights

    def _at_end(
        self, member: Member, name: str, side: _Side, shape: EndShape, placed: PlacedEnd | None, run: Run
    ) -> Margin:
        end = end_of(member, name)
        if placed is None or end.cut is Cut.SQUARE:
            straight = run.straights[0 if name == "a" else -1].length
            return at_end(name, end, shape, straight, self.placer)
        if end.cut is Cut.MITRE:
            halves = _partners(member, name, self.placer)
            partners = [_sides(other)[0 if at == "a" else -1].turn_deg for other, at in halves]
            doubt = (side.turn_deg + max(partners, default=0.0)) / 2.0
            low, high = max(shape.angle_deg - doubt, 0.0), min(shape.angle_deg + doubt, MOST_MITRE_DEG)
            likely, *tried = (
                to_tip(ends.mitre(shape.od, angle), end.measured) for angle in (shape.angle_deg, low, high)
            )
            return margin_between(likely, min(tried), max(tried))
        joints = list(self._joints(member, side, shape, placed))
        if not any(one.doubtful for one in joints):
            return Margin()
        likely = to_tip(shape, end.measured) - (placed.shift if end.measured is Measured.CENTRE else 0.0)
        if len(joints) == 1 and placed.plain and joints[0].clear:
            return joints[0].margin(shape, end.measured, likely)
        low, high = min(one.at - one.reach for one in joints), max(one.innermost for one in joints)
        if end.measured is Measured.CENTRE:
            if len(joints) == 1:
                high = joints[0].at + joints[0].reach
            if len(joints) > 1:
                radius = shape.od / 2.0
                lines = [one.line(radius, target, placed.shift) for one, target in _with_targets(joints, placed)]
                low = max([low, *(one.furthest_out(shape.od) for one in joints if one.doubtful and one.clear)])
                high = min(high, furthest_in(lines))
            return margin_between(likely, -high, -low)
        return margin_between(likely, 0.0, high - low)

    def _joints(self, member: Member, side: _Side, shape: EndShape, placed: PlacedEnd) -> Iterator[_Joint]:
        shifts = placed.shifts or (0.0,) * len(placed.end.saddles)
        for one, more, target in zip(placed.end.saddles, shifts, placed.targets, strict=True):
            other = self.placer.member(one.onto.member)
            assert other is not None  # it was placed by the other's points
            at = placed.shift + more
            doubtful = any(side.moved) or any(map(_moved, other.points))
            if not doubtful:
                yield _Joint(one, False, True, at, (shape.od + float(one.onto.od)) / 2.0 / sin(radians(one.angle_deg)))
                continue
            straight = None if one.onto.clr is not None else _joint(side, shape, one, other, at, self.placer)
            if straight is None:
                self.near_bends.append(one.onto.name)
            yield straight or _near_a_bend(side, shape, one, other, target, placed.shift, self.placer)


def _is_landed(member: Member, name: str, placed: Mapping[str, PlacedEnd]) -> bool:
    """Whether an end ends where the tubes are that it lands on."""
    end = end_of(member, name)
    return name in placed and end.cut is Cut.COPE and end.measured is Measured.CENTRE


def _landed(first: _Side, last: _Side, at_a: bool, at_b: bool) -> tuple[_Side, _Side]:
    """The sides at both ends, the landed ones with the margin that their inner point alone makes."""
    return (
        _shortened(first, first.moved[1]) if at_a else first,
        _shortened(last, last.moved[0]) if at_b else last,
    )


def _between(only: _Side, at_a: bool, at_b: bool) -> tuple[_Side, _Side]:
    """The same of a straight member's one side."""
    by = sum(moved for moved, landed in zip(only.moved, (at_a, at_b), strict=True) if not landed)
    return (_shortened(only, by),) * 2 if at_a or at_b else (only, only)


def _shortened(side: _Side, moved: float) -> _Side:
    """A side whose one point may be ``moved`` and which turns about the other: by its turn it only grows shorter."""
    lean = 1.0 - cos(radians(side.turn_deg))
    return replace(side, margin=Margin(moved + (side.length + _NEAR_MM) * lean, moved))


@dataclass(frozen=True, slots=True)
class _Joint:
    """Where an end lands on a tube, in mm from its last point inwards: ``at``, and how far from there at the most any
    of the tube can lie within the member (``reach``, doubts included). ``clear``: of the tube's ends, whatever the
    doubts. ``slip``: by how much the place itself may lie further in or out; ``turn_deg``, ``gaps``: of the angle, and
    between what the axes pass each other, less than nothing where that may be on the other side. ``deepest``: on or
    near a bend, where it is not the whole tube that may be cut, how far in any line may be cut."""

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
        """Where the tip of a saddle on this tube alone, which runs on, may lie at the furthest out."""
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
        swing = sin(radians(min(self.turn_deg, 90.0))) / sin(radians(self.saddle.angle_deg))
        return Doubted(
            radius,
            float(self.saddle.onto.od) / 2.0,
            self.at,
            self.slip,
            (self.saddle.angle_deg - self.turn_deg, self.saddle.angle_deg + self.turn_deg),
            (min(near, far), max(near, far)),
            self.saddle.turn_deg,
            degrees(asin(swing)) if swing < 1.0 else 180.0,
        ).furthest


def _with_targets(joints: Sequence[_Joint], placed: PlacedEnd) -> Iterator[tuple[_Joint, Target]]:
    return zip(joints, placed.targets, strict=True)


def _joint(side: _Side, shape: EndShape, one: Saddle, other: Member, at: float, placer: Placer) -> _Joint | None:
    """On a straight of a tube; None: the saddle may come to lie on a bend of it."""
    tube = placer.job.tube(other.tube)
    here = plus(side.start, scaled(side.way, at))
    sides = _sides(other)
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
    # Along the other tube, whatever is moved, the saddle lies within this much of where it is now.
    span = reach + slip + moved
    corners = _corners(other, tube, sides)
    before = corners[number - 1].setback + corners[number - 1].back.more if number else 0.0
    after = corners[number].setback + corners[number].back.more if number < len(corners) else 0.0
    room = (along - before, mine.length - along - after)
    if (number and room[0] < span) or (number < len(corners) and room[1] < span):
        return None
    return _Joint(one, True, min(room) >= span, at, reach + slip, slip, turn, (near, apart))


def _near_a_bend(
    side: _Side, shape: EndShape, one: Saddle, other: Member, target: Target, shift: float, placer: Placer
) -> _Joint:
    """On a bend of a tube, or so near one that the saddle may come to lie on it."""
    tube = placer.job.tube(other.tube)
    sides = _sides(other)
    moved = max(moved for each in sides for moved in each.moved)
    corners = zip(other.points[1:-1], angles_of(other, tube), radii(other, tube), pairwise(sides), strict=True)
    for point, angle, radius, (before, after) in corners:
        moved = max(moved, bend_moved(_moved(point), radius, angle, before.turn_deg + after.turn_deg))
    tip = tip_on(target, shape.od / 2.0, moved, lambda z: side.moved_at(z + shift), side.turn_deg)
    at, reach = (tip.low + tip.high) / 2.0 + shift, (tip.high - tip.low) / 2.0
    return _Joint(one, True, False, at, reach, deepest=tip.deepest + shift)


def _distance(point: Vector, side: _Side) -> float:
    along = min(max(dot(minus(point, side.start), side.way), 0.0), side.length)
    return norm(minus(point, plus(side.start, scaled(side.way, along))))


def _straights(member: Member, run: Run, sides: Sequence[_Side], corners: Sequence[_Corner]) -> Iterator[Margin]:
    """Of the straights between tangent points. A corner that does not turn is no bend, unless it is moved."""
    bends = [i for i, one in enumerate(corners) if one.setback > 0.0]
    stops = [-1, *bends, len(corners)]
    for start, end in pairwise(stops):
        found = sum((side.margin for side in sides[start + 1 : end + 1]), Margin())
        for i in range(max(start, 0), min(end + 1, len(corners))):
            times = 1 if i in (start, end) else 2
            for _ in range(times):
                found += Margin(corners[i].back.more, corners[i].back.less)
        yield found


def _gripped(grip: float, likely: float, edge: Margin) -> Margin:
    """What lengthening an end straight, likely so long, to the bender's grip may come to less and more."""
    least, now, most = (max(grip - each, 0.0) for each in (likely + edge.more, likely, likely - edge.less))
    return Margin(now - least, most - now)
