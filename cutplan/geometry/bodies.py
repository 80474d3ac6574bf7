"""Members as finished bodies: a centreline in space, a radius, and the line along which each end is cut.

Lengths in mm, in the job's coordinates for members given by points. A body is what pictures and clearances are worked
out from. Method: vector geometry.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import cos, radians, sin

import numpy as np

from cutplan.geometry.centreline import Stretch, end_axis, stretches
from cutplan.geometry.derivation import to_tip
from cutplan.geometry.ends import end_line
from cutplan.geometry.errors import GeometryError
from cutplan.geometry.figures import MILLIMETRES
from cutplan.geometry.inside import insides
from cutplan.geometry.model import Blank, EndShape
from cutplan.geometry.placing import Placer
from cutplan.geometry.pointrun import points_run
from cutplan.geometry.points import Pose, Vector, any_normal, carried, cross, plus, scaled
from cutplan.geometry.run import measured_run
from cutplan.geometry.saddle import Array
from cutplan.job.model import Cut, Job, Measured, Member

LINES = 72
"""Lines round the tube on which an end is given, evenly from its short side on."""
_RINGS = 9
"""Radii at which an end's cut is known, from the axis out, evenly by the angle whose sine they are of the outside: a
saddle is steepest at the edge."""


@dataclass(frozen=True, slots=True)
class BodyEnd:
    """How a body ends. ``origin`` on its axis; unit vectors ``x`` to the short side (turn angle 0), ``y`` at 90,
    ``z`` inwards. ``lines``: the z of the cut in mm, (rings, turn angles), on the axis first and on the outside last.
    ``cut``: its shape."""

    origin: Vector
    x: Vector
    y: Vector
    z: Vector
    lines: Array
    cut: Cut

    def cut_at(self, points: Array, radius: float) -> tuple[Array, Array]:
        """For ``points`` (n, 3): how far inwards along the axis each is, and where the cut is on its line."""
        gap = points - np.array(self.origin)
        x, y, z = (gap @ np.array(axis) for axis in (self.x, self.y, self.z))
        turn = (np.degrees(np.arctan2(y, x)) % 360.0) * LINES / 360.0
        low = np.floor(turn).astype(int)
        part = turn - low
        low %= LINES
        out = np.arcsin(np.clip(np.hypot(x, y) / radius, 0.0, 1.0)) * (_RINGS - 1) / (np.pi / 2.0)
        ring = np.minimum(np.floor(out).astype(int), _RINGS - 2)
        share = out - ring
        after = (low + 1) % LINES
        corners = [self.lines[k, turned] for k in (ring, ring + 1) for turned in (low, after)]
        inner = corners[0] * (1.0 - part) + corners[1] * part
        outer = corners[2] * (1.0 - part) + corners[3] * part
        most, least = np.maximum.reduce(corners), np.minimum.reduce(corners)
        # Where the cut jumps, from one tube landed on to another, there is metal only beyond both.
        return z, np.where(most - least > radius / 2.0, most, inner * (1.0 - share) + outer * share)


@dataclass(frozen=True, slots=True)
class Body:
    """A finished piece in space. ``course``: its centreline from end a to end b, from the ends' origins."""

    mark: str
    member: str
    radius: float
    course: tuple[Stretch, ...]
    ends: tuple[BodyEnd, BodyEnd]

    def edge(self, name: str, radius: float | None = None) -> Array:
        """The finished end's outer edge, or that of its inside at ``radius``, shape (LINES, 3)."""
        end = self.ends[0 if name == "a" else 1]
        phi = np.radians(np.arange(LINES) * 360.0 / LINES)[:, None]
        round_it = np.cos(phi) * np.array(end.x) + np.sin(phi) * np.array(end.y)
        line, wide = end.lines[-1], self.radius
        if radius is not None:
            wide = radius
            ring = float(np.arcsin(wide / self.radius)) * (_RINGS - 1) / (np.pi / 2.0)
            low = min(int(ring), _RINGS - 2)
            line = end.lines[low] * (low + 1.0 - ring) + end.lines[low + 1] * (ring - low)
        at = np.array(end.origin) + wide * round_it + line[:, None] * np.array(end.z)
        return np.asarray(at, dtype=float)

    def depth(self, points: Array) -> Array:
        """How deep each of ``points`` (n, 3) is in the body, in mm: to its outside or the cut of an end along the
        axis, whichever is less; negative outside."""
        best = np.full(len(points), -np.inf)
        last = len(self.course) - 1
        for number, piece in enumerate(self.course):
            gap = points - np.array(piece.start)
            way = np.array(piece.way)
            if piece.radius is None:
                along = gap @ way
                out = np.linalg.norm(gap - along[:, None] * way, axis=1)
                within = np.full(len(points), np.inf)
                if number > 0:
                    within = np.minimum(within, along)
                if number < last:
                    within = np.minimum(within, piece.length - along)
                deep = np.where(within < -1e-6, -np.inf, self.radius - out)
            else:
                normal = np.array(piece.normal)
                inwards = np.cross(normal, way)
                from_centre = gap - piece.radius * inwards
                ahead, off = from_centre @ way, from_centre @ -inwards
                turn = np.arctan2(ahead, off) * piece.radius
                out = np.hypot(np.hypot(ahead, off) - piece.radius, from_centre @ normal)
                deep = np.where((turn < -1e-6) | (turn > piece.length + 1e-6), -np.inf, self.radius - out)
            for at, end in ((0, self.ends[0]), (last, self.ends[1])):
                if number == at:
                    # Further in than the deepest of its cut by a radius, an end cannot be nearer than the outside.
                    far = float(end.lines.max()) + self.radius
                    near = np.nonzero((points - np.array(end.origin)) @ np.array(end.z) < far)[0]
                    if len(near):
                        z, cut = end.cut_at(points[near], self.radius)
                        deep[near] = np.minimum(deep[near], z - cut)
            best = np.maximum(best, deep)
        return best


def round_tube(way: Array, count: int) -> Array:
    """Unit vectors square to ``way``, evenly round it, (count, 3)."""
    across = np.cross(way, np.eye(3)[int(np.argmin(np.abs(way)))])
    across /= np.linalg.norm(across)
    phi = np.arange(count)[:, None] * 2.0 * np.pi / count
    return np.asarray(np.cos(phi) * across + np.sin(phi) * np.cross(way, across))


def bodies_in_place(job: Job, blanks: Sequence[Blank], placer: Placer | None = None) -> Iterator[Body]:
    """The members of ``job`` that are given by points, each in its place in the frame; of a pair the left."""
    placer = placer or Placer(job)
    members = {member.mark: member for member in job.members}
    for blank in blanks:
        member = members[blank.member]
        if not member.points or blank.mark != member.marks[0]:
            continue
        ends = tuple(_placed(member, name, shape, placer) for name, shape in zip("ab", blank.ends, strict=True))
        yield Body(blank.mark, member.mark, placer.radius(member), tuple(placer.course(member)), (ends[0], ends[1]))


def _placed(member: Member, name: str, shape: EndShape, placer: Placer) -> BodyEnd:
    end = member.end(name)
    point, inward = end_axis(member, name)
    way = inward if name == "a" else scaled(inward, -1.0)
    short = any_normal(inward)
    origin = point
    if shape.cut is not Cut.SQUARE:
        try:
            placed = placer.placed(name, member)
            short, origin = placed.acute, placed.frame.origin
        except GeometryError:
            pass  # Its angle is written, not taken from points: drawn with its short side anyhow.
    if end.measured is not Measured.CENTRE:
        origin = point
    lines = shape_lines(shape) - to_tip(shape, end.measured)
    return BodyEnd(origin, short, cross(way, short), inward, lines, shape.cut)


def shape_lines(shape: EndShape) -> Array:
    """Distances from the tip, inwards positive, of an end's cut at each of the radii and turn angles of a body end."""
    turns = np.arange(LINES) * 360.0 / LINES
    radii = np.sin(np.linspace(0.0, np.pi / 2.0, _RINGS)) * shape.od / 2.0
    phi, radius = np.meshgrid(turns, radii)
    return np.asarray(end_line(shape, phi, radius_mm=radius), dtype=float)


def body_by_itself(job: Job, blank: Blank, placer: Placer | None = None) -> Body:
    """A piece by itself: end a at the left, its first straight along x, its first bend upwards in the plane of
    x and z (a straight one: end a's short side down)."""
    placer = placer or Placer(job)
    member = job.member(blank.member)
    tube = job.tube(blank.tube)
    made = points_run if member.points else measured_run
    run, _ = made(member, tube, MILLIMETRES)
    table = replace(run.table, rotations_deg=(0.0, *(mark.rotation_deg for mark in blank.bends[1:])))
    way: Vector = (1.0, 0.0, 0.0)
    up: Vector = (0.0, 0.0, 1.0)
    course = stretches(table, Pose((0.0, 0.0, 0.0), way, cross(way, up)))
    inside = insides(blank, job)
    short_a = scaled(up, -1.0)
    if blank.bends and inside.a is not None:
        short_a = turned_from(up, way, -inside.a)
    last = course[-1]
    last_way = last.at(last.length)[1]
    arcs = [piece for piece in course if piece.radius is not None]
    if arcs and inside.b is not None:
        short_b = turned_from(arcs[-1].inwards(arcs[-1].length), last_way, -inside.b)
    else:
        ways = [piece.at(piece.length * part)[1] for piece in course for part in (0.0, 0.5, 1.0)]
        short_b = turned_from(carried(short_a, ways), last_way, blank.turn_deg)
    ends = []
    for name, shape, origin, short, along in (
        ("a", blank.end_a, course[0].start, short_a, way),
        ("b", blank.end_b, last.at(last.length)[0], short_b, last_way),
    ):
        inward = along if name == "a" else scaled(along, -1.0)
        measured = member.end(name).measured
        lines = shape_lines(shape) - to_tip(shape, measured)
        if member.points and measured is Measured.CENTRE and shape.cut is not Cut.SQUARE:
            origin = plus(origin, scaled(inward, _shift(member, name, placer)))
        ends.append(BodyEnd(origin, short, cross(along, short), inward, lines, shape.cut))
    return Body(blank.mark, member.mark, float(tube.od) / 2.0, tuple(course), (ends[0], ends[1]))


def _shift(member: Member, name: str, placer: Placer) -> float:
    """How far inwards of its last point an end's axis meets what it lands on."""
    try:
        return placer.placed(name, member).shift
    except GeometryError:
        return 0.0  # Its angle is written, not taken from points.


def turned_from(side: Vector, way: Vector, turn_deg: float) -> Vector:
    """``side``, square to ``way``, turned about it clockwise as seen looking along it."""
    turn = radians(turn_deg)
    return plus(scaled(side, cos(turn)), scaled(cross(way, side), sin(turn)))
