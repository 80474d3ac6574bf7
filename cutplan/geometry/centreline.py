"""A member's centreline: straights and arcs, by its points or by its bends; where it ends, and what is near it.

Lengths in mm, angles in degrees. Method: vector geometry.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import atan2, inf, radians

import numpy as np

from cutplan.geometry.errors import GeometryError
from cutplan.geometry.figures import MILLIMETRES
from cutplan.geometry.points import (
    Lra,
    Pose,
    Vector,
    along_arc,
    cross,
    dot,
    lra_from_points,
    minus,
    norm,
    plus,
    scaled,
    turned,
    unit,
)
from cutplan.geometry.run import measured_run
from cutplan.geometry.saddle import Array
from cutplan.geometry.solid import Piece
from cutplan.job.model import Member, Tube

_CHORDS = 12


@dataclass(frozen=True, slots=True)
class Stretch:
    """A straight (``radius`` None) or an arc of a centreline, ``length`` long, starting at ``start``."""

    start: Vector
    way: Vector
    length: float
    radius: float | None = None
    normal: Vector = (0.0, 0.0, 0.0)
    bend: int | None = None

    def at(self, along: float) -> tuple[Vector, Vector]:
        """Point and direction ``along`` mm into the piece (beyond its ends: of the straight or circle prolonged)."""
        if self.radius is None:
            return plus(self.start, scaled(self.way, along)), self.way
        return along_arc(self.start, self.way, cross(self.normal, self.way), self.radius, along)

    def inwards(self, along: float) -> Vector:
        """Unit vector from the centreline to the arc's centre."""
        return cross(self.normal, self.at(along)[1])

    @property
    def piece(self) -> Piece:
        """The same as a piece of a tube landed on."""
        return Piece(self.start, self.way, 0.0, self.length, self.radius or 0.0, self.inwards(0.0))


def coordinates(member: Member) -> list[Vector]:
    """The points of ``member`` as floats, in mm."""
    return [point.xyz for point in member.points]


def radii(member: Member, tube: Tube) -> list[float]:
    """The centreline radius at each inner point, the tube's where none is given (0 where there is neither)."""
    return [float(point.radius or tube.clr or 0) for point in member.points[1:-1]]


def centreline(member: Member, tube: Tube) -> list[Stretch]:
    """The straights and arcs of a member given by points. Raises PointError where they make none."""
    return stretches(*lra_from_points(coordinates(member), radii(member, tube)))


def stretches(table: Lra, pose: Pose) -> list[Stretch]:
    """The straights and arcs of a tube bent by ``table`` and placed by ``pose``."""
    pieces = []
    point, way, normal = pose.start, pose.direction, pose.normal
    for i, straight in enumerate(table.straights):
        pieces.append(Stretch(point, way, straight))
        point = pieces[-1].at(straight)[0]
        if i < len(table.angles_deg) and table.angles_deg[i] > 0.0 and table.radii[i] > 0.0:
            normal = turned(normal, way, table.rotations_deg[i])
            length = table.radii[i] * radians(table.angles_deg[i])
            pieces.append(Stretch(point, way, length, table.radii[i], normal, i + 1))
            point, way = pieces[-1].at(length)
    return pieces


def course_by_rows(member: Member, tube: Tube) -> list[Stretch]:
    """The centreline of a member given by its bends, from the origin along x. Raises GeometryError if it has none."""
    run, faults = measured_run(member, tube, MILLIMETRES)
    if faults or not run.turns:
        raise GeometryError(f"{member.mark} has no bends to draw it from", column="onto")
    return stretches(run.table, Pose((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0)))


def end_axis(member: Member, name: str) -> tuple[Vector, Vector]:
    """The last point of end ``name`` and the unit vector from it into the member."""
    ways, points = directions(member), coordinates(member)
    return (points[0], ways[0]) if name == "a" else (points[-1], scaled(ways[-1], -1.0))


def end_straight(member: Member, name: str) -> float:
    """How long the side of a member's points is that ends at ``name``."""
    points = coordinates(member)
    return norm(minus(points[1], points[0]) if name == "a" else minus(points[-2], points[-1]))


def directions(member: Member) -> list[Vector]:
    """Unit vectors along the sides of a member's points, from end a to end b."""
    return [unit(minus(after, before)) for before, after in pairwise(coordinates(member))]


@dataclass(frozen=True, slots=True)
class Near:
    """Where a centreline comes nearest a point: ``gap`` mm from it, ``along`` from end a; ``past``: by how much the
    point is beyond an end of it, measured along it (0 or less: beside it). ``number``: of the piece."""

    gap: float
    point: Vector
    way: Vector
    along: float
    past: float
    number: int


def closest(course: Sequence[Stretch], point: Vector) -> Near:
    """Where ``course`` comes nearest ``point``."""
    best = Near(inf, point, point, 0.0, 0.0, 0)
    start, total = 0.0, sum(piece.length for piece in course)
    for number, piece in enumerate(course):
        raw = _along(piece, point)
        along = min(max(raw, 0.0), piece.length)
        at, way = piece.at(along)
        gap = norm(minus(at, point))
        if gap < best.gap - 1e-12:
            first, last = number == 0, number == len(course) - 1
            past = max(-raw if first else -inf, raw - piece.length if last else -inf, -total)
            best = Near(gap, at, way, start + along, past, number)
        start += piece.length
    return best


def _along(piece: Stretch, point: Vector) -> float:
    """How far along a piece, prolonged, the place nearest to ``point`` is."""
    gap = minus(point, piece.start)
    if piece.radius is None:
        return dot(gap, piece.way)
    inwards = piece.inwards(0.0)
    out = minus(gap, scaled(inwards, piece.radius))
    return atan2(dot(out, piece.way), -dot(out, inwards)) * piece.radius


def chords(course: Sequence[Stretch]) -> tuple[list[Vector], list[float]]:
    """Points along a centreline, an arc in a dozen chords, and how far each is from end a along it."""
    points, along = [course[0].start], [0.0]
    for piece in course:
        steps = _CHORDS if piece.radius is not None else 1
        points += [piece.at(piece.length * k / steps)[0] for k in range(1, steps + 1)]
        along += [along[-1] + piece.length * k / steps for k in range(1, steps + 1)]
    return points, along


def gaps(starts: Array, stops: Array) -> tuple[Array, Array, Array]:
    """Between all segments: least distance (n, n), and where on the row's and the column's it is (0 to 1, n by n)."""
    way = stops - starts
    own = np.maximum((way * way).sum(axis=1), 1e-12)
    between = starts[:, None, :] - starts[None, :, :]
    lean = way @ way.T
    here = (between * way[:, None, :]).sum(axis=2)
    there = (between * way[None, :, :]).sum(axis=2)
    square = own[:, None] * own[None, :] - lean**2
    with np.errstate(divide="ignore", invalid="ignore"):
        s = np.where(square > 1e-9 * own[:, None] * own[None, :], (lean * there - own[None, :] * here) / square, 0.0)
    s = np.clip(s, 0.0, 1.0)
    t = np.clip((lean * s + there) / own[None, :], 0.0, 1.0)
    s = np.clip((lean * t - here) / own[:, None], 0.0, 1.0)
    apart = between + s[:, :, None] * way[:, None, :] - t[:, :, None] * way[None, :, :]
    return np.linalg.norm(apart, axis=2), s, t
