"""A member's centreline: by its bends or by its points, and where it ends. Method: vector geometry."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from cutplan.geometry import landing as landings
from cutplan.geometry.errors import GeometryError
from cutplan.geometry.figures import MILLIMETRES
from cutplan.geometry.landing import coordinates
from cutplan.geometry.points import Lra, Pose, Vector, minus, norm, scaled
from cutplan.geometry.run import measured_run
from cutplan.job.model import End, Member, Tube

_LOOKS = 32


def course_by_rows(member: Member, tube: Tube) -> list[landings.Piece]:
    """The centreline of a member given by its bends, from the origin along x. Raises GeometryError if it has none."""
    run, faults = measured_run(member, tube, MILLIMETRES)
    if faults or not run.turns:
        raise GeometryError(f"{member.mark} has no bends to draw it from", column="onto")
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


def ends_of(member: Member) -> tuple[End, End]:
    """Both."""
    return member.end_a, member.end_b


def nearest_along(course: Sequence[landings.Piece], point: Vector, within: float) -> float | None:
    """How far along a centreline the place next to ``point`` lies, by looks a few mm apart; None: further than
    ``within`` away."""
    best = None
    start = 0.0
    for piece in course:
        # Half a length away from its middle is as near as a piece can come.
        if norm(minus(piece.at(piece.length / 2.0)[0], point)) <= piece.length / 2.0 + within:
            for k in range(_LOOKS + 1):
                along = piece.length * k / _LOOKS
                gap = norm(minus(piece.at(along)[0], point))
                if best is None or gap < best[0]:
                    best = gap, start + along, piece.length / _LOOKS
        start += piece.length
    return None if best is None or best[0] > within + best[2] else best[1]


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
    points = coordinates(member)
    sides = [minus(after, before) for before, after in pairwise(points)]
    return [scaled(side, 1.0 / norm(side)) for side in sides]
