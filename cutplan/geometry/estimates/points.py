"""How long a blank given by points may come out where points are in doubt: its own, or those of what it lands on.

Every coordinate may be anywhere in its own range. A bound is put together from what each part can do at most:

* the distance of two points is a norm, so its extremes are those of each coordinate's difference by itself;
* a side turns by at most asin((d1 + d2) / length), where d1 and d2 are how far its two points may be moved;
* a bend adds its arc less both setbacks, which falls as it turns more;
* an end that lands on tubes ends where they are, and not at its own last point, which only leads its axis there. Let
  the member's axis pass its old landing place at p, and the other tube's axis at q; u and v are unit vectors along
  them. The axes come nearest (q·u + cos(theta)·p·v) / sin^2(theta) further along, for p is square to u and q to v. What
  of q comes of the other tube's being moved by e counts for e·(u - cos(theta)·v), at most |e|·sin(theta); the gap that
  was there before, which was square to both, counts only by as much as they turn;
* at one straight tube that runs on, the saddle is that of :mod:`cutplan.geometry.estimates.lengths`, over its ranges
  of angle and offset; at several tubes the tip is never further out than that of a saddle on any one of them that runs
  on, and never further in than the furthest that any of them can cut on one line, whichever line that is: the saddle
  with each number where it cuts most, by interval arithmetic (Moore, *Interval Analysis*, 1966; see
  :mod:`cutplan.geometry.estimates.moved_tubes`); at the end of one tube, or where these give no bound, no point of the
  tubes within the member is further along it than (R + r) / sin(theta) from where the axes come nearest; on or near a
  bend :mod:`cutplan.geometry.estimates.bends` says how far.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from math import cos, radians, sin

from cutplan.geometry import ends
from cutplan.geometry.centreline import end_axis
from cutplan.geometry.derivation import to_tip
from cutplan.geometry.estimates.joints import (
    Corner,
    Joint,
    Side,
    bend_joint,
    corners_of,
    furthest_in,
    moved_by,
    sides_of,
    straight_joint,
)
from cutplan.geometry.estimates.lengths import Margin, at_end, margin_between
from cutplan.geometry.model import EndShape
from cutplan.geometry.placing import PlacedEnd, Placer
from cutplan.geometry.run import Run
from cutplan.job.model import MOST_MITRE_DEG, Cut, Measured, Member, Tube


def points_in_doubt(member: Member, placer: Placer) -> bool:
    """Whether a point of ``member`` has a ±, or one of what its ends land on by their points."""
    if not member.points:
        return False
    return any(moved_by(one) for each in (member, *_landed_on(member, placer)) for one in each.points)


def _landed_on(member: Member, placer: Placer) -> Iterator[Member]:
    for name in ("a", "b"):
        end = member.end(name)
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
        and other.end(at).cut is Cut.MITRE
        and (other.mark, at) != (member.mark, name)
        and end_axis(other, at)[0] in points
    ]


_NEAR_MM = 1_000.0
"""No landing place is further from the last point than this."""


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
        """As :func:`cutplan.geometry.estimates.lengths.margin_of`. ``placed``: its ends that come from points.

        Raises GeometryError for a doubt that cannot be worked out.
        """
        sides = sides_of(member)
        corners = corners_of(member, tube, sides)
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
        self, member: Member, name: str, side: Side, shape: EndShape, placed: PlacedEnd | None, run: Run
    ) -> Margin:
        end = member.end(name)
        if placed is None or end.cut is Cut.SQUARE:
            straight = run.straights[0 if name == "a" else -1].length
            return at_end(name, end, shape, straight, self.placer)
        if end.cut is Cut.MITRE:
            halves = _partners(member, name, self.placer)
            partners = [sides_of(other)[0 if at == "a" else -1].turn_deg for other, at in halves]
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
            else:
                radius, tubes = shape.od / 2.0, zip(joints, placed.targets, strict=True)
                lines = [one.line(radius, target, placed.shift) for one, target in tubes]
                low = max([low, *(one.furthest_out(shape.od) for one in joints if one.doubtful and one.clear)])
                high = min(high, furthest_in(lines))
            return margin_between(likely, -high, -low)
        return margin_between(likely, 0.0, high - low)

    def _joints(self, member: Member, side: Side, shape: EndShape, placed: PlacedEnd) -> Iterator[Joint]:
        shifts = placed.shifts or (0.0,) * len(placed.end.saddles)
        for one, more, target in zip(placed.end.saddles, shifts, placed.targets, strict=True):
            other = self.placer.member(one.onto.member)
            assert other is not None  # it was placed by the other's points
            at = placed.shift + more
            doubtful = any(side.moved) or any(map(moved_by, other.points))
            if not doubtful:
                yield Joint(one, False, True, at, (shape.od + float(one.onto.od)) / 2.0 / sin(radians(one.angle_deg)))
                continue
            straight = None if one.onto.clr is not None else straight_joint(side, shape, one, other, at, self.placer)
            if straight is None:
                self.near_bends.append(one.onto.name)
            yield straight or bend_joint(side, shape, one, other, target, placed.shift, self.placer)


def _is_landed(member: Member, name: str, placed: Mapping[str, PlacedEnd]) -> bool:
    """Whether an end ends where the tubes are that it lands on."""
    end = member.end(name)
    return name in placed and end.cut is Cut.COPE and end.measured is Measured.CENTRE


def _landed(first: Side, last: Side, at_a: bool, at_b: bool) -> tuple[Side, Side]:
    """The sides at both ends, the landed ones with the margin that their inner point alone makes."""
    return (
        _shortened(first, first.moved[1]) if at_a else first,
        _shortened(last, last.moved[0]) if at_b else last,
    )


def _between(only: Side, at_a: bool, at_b: bool) -> tuple[Side, Side]:
    """The same of a straight member's one side."""
    by = sum(moved for moved, landed in zip(only.moved, (at_a, at_b), strict=True) if not landed)
    return (_shortened(only, by),) * 2 if at_a or at_b else (only, only)


def _shortened(side: Side, moved: float) -> Side:
    """A side whose one point may be ``moved`` and which turns about the other: by its turn it only grows shorter."""
    lean = 1.0 - cos(radians(side.turn_deg))
    return replace(side, margin=Margin(moved + (side.length + _NEAR_MM) * lean, moved))


def _straights(member: Member, run: Run, sides: Sequence[Side], corners: Sequence[Corner]) -> Iterator[Margin]:
    """Of the straights between tangent points. A corner that does not turn is no bend, unless it is moved."""
    bends = [i for i, one in enumerate(corners) if one.setback > 0.0]
    stops = [-1, *bends, len(corners)]
    for start, end in pairwise(stops):
        found = sum((side.margin for side in sides[start + 1 : end + 1]), Margin())
        for i in range(max(start, 0), min(end + 1, len(corners))):
            times = 1.0 if i in (start, end) else 2.0
            found += Margin(times * corners[i].back.more, times * corners[i].back.less)
        yield found


def _gripped(grip: float, likely: float, edge: Margin) -> Margin:
    """What lengthening an end straight, likely so long, to the bender's grip may come to less and more."""
    least, now, most = (max(grip - each, 0.0) for each in (likely + edge.more, likely, likely - edge.less))
    return Margin(now - least, most - now)
