"""Members that run from node to node: where each goes, and how its ends are cut by what meets it there.

A node within the tolerance of a tube's centreline that passes it is moved onto that. Which tube runs through a node and
which lands there is settled in :mod:`cutplan.geometry.meeting`. What comes of it are members with points and with ends
that name what they land on, as :mod:`cutplan.geometry.placing` takes them. Lengths in mm. Method: vector geometry.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import pairwise
from math import inf

from cutplan.geometry.centreline import Stretch, centreline, closest
from cutplan.geometry.errors import GeometryError
from cutplan.geometry.figures import Figures
from cutplan.geometry.halves import Images, both_sides, mirrored_end, mirrored_point, reflected
from cutplan.geometry.meeting import Ends, Meeting
from cutplan.geometry.plates import face_of, flat_end
from cutplan.geometry.points import PointError, Vector, cross, dot, minus, norm, plus, scaled, unit
from cutplan.job.faults import Fault, Place, Remark, listed
from cutplan.job.model import End, Job, Member, Node, Plane, Point

_SWEEPS = 4
_MOVED_MM = 1e-6
_LEAST_REMARKED_MM = 0.05
_EXACT = 10**6
"""A node that is moved is on a millionth of a millimetre."""


@dataclass(frozen=True, slots=True)
class Settled:
    """A job whose members all have points, lengths or bends, and ends; with what is wrong and what should be known."""

    job: Job
    faults: tuple[Fault, ...] = ()
    remarks: tuple[Remark, ...] = ()
    moved: Mapping[str, str] = field(default_factory=dict)
    """By node that was moved onto a tube, of two sides the one that was measured: that one's mark."""


def settled(job: Job) -> Settled:
    """``job`` with every member by nodes worked out, and both sides of its mirror. The same job where that is done, or
    there are none."""
    return _Frame(job).settled() if _open(job) else Settled(job)


def _open(job: Job) -> bool:
    mirrored = job.settings.mirror is not None
    return any(
        (member.route is not None and not member.route.laid) or (mirrored and member.pair and bool(member.points))
        for member in job.members
    )


@dataclass(slots=True)
class _Frame:
    """The nodes where they end up, and the members between them."""

    job: Job
    figures: Figures = field(init=False)
    at: dict[str, Vector] = field(init=False)
    corners: dict[str, Vector] = field(init=False, default_factory=dict)
    """The nodes before any is moved onto a tube."""
    members: list[Member] = field(init=False)
    courses: dict[str, list[Stretch]] = field(init=False, default_factory=dict)
    nodes: dict[str, Node] = field(init=False)
    onto: dict[str, str] = field(init=False, default_factory=dict)
    """By moved node, what it was moved onto: a mark, or nothing for the mirror's plane."""
    faults: list[Fault] = field(init=False, default_factory=list)
    remarks: list[Remark] = field(init=False, default_factory=list)

    def __post_init__(self) -> None:
        self.figures = Figures(self.job.settings.units)
        self.nodes = {node.name: node for node in self.job.nodes}
        self.at = {node.name: node.xyz for node in self.job.nodes}
        self.members = list(both_sides(self.job))

    @property
    def within(self) -> float:
        return float(self.job.settings.meet_within)

    def settled(self) -> Settled:
        self._refuse_near_nodes()
        self._refuse_both_sides()
        self._into_the_plane()
        self.corners = dict(self.at)
        order = sorted(self.members, key=self._strength)
        for _ in range(_SWEEPS):
            if not self._sweep(order):
                break
        self._lay()
        if self.faults:
            return self._result()
        meeting = Meeting(self.job, self.members, self.courses, self.at, self.figures)
        found = meeting.ends()
        self.faults += meeting.faults
        self.remarks += [*self._moves(), *meeting.remarks]
        self._remark_bent_feet()
        self.members = [self._ended(member, found) for member in self.members]
        if self.job.settings.mirror is not None and not self.faults:
            self._mirror(self.job.settings.mirror)
        return self._result()

    def _result(self) -> Settled:
        nodes = []
        for node in self.job.nodes:
            if node.name in self.onto:
                x, y, z = map(_exact, self.at[node.name])
                node = replace(node, x=x, y=y, z=z)
            nodes.append(node)
        job = replace(self.job, members=tuple(self.members), nodes=tuple(nodes))
        moved = {name: onto for name, onto in self.onto.items() if onto and not self._right(name)}
        return Settled(job, tuple(dict.fromkeys(self.faults)), tuple(dict.fromkeys(self.remarks)), moved)

    def _refuse_near_nodes(self) -> None:
        """Two names for one place would leave tubes unjoined."""
        nodes = [node for node in self.job.nodes if not self._right(node.name)]
        for i, node in enumerate(nodes):
            for other in nodes[:i]:
                gap = norm(minus(self.at[node.name], self.at[other.name]))
                if gap <= self.within:
                    where = f"row {other.place.row}"
                    rule = f"is {self.figures.about(gap)} from {other.name} in {where}, so tubes would not meet there"
                    self.faults.append(Fault(node.place.at("name"), rule, node.name, "use one name for both"))

    def _refuse_both_sides(self) -> None:
        """With a mirror one half is measured; what was measured on the other would be there twice."""
        mirror = self.job.settings.mirror
        if mirror is None:
            return
        off = [(self.at[name][mirror.axis.number] - float(mirror.at), node) for name, node in self.nodes.items()]
        halves = [[node for by, node in off if by * sign > 0 and self._measured(node)] for sign in (1.0, -1.0)]
        fewer, more = sorted(halves, key=len)
        for node in fewer:
            rule = f"is on the other side of the mirror from {listed([one.name.removesuffix('-L') for one in more])}"
            cure = "measure one half only: the other is its mirror image"
            self.faults.append(Fault(node.place.at("name"), rule, node.name.removesuffix("-L"), cure))

    def _measured(self, node: Node) -> bool:
        """Whether a node is off the mirror's plane, and the one of the two that was measured."""
        return node.image != node.name and not self._right(node.name)

    def _right(self, name: str) -> bool:
        """Whether a node is the mirror image of one that was measured, and follows it."""
        return self.job.settings.mirror is not None and name.endswith("-R") and self.nodes[name].image != name

    def _into_the_plane(self) -> None:
        mirror = self.job.settings.mirror
        for name, node in self.nodes.items():
            if mirror is None or node.image != name:
                continue
            there = self._flat(self.at[name], mirror)
            if norm(minus(there, self.at[name])) > _MOVED_MM:
                self.at[name], self.onto[name] = there, ""

    @staticmethod
    def _flat(point: Vector, mirror: Plane) -> Vector:
        at = list(point)
        at[mirror.axis.number] = float(mirror.at)
        return at[0], at[1], at[2]

    def _strength(self, member: Member) -> tuple[float, ...]:
        """Small for those that other nodes are moved onto first: wide tubes, then long ones."""
        tube = self.job.tube(member.tube)
        return -float(tube.od), -round(_span(member), 1)

    def _sweep(self, order: Sequence[Member]) -> bool:
        """Move nodes onto the tubes that pass them; whether any moved."""
        moved = False
        by_mark = {member.mark: k for k, member in enumerate(self.members)}
        for member in order:
            if not member.points:
                continue
            self._draw(by_mark[member.mark])
            course = self.courses.get(member.mark)
            if course is None:
                continue
            ends = () if member.route is None else (member.route.nodes[0], member.route.nodes[-1])
            for name, point in self.at.items():
                taken = self.onto.get(name, member.mark) not in (member.mark, "")
                if name in ends or self._right(name) or taken:
                    continue
                near = closest(course, point)
                if not _MOVED_MM < near.gap <= self.within or near.past > 0.0:
                    continue
                self._move(name, near.point, member.mark)
                moved = True
        return moved

    def _move(self, name: str, point: Vector, onto: str) -> None:
        mirror, image = self.job.settings.mirror, self.nodes[name].image
        if mirror is not None and image == name:
            point = self._flat(point, mirror)
        elif mirror is not None:
            self.at[image], self.onto[image] = reflected(point, mirror, way=False), onto
        self.at[name], self.onto[name] = point, onto

    def _lay(self) -> None:
        """The members' points as they now are, the right ones the mirror images of the left, to the last figure."""
        by_mark: dict[str, Member] = {}
        for number, member in enumerate(self.members):
            self._draw(number, reported=True)
            drawn = self.members[number]
            if member.mirror_of and self.job.settings.mirror is not None:
                twin = by_mark[member.mirror_of]
                points = tuple(mirrored_point(point, self.job.settings.mirror) for point in twin.points)
                self.members[number] = drawn = replace(drawn, points=points)
            by_mark[member.mark] = drawn

    def _draw(self, number: int, *, reported: bool = False) -> None:
        """A member's points from its nodes, and its centreline; its faults are noted where ``reported``."""
        member = self.members[number]
        if not member.points:
            return
        tube = self.job.tube(member.tube)
        self.courses.pop(member.mark, None)
        if member.route is not None:
            member = self.members[number] = replace(member, points=self._points(member))
        try:
            self.courses[member.mark] = centreline(member, tube)
        except PointError as error:
            if reported and member.route is not None and not member.mirror_of:
                place = member.place.at("via")
                self.faults.append(replace(error.fault(place, self.figures), place=place))

    def _points(self, member: Member) -> tuple[Point, ...]:
        """From its first node to its last, less those on the way that it passes in a straight line."""
        route = member.route
        assert route is not None
        # A bend is where its two straights would cross, however near to its arc the joint there may be moved.
        first, *inner, last = route.nodes
        places = [self.at[first], *(self.corners[name] for name in inner), self.at[last]]
        stops = list(zip(places, (None, *route.radii, None), strict=True))
        kept = [stops[k] for k in corners_kept(places, self.within)]
        ends = [
            _beyond(end, other, float(past))
            for (end, _), (other, _), past in zip((kept[0], kept[-1]), (kept[1], kept[-2]), route.past, strict=True)
        ]
        clr = self.job.tube(member.tube).clr
        bends = [(at, radius or clr) for at, radius in kept[1:-1]]
        return tuple(
            Point(_exact(x), _exact(y), _exact(z), radius, member.place)
            for (x, y, z), radius in ((ends[0], None), *bends, (ends[1], None))
        )

    def _moves(self) -> list[Remark]:
        remarks = []
        for name, onto in self.onto.items():
            node = self.nodes[name]
            gap = norm(minus(self.at[name], node.xyz))
            if self._right(name) or gap < _LEAST_REMARKED_MM:
                continue
            where = f"the axis of {onto}" if onto else "the mirror's plane"
            shown = name.removesuffix("-L") if node.image != name else name
            text = f"{shown} is {self.figures.about(gap)} off {where} and was moved onto it"
            remarks.append(Remark(node.place.at("name"), text))
        return remarks

    def _ended(self, member: Member, found: Ends) -> Member:
        ends = found.get(member.mark)
        if ends is not None:
            member = replace(member, end_a=ends[0], end_b=ends[1])
        if member.route is not None:
            member = replace(member, route=replace(member.route, laid=True))
        return self._with_square_feet(member)

    def _remark_bent_feet(self) -> None:
        """Ends flush with a plane of tubes that are bent after they are cut; not those that are left long already."""
        feet = [
            f"{member.mark} {name}"
            for member in self.members
            if len(member.points) > 2 and not member.mirror_of
            for name in "ab"
            if (beyond := self._beyond(member, name)) is not None and beyond <= self.within
        ]
        if feet:
            text = (
                f"cut flat before the tube is bent: {listed(feet)}; a bend is seldom true to a millimetre, so to trim "
                "such an end after bending, leave it long: write a plane further out (z=-20 in place of z=0), and mark "
                "where other tubes land, measured from the sawn end, before you trim it"
            )
            self.remarks.append(Remark(Place("Members"), text))

    def _beyond(self, member: Member, name: str) -> float | None:
        """How far beyond its last point the plane of an end is; None: it has none, or one that is no good."""
        plate = member.end(name).plate
        if plate is None:
            return None
        last, before = (member.points[0], member.points[1]) if name == "a" else (member.points[-1], member.points[-2])
        inward = unit(minus(before.xyz, last.xyz))
        try:
            _, shift, _ = flat_end(face_of(plate, self.at, self.within), name, last.xyz, inward)
        except GeometryError:
            return None  # reported where the end is placed
        return -shift

    def _with_square_feet(self, member: Member) -> Member:
        """An end flat on a plate that its tube is square to is a square one."""
        if len(member.points) < 2:
            return member
        if (foot := self._foot(member.end_a, member.points[0], member.points[1])) is not None:
            end_a = End(measured=member.end_a.measured)
            member = replace(member, points=(foot, *member.points[1:]), end_a=end_a)
        if (foot := self._foot(member.end_b, member.points[-1], member.points[-2])) is not None:
            end_b = End(measured=member.end_b.measured)
            member = replace(member, points=(*member.points[:-1], foot), end_b=end_b)
        return member

    def _foot(self, end: End, last: Point, before: Point) -> Point | None:
        """Where the ``last`` point of a tube that is square to the plate at this end meets it; None: it is not square,
        or what is wrong is reported where the end is placed (no plane, or one beyond the other end)."""
        if end.plate is None:
            return None
        way = minus(before.xyz, last.xyz)
        try:
            face = face_of(end.plate, self.at, self.within)
        except GeometryError:
            return None
        up = face.up(way)
        shift = dot(minus(face.point, last.xyz), up)
        if norm(cross(way, face.normal)) > 1e-6 * norm(way) or shift >= norm(way):
            return None
        at = plus(last.xyz, scaled(up, shift))
        old = (last.x, last.y, last.z)
        x, y, z = (_exact(new) if part else was for part, new, was in zip(up, at, old, strict=True))
        return replace(last, x=x, y=y, z=z)

    def _mirror(self, mirror: Plane) -> None:
        """Take the right members for the mirror images of the left, but for those that are not."""
        images = Images(self.members, mirror)
        by_mark = {member.mark: member for member in self.members}
        differ: list[str] = []
        # What is landed on need not be the image in every detail: its other end may be cut another way.
        swap = {mark: image for mark in by_mark if (image := images.across(mark)) is not None}
        for number, member in enumerate(self.members):
            if not member.mirror_of:
                continue
            left = by_mark[member.mirror_of]
            if images.of(member.mark) is not None:
                end_a, end_b = (mirrored_end(end, mirror, swap) for end in left.ends)
                self.members[number] = replace(member, end_a=end_a, end_b=end_b)
                continue
            self.members[number] = replace(member, mirror_of="")
            differ.append(left.mark.removesuffix("-L"))
        if differ:
            text = (
                f"left and right of {listed(differ)} are not mirror images of each other: where both meet, one lands "
                "on the other, or a tube on one side alone is in the way"
            )
            self.remarks.append(Remark(Place("Members"), text))


def corners_kept(places: Sequence[Vector], within: float) -> list[int]:
    """Which of the places from end to end a member goes by, less those on the way that it passes in a straight line."""
    kept = [0]
    for k in range(1, len(places) - 1):
        if _beside(places[k], places[kept[-1]], places[k + 1]) > within:
            kept.append(k)
    return [*kept, len(places) - 1]


def _beyond(end: Vector, other: Vector, past: float) -> Vector:
    """``end`` so many mm further on from ``other``."""
    way = minus(end, other)
    return plus(end, scaled(unit(way), past)) if past and norm(way) else end


def _beside(point: Vector, one: Vector, other: Vector) -> float:
    """How far ``point`` is off the straight between two others; infinite where it is not between them."""
    way = minus(other, one)
    length = norm(way)
    if length < _MOVED_MM:
        return inf
    along = dot(minus(point, one), way) / length
    if not 0.0 <= along <= length:
        return inf
    return norm(minus(point, plus(one, scaled(way, along / length))))


def _span(member: Member) -> float:
    return sum(norm(minus(b.xyz, a.xyz)) for a, b in pairwise(member.points))


def _exact(value: float) -> Fraction:
    return Fraction(round(value * _EXACT), _EXACT)
