"""What meets at a node: which tube runs through it, which land on it, and which two halve a corner.

A tube that goes on beyond the node runs through. Of those that end there the first in order runs up to it and the
others land on all before them: the higher rank first, then the wider (a wide tube cannot be saddled onto a narrow one),
the bent, with a mirror what is alike on both sides, the longer. Two of one size that are first, with none running
through, are mitred. A member lands only on what its end could touch. Lengths in mm. Method: vector geometry; the order
is common practice, no source.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import cos, radians

from cutplan.geometry.centreline import Stretch, closest
from cutplan.geometry.figures import Figures, trimmed
from cutplan.geometry.points import Vector, angle_between, dot, scaled
from cutplan.geometry.touching import Arrival, Key, Passing, Touch
from cutplan.job.faults import Fault, Place, Remark, listed
from cutplan.job.model import LEAST_COPE_DEG, MOST_MITRE_DEG, Cut, End, Job, Member, Onto, Saddle
from cutplan.job.stages import reached

Ends = Mapping[str, tuple[End, End]]
"""Both ends of members, by mark."""

_STRAIGHT_ON_DEG = 0.1
"""Two tubes that end together and turn by no more than this are one line: both are square."""
_NEAR_MM = 1e-6
_LEANS_DEG = 0.5
"""A foot this far from upright stands on its edge when it is cut square."""


@dataclass(slots=True)
class Meeting:
    """The ends of all members, from what meets at their nodes. ``courses``: centrelines by mark; ``at``: the nodes."""

    job: Job
    members: Sequence[Member]
    courses: Mapping[str, Sequence[Stretch]]
    at: Mapping[str, Vector]
    figures: Figures
    faults: list[Fault] = field(init=False, default_factory=list)
    remarks: list[Remark] = field(init=False, default_factory=list)
    _lands: dict[str, set[str]] = field(init=False)
    _onto: dict[Key, list[Member]] = field(init=False, default_factory=dict)
    _mitred: dict[Key, Arrival] = field(init=False, default_factory=dict)
    _halved: list[tuple[Arrival, ...]] = field(init=False, default_factory=list)
    """Pairs of ends that are mitred with nothing said of either."""
    _touch: Touch = field(init=False)
    _order: dict[str, tuple[float, ...]] = field(init=False)

    def __post_init__(self) -> None:
        self._touch = Touch(self.job, self.courses, self.at, self.within, self._onto, self._mitred)
        self._order = {member.mark: self._key(number, member) for number, member in enumerate(self.members)}
        self._lands = {member.mark: set() for member in self.members}
        for member in self.members:
            for end in member.ends:
                self._lands[member.mark] |= {one.onto.member for one in end.saddles if one.onto.member in self._lands}

    def ends(self) -> Ends:
        """Of every member that runs from node to node."""
        places = self._arrivals()
        passing = {name: self._passing(name, arrivals) for name, arrivals in places.items()}
        # What runs through cannot give way, so it is settled before any order among those that end.
        for name, arrivals in places.items():
            self._onto_passing(name, arrivals, passing[name])
        for name, arrivals in places.items():
            self._among(name, arrivals, passing[name])
        self._remark_alone(places, passing)
        self._remark_corners(places)
        self._remark_mitres()
        made: dict[str, list[End]] = {}
        for name, arrivals in places.items():
            for one in arrivals:
                if one.free:
                    ends = made.setdefault(one.member.mark, [one.member.end_a, one.member.end_b])
                    ends["ab".index(one.name)] = self._end(name, one, arrivals, passing[name])
        return {mark: (ends[0], ends[1]) for mark, ends in made.items()}

    def _key(self, number: int, member: Member) -> tuple[float, ...]:
        """Small for what comes first at a node."""
        route, tube = member.route, self.job.tube(member.tube)
        course = self.courses.get(member.mark, ())
        bent = any(piece.radius is not None for piece in course)
        # The two sides of a pair are equally long but for the last figure.
        length = round(sum(piece.length for piece in course), 2)
        return -(route.rank if route else 0), -float(tube.od), not bent, self._one_sided(member), -length, number

    def _one_sided(self, member: Member) -> bool:
        """Whether a member has no mirror image: it gives way to what has, which is then alike on both sides."""
        if self.job.settings.mirror is None or member.hand is not None or member.route is None:
            return False
        images = {node.name: node.image for node in self.job.nodes}
        flipped = tuple(images[name] for name in member.route.nodes)
        return member.route.nodes not in (flipped, flipped[::-1])

    def _arrivals(self) -> dict[str, list[Arrival]]:
        """The ends at each node, the first in order first; what ends short of its node is not there."""
        found: defaultdict[str, list[Arrival]] = defaultdict(list)
        for member in self.members:
            course = self.courses.get(member.mark)
            if member.route is None or not course:
                continue
            last = course[-1]
            ways = (course[0].way, scaled(last.at(last.length)[1], -1.0))
            for number, name in ((0, "a"), (-1, "b")):
                if member.route.past[number] == 0:
                    free = member.route.free[number]
                    found[member.route.nodes[number]].append(Arrival(member, name, ways[number], free))
        for arrivals in found.values():
            # An end that is cut as its row says does not give way, unless it is to land on something itself.
            arrivals.sort(key=lambda one: (one.free or one.end.cut is Cut.COPE, self._order[one.member.mark]))
        return dict(found)

    def _passing(self, name: str, arrivals: Sequence[Arrival]) -> list[Passing]:
        """What runs on through a node or close beside it, the nearest first; the first in order of those at it."""
        point, here = self.at[name], {one.member.mark for one in arrivals}
        widest = max(float(self.job.tube(member.tube).od) for member in self.members)
        found = []
        for member in self.members:
            course = self.courses.get(member.mark)
            if not course or member.mark in here:
                continue
            near = closest(course, point)
            past = member.route is not None and any(
                member.route.nodes[k] == name and member.route.past[k] > 0 for k in (0, -1)
            )
            if near.gap <= widest and near.past <= (0.0 if past else -self.within):
                found.append(Passing(member, near.gap, near.way, near.point))
        return sorted(found, key=lambda one: (one.gap > self.within, self._order[one.member.mark]))

    @property
    def within(self) -> float:
        """The tolerance, in mm."""
        return float(self.job.settings.meet_within) + _NEAR_MM

    def _onto_passing(self, name: str, arrivals: Sequence[Arrival], passing: Sequence[Passing]) -> None:
        for one in arrivals:
            if not one.free:
                continue
            place = self._place(one)
            room = {two.member.mark: self._touch.radius(two.member) - self._touch.radius(one.member) for two in passing}
            landed = [two for two in passing if two.gap <= self.within + max(room[two.member.mark], 0.0)]
            self._onto[one.key] = [two.member for two in landed]
            for two in landed:
                mark, onto = one.member.mark, two.member.mark
                if self._too_flat(one, two.way, onto, name, both=True):
                    continue
                if mark in self._reached(onto):
                    rule = f"ends at {name} on {onto}, which runs through there and lands on {mark} itself"
                    cure = f"let {onto} or {mark} land on an outside diameter, or move a node"
                    self._fault(one, Fault(place, rule, mark, cure))
                    continue
                self._lands[mark].add(onto)
                if two.gap > self.within:
                    text = f"{mark} lands on {onto} {self.figures.about(two.gap)} off its centre"
                    self._remark(one, Remark(place, f"{text}, as the node {name} is that far from its axis"))
        if all(one.free and not self._onto[one.key] for one in arrivals):
            self._beside(arrivals[0], name, passing, alone=len(arrivals) == 1)

    def _beside(self, one: Arrival, name: str, passing: Sequence[Passing], *, alone: bool) -> None:
        """Ends at a node, and a tube so close by that they were meant to land there, but cannot: a lone end that
        touches it, or several whose node is inside it."""
        for two in sorted(passing, key=lambda each: each.gap):
            if two.gap >= self._touch.radius(two.member) + (self._touch.radius(one.member) if alone else 0.0):
                continue
            spot = ", ".join(f"{axis} {self.figures.length(c)}" for axis, c in zip("xyz", two.point, strict=True))
            rule = f"ends at {name}, {self.figures.about(two.gap)} beside the axis of {two.member.mark}"
            cure = f"measure {name} again, or move it onto that axis (nearest point: {spot}), or clear of the tube"
            self._fault(one, Fault(self._place(one), f"{rule}: too far off centre for a saddle", one.member.mark, cure))
            return

    def _remark_alone(self, places: Mapping[str, Sequence[Arrival]], passing: Mapping[str, Sequence[Passing]]) -> None:
        """Ends whose cells are blank, at nodes where no other tube is: feet, or slips."""
        alone = [
            (name, arrivals[0])
            for name, arrivals in places.items()
            if len(arrivals) == 1 and not passing[name] and arrivals[0].free and not arrivals[0].member.mirror_of
        ]
        if alone:
            ends = listed([f"{one.member.mark} at {name}" for name, one in alone])
            self.remarks.append(Remark(Place("Members"), f"cut square, as no other tube is at the node: {ends}"))
        floor = min((point[2] for point in self.at.values()), default=0.0)
        if feet := [one for name, one in alone if self.at[name][2] - floor <= self.within and _leans(one.inward)]:
            ends = listed([f"onto {one.name} of {one.member.mark}" for one in feet])
            text = f"for feet that stand flat on the floor, write z={self.figures.length(floor)} under {ends}"
            leaning = "it leans, and is cut square" if len(feet) == 1 else "they lean, and are cut square"
            self.remarks.append(Remark(Place("Members"), f"{text}: {leaning} so far"))

    def _remark_corners(self, places: Mapping[str, Sequence[Arrival]]) -> None:
        """Tubes that end at the corner of a bend, which is in the air: they were meant to land on the bend."""
        for name, arrivals in places.items():
            for bent in self.members:
                if bent.route is None or name not in bent.route.nodes[1:-1] or bent.mirror_of:
                    continue
                near = closest(self.courses[bent.mark], self.at[name])
                here = [one.member.mark for one in arrivals if one.free and not one.member.mirror_of]
                if near.gap <= self._touch.radius(bent) + self.within or not here:
                    continue
                spot = self.figures.place(near.point)
                text = (
                    f"{listed(here)} {'ends' if len(here) == 1 else 'end'} at {name}, a corner of {bent.mark}, which "
                    f"is in the air, {self.figures.about(near.gap)} off the axis of its bend: to land on the bend, "
                    f"give that place a node of its own (next to {name} on the axis: {spot})"
                )
                self.remarks.append(Remark(arrivals[0].member.place, text))

    def _remark_mitres(self) -> None:
        """Corners that are mitred though nothing was written of it: a steep one, as of an eye, is seldom meant."""
        said = []
        for one, other in self._halved:
            twins = one.member.mark == other.member.mirror_of or other.member.mark == one.member.mirror_of
            if not twins and (one.member.mirror_of or other.member.mirror_of):
                continue
            angle = angle_between(one.inward, scaled(other.inward, -1.0)) / 2.0
            if angle > _STRAIGHT_ON_DEG:
                ends = [f"{each.member.mark} {each.name}" for each in (one, other)]
                said.append(f"{' with '.join(ends)} ({trimmed(angle, 1)}°)")
        if said:
            text = f"mitred, as two of one size end there and nothing runs through: {listed(said)}"
            self.remarks.append(Remark(Place("Members"), f"{text}; a higher rank of one makes the other land on it"))

    def _among(self, name: str, arrivals: Sequence[Arrival], passing: Sequence[Passing]) -> None:
        """Which of those that end at a node land on which, and which two are mitred."""
        through = any(two.gap <= self.within for two in passing)
        pair = () if through else self._corner(arrivals)
        # A tube beside the node that both land on, off its centre, runs through as well.
        pair = () if any(self._onto.get(one.key) for one in pair) else pair
        if pair and all(one.free for one in pair):
            self._halved.append(pair)
        self._mitred |= {one.key: other for one, other in zip(pair, reversed(pair), strict=True) if one.free}
        for k, later in enumerate(arrivals):
            for earlier in arrivals[:k]:
                if later in pair and earlier in pair:
                    continue
                lands, on = later, earlier
                if later.member.mark in self._reached(earlier.member.mark) or not later.free:
                    lands, on = earlier, later
                if not lands.free or lands.key in self._mitred or on.member.mark == lands.member.mark:
                    continue
                if self._too_flat(lands, on.inward, on.member.mark, name, both=False):
                    continue
                if lands.member.mark in self._reached(on.member.mark):
                    continue  # They land on each other elsewhere: what is in the way is reported.
                self._onto.setdefault(lands.key, []).append(on.member)
                self._lands[lands.member.mark].add(on.member.mark)

    def _corner(self, arrivals: Sequence[Arrival]) -> tuple[Arrival, ...]:
        """The two ends that halve the corner of a node that nothing runs through."""
        mitred = [one for one in arrivals if one.end.cut is Cut.MITRE and one.end.plate is None and not one.free]
        free = [one for one in arrivals if one.free and one.end.cut is not Cut.COPE]
        first = (mitred or free)[:1]
        second = [one for one in free if one not in first][:1] if len(mitred) < 2 else mitred[1:2]
        if not first or not second or (not mitred and arrivals[:2] != [*first, *second]):
            return ()
        one, two = first[0], second[0]
        same = self.job.tube(one.member.tube).od == self.job.tube(two.member.tube).od
        if not mitred and (not same or self._order[one.member.mark][0] != self._order[two.member.mark][0]):
            return ()
        return (one, two) if angle_between(one.inward, two.inward) >= 180.0 - 2.0 * MOST_MITRE_DEG else ()

    def _too_flat(self, one: Arrival, way: Vector, onto: str, name: str, *, both: bool) -> bool:
        """Whether an end runs too much along another tube to be saddled; ``both``: that goes on both ways."""
        between = angle_between(one.inward, way)
        angle = min(between, 180.0 - between)
        if angle >= LEAST_COPE_DEG:
            return False
        if both or between < 90.0:
            rule = f"runs along {onto} at {name}, {trimmed(angle, 1)} degrees from it: too flat for a saddle"
            cure = f"end one of the two at another node; {LEAST_COPE_DEG:g} degrees is the least"
            self._fault(one, Fault(self._place(one), rule, one.member.mark, cure))
        return True

    def _reached(self, mark: str) -> set[str]:
        """All that a member lands on, directly or through others."""
        return reached(mark, self._lands)

    def _end(self, name: str, one: Arrival, arrivals: Sequence[Arrival], passing: Sequence[Passing]) -> End:
        """As it is cut."""
        measured = one.end.measured
        other = self._mitred.get(one.key)
        if other is not None:
            if dot(one.inward, other.inward) < -cos(radians(_STRAIGHT_ON_DEG)):
                return End(measured=measured)
            return End(Cut.MITRE, measured=measured, from_points=True)
        onto = self._touch.touched(name, one, arrivals, passing)
        if not onto:
            return End(measured=measured)
        saddles = tuple(Saddle(Onto(self.job.tube(member.tube).od, member.mark, member.mark)) for member in onto)
        return End(Cut.COPE, saddles=saddles, measured=measured, from_points=True)

    @staticmethod
    def _place(one: Arrival) -> Place:
        return one.member.place.at("from" if one.name == "a" else "to")

    def _fault(self, one: Arrival, fault: Fault) -> None:
        if not one.member.mirror_of:
            self.faults.append(fault)

    def _remark(self, one: Arrival, remark: Remark) -> None:
        if not one.member.mirror_of:
            self.remarks.append(remark)


def _leans(inward: Vector) -> bool:
    """Whether a tube goes up from its end, but not straight up."""
    return _LEANS_DEG < angle_between(inward, (0.0, 0.0, 1.0)) <= MOST_MITRE_DEG
