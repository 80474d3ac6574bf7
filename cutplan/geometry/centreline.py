"""A member's centreline: by its bends or by its points, and where it ends. Method: vector geometry."""

from __future__ import annotations

from itertools import pairwise

from cutplan.geometry.errors import GeometryError
from cutplan.geometry.figures import MILLIMETRES
from cutplan.geometry.landing import Stretch, coordinates, stretches
from cutplan.geometry.points import Pose, Vector, minus, norm, scaled, unit
from cutplan.geometry.run import measured_run
from cutplan.job.model import Member, Tube


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
