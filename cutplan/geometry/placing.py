"""The ends of a member whose angles come from coordinates: what they land on, as it is, and the turn between them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import accumulate
from math import degrees, inf, radians, sin

from cutplan.geometry.centreline import Stretch, centreline, closest, course_by_rows, directions, end_axis, end_straight
from cutplan.geometry.errors import GeometryError
from cutplan.geometry.figures import trimmed
from cutplan.geometry.halves import mirrored_end, reflected
from cutplan.geometry.kernel import near_side
from cutplan.geometry.landing import Landing, landing, turned_landings
from cutplan.geometry.plates import Face, face_of, flat_cut, flat_end
from cutplan.geometry.points import (
    Vector,
    angle_between,
    any_normal,
    carried,
    dot,
    minus,
    norm,
    plus,
    scaled,
    turn_between,
    unit,
)
from cutplan.geometry.saddle import SLACK_MM
from cutplan.geometry.solid import Frame, Target, other_hand, seen_from
from cutplan.geometry.tubes import EndCut, mitred_cut, near_part, pieces_of, saddled_cut, straight_through
from cutplan.job.model import Cut, End, Job, Member, Plane, Plate, Saddle, Tube


@dataclass(frozen=True, slots=True)
class PlacedEnd:
    """An end with its saddles found. ``shift``: from the member's last point to where its axis comes nearest the
    first tube's, in mm, inwards positive; ``shifts``: of each saddle's from the first's; ``acute``: unit vector to
    the first saddle's short side; ``frame``: the end's own, in the job's coordinates; ``targets``: the tubes landed on
    as they are, in that frame; ``plain``: one tube alone, straight and going on for as far as the saddle reaches;
    ``moved``: what is landed on, and by how much in mm its axis was taken nearer than it is by the points."""

    end: End
    shift: float
    shifts: tuple[float, ...]
    acute: Vector
    frame: Frame
    targets: tuple[Target, ...]
    plain: bool
    moved: tuple[tuple[str, float], ...] = ()


@dataclass(slots=True)
class Placer:
    """Places the ends of a job's members that are given by points, each once."""

    job: Job
    _members: dict[str, Member] = field(init=False)
    _tubes: dict[str, Tube] = field(init=False)
    _courses: dict[str, list[Stretch]] = field(init=False, default_factory=dict)
    _placed: dict[tuple[str, str], PlacedEnd | GeometryError] = field(init=False, default_factory=dict)
    _mitres: list[tuple[str, Vector, Vector]] | None = field(init=False, default=None)

    def __post_init__(self) -> None:
        self._members = {mark: each for each in self.job.members for mark in (each.mark, *each.marks)}
        self._tubes = {tube.name: tube for tube in self.job.tubes}

    def placed(self, name: str, member: Member) -> PlacedEnd:
        """End ``name`` ("a" or "b") of ``member``, its saddles worked out from the points of all members.

        Raises GeometryError where the members do not meet or have no points.
        """
        key = (member.mark, name)
        if key not in self._placed:
            # Coming back here means a loop of members, which is reported elsewhere.
            self._placed[key] = GeometryError("lands on itself through other members", column="onto")
            try:
                self._placed[key] = self._place(name, member)
            except GeometryError as error:
                self._placed[key] = error
        found = self._placed[key]
        if isinstance(found, GeometryError):
            raise found
        return found

    def member(self, mark: str | None) -> Member | None:
        """The member called ``mark``, by its own mark or a hand's."""
        return None if mark is None else self._members.get(mark)

    def course(self, member: Member) -> list[Stretch]:
        """The centreline of a member given by points, or in no special place where it is given by its bends.

        Raises GeometryError where it has neither, or they make none.
        """
        if member.mark not in self._courses:
            tube = self._tubes[member.tube]
            course = centreline(member, tube) if member.points else course_by_rows(member, tube)
            self._courses[member.mark] = course
        return self._courses[member.mark]

    def face(self, plate: Plate) -> Face:
        """Where a plate is."""
        at = {node.name: node.xyz for node in self.job.nodes}
        return face_of(plate, at, float(self.job.settings.meet_within))

    def radius(self, member: Member) -> float:
        """Of its outside, in mm."""
        return float(self._tubes[member.tube].od) / 2.0

    def _place(self, name: str, member: Member) -> PlacedEnd:
        end = member.end(name)
        if not member.points:
            raise GeometryError("has no angle, and the member has no points to take it from", column="angle")
        if member.mirror_of and self.job.settings.mirror is not None:
            left = self._members[member.mirror_of]
            return in_the_mirror(self.placed(name, left), end, end_axis(member, name), name, self.job.settings.mirror)
        point, inward = end_axis(member, name)
        if end.cut is Cut.MITRE:
            return self._mitred(end, name, member)
        within = float(self.job.settings.meet_within)
        od = 2.0 * self.radius(member)
        found: list[tuple[Landing, Member]] = []
        for asked in end.saddles:
            other = self.member(asked.onto.member)
            if other is None or not other.points:
                rule = "has no angle, and what it lands on has no points to take it from"
                raise GeometryError(rule, asked.onto.member, "give the angle", "onto")
            tube, course = self._tubes[other.tube], self.course(other)
            made = landing(asked, point, inward, name == "a", course, other, tube, od, within)
            found.append((made, other))
        way = inward if name == "a" else scaled(inward, -1.0)
        saddles, shifts = turned_landings([one for one, _ in found], way)
        for i, (one, other) in enumerate(found):
            refuse_contradiction(end, i, one, saddles[i], self.course(other), within)
        first = found[0][0]
        frame = Frame.of_end(name, plus(point, scaled(inward, first.shift)), first.acute, inward)
        targets = tuple(self._target(one, other, member, name, frame) for one, other in found)
        plain = len(found) == 1 and straight_through(first, self.course(found[0][1]), od / 2.0, targets[0].radius)
        return PlacedEnd(
            replace(end, saddles=saddles, from_points=False),
            first.shift,
            shifts if len(shifts) > 1 else (),
            first.acute,
            frame,
            targets,
            plain,
            tuple((one.saddle.onto.name, norm(one.moved)) for one, _ in found if norm(one.moved) > SLACK_MM),
        )

    def _mitred(self, end: End, name: str, member: Member) -> PlacedEnd:
        """An end that halves the corner with the one other mitred end that its last point meets."""
        point, inward = end_axis(member, name)
        if end.plate is not None:
            angle, shift, frame = flat_end(self.face(end.plate), name, point, inward)
            if shift >= end_straight(member, name):
                beyond = "its first bend" if len(member.points) > 2 else "its other end"
                rule = f"end {name} cannot be cut by its plane, which is beyond {beyond}"
                raise GeometryError(rule, cure=f"check the plane, and which end is {name}", column="onto")
            made = replace(end, angle_deg=angle, from_points=False)
            return PlacedEnd(made, shift, (), frame.x, frame, (), True)
        partners = self.corner(member, name)
        if len(partners) != 1:
            several = "several mitred ends meet" if partners else "no other mitred end meets"
            rule = f"has no angle, and by the points {several} this one"
            raise GeometryError(rule, cure="give the angle", column="angle")
        other, way = partners[0]
        square = minus(way, scaled(inward, dot(inward, way)))
        if norm(square) < 1e-6:
            angle, acute = 0.0, any_normal(inward)
        else:
            angle, acute = 90.0 - angle_between(inward, way) / 2.0, unit(square)
        if end.angles_given and abs(end.angles_given[0] - angle) > CLOSE_DEG:
            rule = f"by the points a mitre of {trimmed(angle, 1)} halves the corner"
            raise GeometryError(rule, trimmed(end.angles_given[0], 3), CLEAR, "angle")
        frame = Frame.of_end(name, point, acute, inward)
        gap = norm(minus(point, other))
        moved = (("the other mitred end", gap),) if gap > SLACK_MM else ()
        made = replace(end, angle_deg=round(angle, 9), from_points=False)
        return PlacedEnd(made, 0.0, (), acute, frame, (), True, moved)

    def _target(self, one: Landing, other: Member, member: Member, name: str, frame: Frame) -> Target:
        """The tube of ``other`` round the landing, in the end's frame."""
        nearer = replace(frame, origin=plus(frame.origin, one.moved))
        radius, course = self.radius(other), self.course(other)
        far = "b" if name == "a" else "a"
        both = any(self.member(each.onto.member) is other for each in member.end(far).saddles)
        far_point = end_axis(member, far)[0] if both else None
        here, reach = near_part(one, course, self.radius(member) + radius, far_point)

        def build(part: float) -> Target:
            ends = (here - reach * part, here + reach * part)
            pieces = pieces_of(course, ends, partial(self.cut, other))
            return seen_from(nearer, Target(radius, pieces, one.saddle.onto.name))

        return near_side(build, self.radius(member), end_straight(member, name))

    def in_the_way(self, name: str, member: Member, placed: PlacedEnd) -> Iterator[Target]:
        """The tubes near an end that it does not land on and that do not land on it, in the end's frame; of two that
        get in each other's way, the earlier in the job's order."""
        radius = self.radius(member)
        landed = [self.member(one.onto.member) for one in placed.end.saddles]
        theta = radians(min(one.angle_deg for one in placed.end.saddles))
        for other in self.job.members:
            if other is member:
                return
            if not other.points or other.pair or any(other is one for one in landed):
                continue
            if any(self.member(one.onto.member) is member for end in other.ends for one in end.saddles):
                continue
            reach = 2.0 * (radius + self.radius(other)) / sin(theta)
            near = closest(self.course(other), placed.frame.origin)
            if near.gap > 2.0 * reach:
                continue
            part = near.along - 2.0 * reach, near.along + 2.0 * reach
            pieces = pieces_of(self.course(other), part, partial(self.cut, other))
            yield seen_from(placed.frame, Target(self.radius(other), pieces, other.mark))

    def cut(self, member: Member, name: str) -> EndCut:
        """How end ``name`` of a member landed on ends; where it is not square and not given by points, it runs on."""
        end, radius = member.end(name), self.radius(member)
        if end.cut is Cut.SQUARE:
            return EndCut()
        if not member.points:
            return EndCut(inf)
        if end.cut is Cut.MITRE and not end.from_points:
            return mitred_cut(end.angle_deg, radius, self._mitre_partners(member, name), end_axis(member, name))
        try:
            placed = self.placed(name, member)
        except GeometryError:
            return EndCut()
        if end.plate is not None:
            return flat_cut(placed.frame, self.face(end.plate), radius)
        if end.cut is Cut.MITRE:
            axis = end_axis(member, name)
            return mitred_cut(placed.end.angle_deg, radius, self._mitre_partners(member, name), axis)
        return saddled_cut(placed.end.saddles, placed.shift, placed.shifts, placed.frame, placed.targets, radius)

    def corner(self, member: Member, name: str) -> list[tuple[Vector, Vector]]:
        """Last point and direction inwards of the other mitred ends that the last point of this one meets."""
        within = float(self.job.settings.meet_within) + SLACK_MM
        point, _ = end_axis(member, name)
        return [one for one in self._mitre_partners(member, name) if norm(minus(point, one[0])) <= within]

    def _mitre_partners(self, member: Member, name: str) -> Sequence[tuple[Vector, Vector]]:
        """Last point and direction inwards of the other mitred ends of the job."""
        if self._mitres is None:
            self._mitres = [
                (each.mark + at, *end_axis(each, at))
                for each in self.job.members
                for at in ("a", "b")
                if len(each.points) > 1 and each.end(at).cut is Cut.MITRE and each.end(at).plate is None
            ]
        return [(point, inward) for key, point, inward in self._mitres if key != member.mark + name]


CLOSE_DEG = 1.0
"""By how much an angle may be out that a person measures beside the points: common practice, no source."""
CLEAR = "correct it, or leave it blank: the points give it"
_CLOSE_SIDE_DEG = 5.0
"""The same of the side from which an end comes at a bend, which is judged by eye."""


def refuse_contradiction(
    end: End, i: int, one: Landing, saddle: Saddle, course: Sequence[Stretch], within: float
) -> None:
    """Refuse what a row says of the ``i``-th saddle of an end and its points, which give ``one``, do not.

    Square on, either way along the tube landed on may be called the short side. Raises GeometryError.
    """
    asked, onto, near = end.saddles[i], one.saddle.onto, one.near
    name = asked.onto.name
    either = saddle.angle_deg > 90.0 - CLOSE_DEG
    if end.angles_given and abs(end.angles_given[i] - saddle.angle_deg) > CLOSE_DEG:
        rule = f"by the points the angle to {name} is {trimmed(saddle.angle_deg, 1)}"
        raise GeometryError(rule, trimmed(end.angles_given[i], 3), CLEAR, "angle")
    if end.offsets_given:
        given = float(end.offsets_given[i])
        if min(abs(given - one.offset), abs(given + one.offset) if either else inf) > within:
            rule = f"by the points the axis of {name} is {{1}} off centre"
            raise GeometryError(rule, "{0}", CLEAR, "offset", (given, one.offset))
    if i and asked.turn_deg and between_deg(asked.turn_deg, saddle.turn_deg) > CLOSE_DEG and not either:
        rule = f"by the points {name} is turned {trimmed(saddle.turn_deg % 360.0, 1)} degrees from the first tube"
        raise GeometryError(rule, f"at {trimmed(asked.turn_deg, 3)}", CLEAR, "onto")
    if asked.onto.bend is None:
        return
    starts = list(accumulate((piece.length for piece in course), initial=0.0))
    at, arc = next((at, one) for at, one in zip(starts, course, strict=False) if one.bend == asked.onto.bend)
    along = starts[near.number] + near.along - at
    # A person calls it the bend as soon as the saddle touches it.
    touches = within + float(saddle.onto.od) / 2.0
    if not -touches <= along <= arc.length + touches:
        lands = f"on bend {onto.bend}" if onto.bend else "on a straight"
        rule = f"by the points this end lands {lands} of {name}"
        raise GeometryError(rule, f"bend {asked.onto.bend}", CLEAR, "onto")
    turned = degrees(along / (arc.radius or inf))
    if asked.onto.arc_deg is not None:
        out = abs(asked.onto.arc_deg - turned)
        if out > CLOSE_DEG and radians(out) * (arc.radius or 0.0) > within:
            rule = f"by the points this end lands {trimmed(turned, 1)} degrees along bend {asked.onto.bend} of {name}"
            raise GeometryError(rule, f"at {trimmed(asked.onto.arc_deg, 3)}", CLEAR, "onto")
    if asked.onto.side_given and onto.bend:
        out = between_deg(asked.onto.side_deg, onto.side_deg)
        if min(out, between_deg(asked.onto.side_deg, -onto.side_deg) if either else inf) > _CLOSE_SIDE_DEG:
            rule = f"by the points this end comes from side {trimmed(onto.side_deg % 360.0, 1)} of bend {onto.bend}"
            raise GeometryError(rule, f"side {trimmed(asked.onto.side_deg, 3)}", CLEAR, "onto")


def between_deg(one_deg: float, other_deg: float) -> float:
    """Degrees between two directions."""
    return abs((one_deg - other_deg + 180.0) % 360.0 - 180.0)


def in_the_mirror(left: PlacedEnd, end: End, axis: tuple[Vector, Vector], name: str, mirror: Plane) -> PlacedEnd:
    """The mirror image of ``left``: ``end`` as it is named there, with the last point and inward direction ``axis``."""
    acute = reflected(left.acute, mirror, way=True)
    frame = Frame.of_end(name, reflected(left.frame.origin, mirror, way=False), acute, axis[1])
    saddles = list(zip(left.end.saddles, end.saddles, strict=True))
    swap = {one.onto.member or "": two.onto.member or "" for one, two in saddles}
    names = {one.onto.name: two.onto.name for one, two in saddles}
    targets = tuple(replace(other_hand(each), name=names.get(each.name, each.name)) for each in left.targets)
    moved = tuple((names.get(onto, onto), mm) for onto, mm in left.moved)
    made = mirrored_end(left.end, mirror, swap)
    return replace(left, end=made, acute=acute, frame=frame, targets=targets, moved=moved)


def turn_of(a: PlacedEnd, b: PlacedEnd, member: Member) -> float:
    """Turn of end b's first saddle from end a's about the tube, clockwise seen from end a to end b, -180 to 180."""
    ways = directions(member)
    turn = turn_between(carried(a.acute, ways), b.acute, ways[-1])
    rounded = round(turn, 9)
    return 180.0 if rounded == -180.0 else rounded + 0.0
