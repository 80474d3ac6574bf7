"""The ends of a member whose angles come from coordinates: what they land on, as it is, and the turn between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from cutplan.geometry import landing as landings
from cutplan.geometry.errors import GeometryError
from cutplan.geometry.figures import MILLIMETRES
from cutplan.geometry.kernel import near_side
from cutplan.geometry.landing import Landing, coordinates, turned_landings
from cutplan.geometry.points import Lra, Pose, Vector, carried, cross, minus, norm, plus, scaled, turn_between
from cutplan.geometry.run import measured_run
from cutplan.geometry.solid import Frame, Target, seen_from
from cutplan.geometry.tubes import (
    EndCut,
    free_cut,
    mitred_cut,
    near_part,
    no_cut,
    pieces_of,
    saddled_cut,
    straight_through,
)
from cutplan.job.model import Cut, End, Job, Member, Tube


@dataclass(frozen=True, slots=True)
class PlacedEnd:
    """An end with its saddles found. ``shift``: from the member's last point to where its axis comes nearest the
    first tube's, in mm, inwards positive; ``shifts``: of each saddle's from the first's; ``acute``: unit vector to
    the first saddle's short side; ``frame``: the end's own, in the job's coordinates; ``targets``: the tubes landed on
    as they are, in that frame; ``plain``: one tube alone, straight and going on for as far as the saddle reaches."""

    end: End
    shift: float
    shifts: tuple[float, ...]
    acute: Vector
    frame: Frame
    targets: tuple[Target, ...]
    plain: bool


@dataclass(slots=True)
class Placer:
    """Places the ends of a job's members that are given by points, each once."""

    job: Job
    _members: dict[str, Member] = field(init=False)
    _tubes: dict[str, Tube] = field(init=False)
    _courses: dict[str, list[landings.Piece]] = field(init=False, default_factory=dict)
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
            # Who comes back here has gone in a circle, which is told elsewhere.
            self._placed[key] = GeometryError("lands, by others, on itself", column="onto")
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

    def course(self, member: Member) -> list[landings.Piece]:
        """The centreline of a member given by points, or lying anyhow where it is given by its bends.

        Raises GeometryError where it has neither, or they make none.
        """
        if member.mark not in self._courses:
            tube = self._tubes[member.tube]
            course = landings.centreline(member, tube) if member.points else course_by_rows(member, tube)
            self._courses[member.mark] = course
        return self._courses[member.mark]

    def radius(self, member: Member) -> float:
        """Of its outside, in mm."""
        return float(self._tubes[member.tube].od) / 2.0

    def _place(self, name: str, member: Member) -> PlacedEnd:
        end = end_of(member, name)
        if not member.points:
            raise GeometryError("has no angle, and the member has no points to take it from", column="angle")
        point, inward = end_axis(member, name)
        od = 2.0 * self.radius(member)
        found: list[tuple[Landing, Member]] = []
        for asked in end.saddles:
            other = self.member(asked.onto.member)
            if other is None or not other.points:
                rule = "has no angle, and what it lands on has no points to take it from"
                raise GeometryError(rule, asked.onto.member, "give the angle", "onto")
            tube, course = self._tubes[other.tube], self.course(other)
            found.append((landings.landing(asked, point, inward, name == "a", course, other, tube, od), other))
        way = inward if name == "a" else scaled(inward, -1.0)
        saddles, shifts = turned_landings([one for one, _ in found], way)
        first = found[0][0]
        origin = plus(point, scaled(inward, first.shift))
        frame = Frame(origin, first.acute, cross(way, first.acute), inward)
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
        )

    def _target(self, one: Landing, other: Member, member: Member, name: str, frame: Frame) -> Target:
        """The tube of ``other`` round the landing, in the end's frame."""
        radius, course = self.radius(other), self.course(other)
        far_end = end_of(member, "b" if name == "a" else "a")
        both = any(self.member(each.onto.member) is other for each in far_end.saddles)
        far_point = end_axis(member, "b" if name == "a" else "a")[0] if both else None
        here, reach = near_part(one, course, self.radius(member) + radius, far_point)

        def build(part: float) -> Target:
            ends = (here - reach * part, here + reach * part)
            pieces = pieces_of(course, ends, lambda at: self.cut(other, at))
            return seen_from(frame, Target(radius, pieces, one.saddle.onto.name))

        return near_side(build, self.radius(member), end_straight(member, name))

    def cut(self, member: Member, name: str) -> EndCut:
        """How end ``name`` of a member landed on ends; where it is not square and not given by points, it runs on."""
        end, radius = end_of(member, name), self.radius(member)
        if not member.points:
            return free_cut() if end.cut is Cut.SQUARE else no_cut()
        if end.cut is Cut.MITRE:
            return mitred_cut(end.angle_deg, radius, self._mitre_partners(member, name), end_axis(member, name))
        if end.cut is Cut.COPE:
            try:
                placed = self.placed(name, member)
            except GeometryError:
                return free_cut()
            return saddled_cut(placed.end.saddles, placed.shift, placed.shifts, placed.frame, placed.targets, radius)
        return free_cut()

    def _mitre_partners(self, member: Member, name: str) -> Sequence[tuple[Vector, Vector]]:
        """Last point and direction inwards of the other mitred ends of the job."""
        if self._mitres is None:
            self._mitres = [
                (each.mark + at, *end_axis(each, at))
                for each in self.job.members
                for at in ("a", "b")
                if len(each.points) > 1 and end_of(each, at).cut is Cut.MITRE
            ]
        return [(point, inward) for key, point, inward in self._mitres if key != member.mark + name]


def course_by_rows(member: Member, tube: Tube) -> list[landings.Piece]:
    """The centreline of a member given by its bends, from the origin along x. Raises GeometryError if it has none."""
    run, faults = measured_run(member, tube, MILLIMETRES)
    if faults or not run.turns:
        raise GeometryError(f"{member.mark} has no bends that it could be drawn by", column="onto")
    table = Lra(
        tuple(straight.length for straight in run.straights),
        tuple(turn.angle_deg for turn in run.turns),
        tuple(turn.radius for turn in run.turns),
        (0.0, *(turn.rotation_deg for turn in run.turns[1:])),
    )
    return landings.stretches(table, Pose((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0)))


def end_of(member: Member, name: str) -> End:
    """End ``name`` ("a" or "b") of ``member``."""
    return member.end_a if name == "a" else member.end_b


def end_axis(member: Member, name: str) -> tuple[Vector, Vector]:
    """The last point of end ``name`` and the unit vector from it into the member."""
    ways, points = directions(member), coordinates(member)
    return (points[0], ways[0]) if name == "a" else (points[-1], scaled(ways[-1], -1.0))


def end_straight(member: Member, name: str) -> float:
    """How long the side of a member's points is that ends at ``name``."""
    points = coordinates(member)
    return norm(minus(points[1], points[0]) if name == "a" else minus(points[-2], points[-1]))


def placed_end(name: str, member: Member, job: Job) -> PlacedEnd:
    """One end alone; see :meth:`Placer.placed`."""
    return Placer(job).placed(name, member)


def directions(member: Member) -> list[Vector]:
    """Unit vectors along the sides of a member's points, from end a to end b."""
    points = coordinates(member)
    sides = [minus(after, before) for before, after in pairwise(points)]
    return [scaled(side, 1.0 / norm(side)) for side in sides]


def turn_of(a: PlacedEnd, b: PlacedEnd, member: Member) -> float:
    """Turn of end b's first saddle from end a's about the tube, clockwise seen from end a to end b, -180 to 180."""
    ways = directions(member)
    turn = turn_between(carried(a.acute, ways), b.acute, ways[-1])
    rounded = round(turn, 9)
    return 180.0 if rounded == -180.0 else rounded + 0.0
