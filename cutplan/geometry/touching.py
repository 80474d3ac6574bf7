"""What of several tubes at a node the end of one could touch: not what is hidden behind others that are there.

Lengths in mm. Method: lines all over the end, followed to the first tube they enter (:mod:`cutplan.geometry.kernel`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import radians, tan

import numpy as np

from cutplan.geometry.centreline import Stretch, closest
from cutplan.geometry.kernel import first_entry
from cutplan.geometry.points import Vector, angle_between, any_normal, cross
from cutplan.geometry.saddle import around
from cutplan.geometry.solid import Frame, Piece, Saddled, Target, seen_from
from cutplan.job.model import LEAST_COPE_DEG, Cut, End, Job, Member

Key = tuple[str, str]
"""An end: its member's mark, and "a" or "b"."""
_PROUD_MM = 0.01
"""What sticks out of the rest by less than this is not cut for: common practice, no source."""
_LINES = 48


@dataclass(frozen=True, slots=True)
class Arrival:
    """An end of a member at a node: ``inward``, the unit vector from the node into it."""

    member: Member
    name: str
    inward: Vector
    free: bool

    @property
    def key(self) -> Key:
        """The end by which it is known."""
        return self.member.mark, self.name

    @property
    def end(self) -> End:
        """As it was read."""
        return self.member.end(self.name)


@dataclass(frozen=True, slots=True)
class Passing:
    """A member that runs on through a node, ``gap`` mm beside it, ``way`` there."""

    member: Member
    gap: float
    way: Vector
    point: Vector


@dataclass(frozen=True, slots=True)
class Touch:
    """What the ends at a node could touch of what they come after there (``onto``: by end). ``mitred``: the other half
    of a corner, by end; ``within``: the tolerance, in mm. Both grow while the ends are settled."""

    job: Job
    courses: Mapping[str, Sequence[Stretch]]
    at: Mapping[str, Vector]
    within: float
    onto: Mapping[Key, Sequence[Member]]
    mitred: Mapping[Key, Arrival]

    def radius(self, member: Member) -> float:
        """Of its tube, in mm."""
        return float(self.job.tube(member.tube).od) / 2.0

    def touched(
        self, name: str, one: Arrival, arrivals: Sequence[Arrival], passing: Sequence[Passing]
    ) -> Sequence[Member]:
        """Of what an end comes after at its node, what it could touch: not what is hidden behind a tube that is there
        for certain, as it runs through or is square or mitred."""
        onto = self.onto.get(one.key, [])
        if len(onto) < 2:
            return onto
        radius = self.radius(one.member)
        frame = self._frame(name, one)
        by_mark = {each.member.mark: each for each in arrivals}
        certain, sure = self._certain(name, one, arrivals, passing)
        kept = dict.fromkeys(sure, True)
        doubtful: list[tuple[str, Target]] = []
        for member in onto:
            other = by_mark.get(member.mark)
            if other is not None and member.mark not in kept:
                doubtful.append((member.mark, seen_from(frame, self._coped(name, other, arrivals, passing))))
        # Lines all over the end.
        phi = np.arange(_LINES) * 360.0 / _LINES
        x, y = around(radius * np.repeat((1.0, 0.8, 0.4), _LINES), np.tile(phi, 3))
        hidden = first_entry(certain, x, y) + _PROUD_MM
        for mark, target in doubtful:
            # What is cut from it takes longer, and is looked at only where the tube as a whole is not hidden.
            rod = replace(target, pieces=tuple(replace(piece, saddles=()) for piece in target.pieces))
            out = np.nonzero(first_entry((rod,), x, y) > hidden)[0]
            kept[mark] = bool(out.size and (first_entry((target,), x[out], y[out]) > hidden[out]).any())
        return [member for member in onto if kept[member.mark]]

    def _frame(self, name: str, one: Arrival) -> Frame:
        side = any_normal(one.inward)
        return Frame(self.at[name], side, cross(one.inward, side), one.inward)

    def _certain(
        self, name: str, one: Arrival, arrivals: Sequence[Arrival], passing: Sequence[Passing]
    ) -> tuple[tuple[Target, ...], set[str]]:
        """Of what an end comes after, what is there for certain, in the end's frame, with the marks of all such."""
        frame, by_mark = self._frame(name, one), {each.member.mark: each for each in arrivals}
        found, marks = [], set()
        for member in self.onto.get(one.key, ()):
            other = by_mark.get(member.mark)
            if other is None:
                two = next(each for each in passing if each.member.mark == member.mark)
                found.append(seen_from(frame, self._through(two)))
            elif self.onto.get(other.key) or other.end.saddles:
                continue
            elif (back := self._mitre_back(other, arrivals)) is not None:
                found.append(seen_from(frame, self._ending(name, other, back)))
            marks.add(member.mark)
        return tuple(found), marks

    def _coped(self, name: str, one: Arrival, arrivals: Sequence[Arrival], passing: Sequence[Passing]) -> Target:
        """A coped tube as far as it is known: at least what is there for certain is cut from it."""
        whole = self._ending(name, one, -self._over(one))
        certain, _ = self._certain(name, one, arrivals, passing)
        if not certain:
            return whole
        cut = (Saddled(self._frame(name, one), certain),)
        return replace(whole, pieces=tuple(replace(piece, saddles=cut) for piece in whole.pieces))

    def _through(self, two: Passing) -> Target:
        """A tube that runs through, as far as it is straight or one bend there."""
        course = self.courses[two.member.mark]
        near = closest(course, two.point)
        return Target(self.radius(two.member), (course[near.number].piece,))

    def _ending(self, name: str, one: Arrival, begins: float) -> Target:
        """The straight of a tube that ends at a node, from ``begins`` mm into it."""
        course = self.courses[one.member.mark]
        length = (course[0] if one.name == "a" else course[-1]).length
        rod = Piece(self.at[name], one.inward, begins, max(length, begins))
        return Target(self.radius(one.member), (rod,))

    def _mitre_back(self, one: Arrival, arrivals: Sequence[Arrival]) -> float | None:
        """How far from its node on a mitred end is whole again; 0 for a square one; None: not known."""
        other = self.mitred.get(one.key)
        if other is None:
            return 0.0 if one.end.cut is Cut.SQUARE else None
        return self.radius(one.member) * tan(radians(90.0 - angle_between(one.inward, other.inward) / 2.0))

    def _over(self, one: Arrival) -> float:
        """How far a coped end may reach beyond its node, on the far side of what it lands on."""
        leans = [90.0]
        for member in self.onto.get(one.key, ()):
            way = closest(self.courses[member.mark], self._node(one)).way
            lean = angle_between(one.inward, way)
            leans.append(min(lean, 180.0 - lean))
        return self.radius(one.member) / tan(radians(max(min(leans), LEAST_COPE_DEG))) + 2.0 * self.within

    def _node(self, one: Arrival) -> Vector:
        route = one.member.route
        assert route is not None
        return self.at[route.nodes[0 if one.name == "a" else -1]]
