"""The ends of a member whose angles come from coordinates, and the turn between them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

from cutplan.geometry.errors import GeometryError
from cutplan.geometry.landing import coordinates, landing, turned_landings
from cutplan.geometry.points import Vector, carried, minus, norm, scaled, turn_between
from cutplan.job.model import End, Job, Member, Tube


@dataclass(frozen=True, slots=True)
class PlacedEnd:
    """An end with its saddles found. ``shift``: from the member's last point to where its axis comes nearest the
    first tube's, in mm, inwards positive; ``shifts``: of each saddle's from the first's; ``acute``: unit vector to
    the first saddle's short side."""

    end: End
    shift: float
    shifts: tuple[float, ...]
    acute: Vector


def placed_end(name: str, member: Member, tube: Tube, job: Job) -> PlacedEnd:
    """End ``name`` ("a" or "b") of ``member``, its saddles worked out from the points of both members.

    Raises GeometryError where the members do not meet or have no points.
    """
    end = member.end_a if name == "a" else member.end_b
    if not member.points:
        raise GeometryError("has no angle, and the member has no points to take it from", column="angle")
    ways = directions(member)
    at_a = name == "a"
    point = coordinates(member)[0 if at_a else -1]
    inward = ways[0] if at_a else scaled(ways[-1], -1.0)
    found = []
    for asked in end.saddles:
        other = next((each for each in job.members if asked.onto.member in (each.mark, *each.marks)), None)
        if other is None or not other.points:
            rule = "has no angle, and what it lands on has no points to take it from"
            raise GeometryError(rule, asked.onto.member, "give the angle", "onto")
        found.append(landing(asked, point, inward, at_a, other, job.tube(other.tube), float(tube.od)))
    saddles, shifts = turned_landings(found, ways[0] if at_a else ways[-1])
    placed = replace(end, saddles=saddles, from_points=False)
    return PlacedEnd(placed, found[0].shift, shifts if len(shifts) > 1 else (), found[0].acute)


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
