"""Centrelines by coordinates: points with radii to straights, angles and rotations (an LRA table).

Lengths in mm, angles in degrees. A rotation turns the plane of a bend about the tube from the plane of the bend
before, clockwise positive as seen looking along the tube from its first end to its last. The first bend's rotation
is 0; its plane is given by a normal about which the tube turns right-handed.
Method: vector geometry of a polygon with rounded corners. Vectors are plain tuples: an array of three numbers takes
several times as long to add or turn, and cannot be hashed for a cache.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import atan2, cos, degrees, radians, sin, sqrt, tan

import numpy as np
from numpy.typing import NDArray

from cutplan.geometry.errors import GeometryError

Vector = tuple[float, float, float]

SAME_MM = 1e-6
STRAIGHT_DEG = 1e-7
"""A corner that turns by less is no bend."""


class PointError(GeometryError):
    """Points that make no centreline. ``index`` (from 0) is that of the point to blame, ``column`` its column."""

    def __init__(self, index: int, rule: str, cure: str, column: str = "", lengths: tuple[float, ...] = ()) -> None:
        super().__init__(rule, None, cure, column, lengths)
        self.index = index


@dataclass(frozen=True, slots=True)
class Lra:
    """Straights between tangent points (one more than bends), and each bend's angle, radius and rotation."""

    straights: tuple[float, ...]
    angles_deg: tuple[float, ...]
    radii: tuple[float, ...]
    rotations_deg: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Pose:
    """Where a tube starts: its first point, its direction, and the normal of its first bend's plane."""

    start: Vector
    direction: Vector
    normal: Vector


def lra_from_points(points: Sequence[Vector], radii: Sequence[float]) -> tuple[Lra, Pose]:
    """The table of a centreline through ``points`` with ``radii`` at the inner ones, and where it starts.

    A corner that does not turn stays in the table as a bend of 0 degrees. Raises PointError for fewer than two
    points, points on top of each other, a corner that doubles back, and radii that overlap on a straight.
    """
    if len(points) < 2:
        raise PointError(0, "a centreline needs at least two points", "add the other end")
    sides = [minus(b, a) for a, b in pairwise(points)]
    lengths = [norm(side) for side in sides]
    for i, length in enumerate(lengths):
        if length < SAME_MM:
            raise PointError(i + 1, "is in the same place as the point before", "move it, or leave it out")
    ways = [unit(side) for side in sides]
    angles, normals = _corners(ways)
    setbacks = [radius * tan(radians(turn) / 2.0) for radius, turn in zip(radii, angles, strict=True)]
    straights = []
    for i, length in enumerate(lengths):
        straight = length - (setbacks[i - 1] if i else 0.0) - (setbacks[i] if i < len(setbacks) else 0.0)
        if straight < -SAME_MM:
            raise PointError(
                min(i + 1, len(points) - 2),
                f"the bends overlap by {{0}} on the straight from point {i + 1} to point {i + 2}",
                "smaller radii, or points further apart",
                "radius",
                (-straight,),
            )
        straights.append(max(straight, 0.0))
    rotations = [0.0] + [turn_between(normals[i], normals[i + 1], ways[i + 1]) for i in range(len(normals) - 1)]
    table = Lra(tuple(straights), tuple(angles), tuple(radii), tuple(rotations[: len(angles)]))
    return table, Pose(points[0], ways[0], normals[0] if normals else any_normal(ways[0]))


def _corners(ways: list[Vector]) -> tuple[list[float], list[Vector]]:
    angles: list[float] = []
    normals: list[Vector] = []
    for i, (before, after) in enumerate(pairwise(ways)):
        turn = angle_between(before, after)
        if turn > 180.0 - 1e-3:
            raise PointError(i + 1, "the tube doubles back on itself here", "check this point and the next")
        if turn < STRAIGHT_DEG:
            turn = 0.0
            normals.append(normals[-1] if normals else any_normal(before))
        else:
            normals.append(unit(cross(before, after)))
        angles.append(turn)
    return angles, normals


def carried(vector: Vector, ways: Sequence[Vector]) -> Vector:
    """``vector``, square to the first of ``ways``, carried along the tube by its bends to the last.

    A line scribed along the straight blank ends up there: bending does not twist the tube.
    """
    for before, after in pairwise(ways):
        square = cross(before, after)
        if norm(square) > 1e-12:
            vector = turned(vector, unit(square), angle_between(before, after))
    return vector


def angle_between(a: Vector, b: Vector) -> float:
    """Degrees between two directions, 0 to 180."""
    return degrees(atan2(norm(cross(a, b)), dot(a, b)))


def turn_between(first: Vector, second: Vector, way: Vector) -> float:
    """Degrees from ``first`` to ``second`` about ``way``, clockwise seen looking along it, over -180 to 180."""
    return degrees(atan2(dot(cross(first, second), way), dot(first, second)))


def along_arc(start: Vector, way: Vector, inwards: Vector, radius: float, along: float) -> tuple[Vector, Vector]:
    """Point and direction ``along`` mm into an arc that sets off ``way``, its centre ``inwards`` of its start."""
    c, s = cos(along / radius), sin(along / radius)
    place = plus(start, plus(scaled(way, radius * s), scaled(inwards, radius * (1.0 - c))))
    return place, plus(scaled(way, c), scaled(inwards, s))


def turned(vector: Vector, about: Vector, angle_deg: float) -> Vector:
    """``vector`` turned right-handed about the unit vector ``about`` (Rodrigues' formula)."""
    c, s = cos(radians(angle_deg)), sin(radians(angle_deg))
    along = scaled(about, dot(about, vector) * (1.0 - c))
    return plus(plus(scaled(vector, c), scaled(cross(about, vector), s)), along)


def any_normal(way: Vector) -> Vector:
    """A unit vector square to ``way``, always the same one."""
    axis: Vector = min(((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)), key=lambda a: abs(dot(a, way)))
    return unit(cross(way, axis))


def as_vector(point: Sequence[float] | NDArray[np.float64]) -> Vector:
    """Three numbers as a vector."""
    x, y, z = point
    return float(x), float(y), float(z)


def plus(a: Vector, b: Vector) -> Vector:
    """Sum of both."""
    return a[0] + b[0], a[1] + b[1], a[2] + b[2]


def minus(a: Vector, b: Vector) -> Vector:
    """First less second."""
    return a[0] - b[0], a[1] - b[1], a[2] - b[2]


def scaled(a: Vector, k: float) -> Vector:
    """Vector stretched k times."""
    return a[0] * k, a[1] * k, a[2] * k


def dot(a: Vector, b: Vector) -> float:
    """Scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vector, b: Vector) -> Vector:
    """Vector product, right-handed."""
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


def norm(a: Vector) -> float:
    """Length."""
    return sqrt(dot(a, a))


def unit(a: Vector) -> Vector:
    """The unit vector along ``a``."""
    return scaled(a, 1.0 / norm(a))
