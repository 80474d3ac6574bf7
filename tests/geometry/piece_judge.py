"""A piece made at the bench from what its card says, and held where the frame has it: does it fit?

From the tip of end a along the blank: so far to each bend, its angle, radius and rotation, the turn between the ends,
the inside of a bend from the end next to it. Put with end a in its place and the inside of its first bend (or, if it
is straight, the short side of end a) where the frame has it, end b and its short side must come to where the frame has
them.
Shares nothing with the package but the job's words; senses are those of the manual's page *joints*: clockwise as seen
from end a to end b.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from frame_judge import Whole
from node_judge import Vector, across, course

from cutplan.geometry import Blank
from cutplan.geometry.inside import Insides
from cutplan.job.model import Cut, Job, Member

_EITHER_DEG = 89.9
"""From this angle on either way along the tube landed on may be called the short side."""


@dataclass(frozen=True)
class Fit:
    """How far end b comes to be from its place, and its short side round the tube, in mm; and how far the inside of the
    bend next to an end, by what is said at that end."""

    mark: str
    place: float
    round: float
    inside: float


def turned(side: Vector, way: Vector, degrees: float) -> Vector:
    """``side`` clockwise about ``way``, looking along it."""
    turn = np.radians(degrees)
    return side * np.cos(turn) + np.cross(way, side) * np.sin(turn)


def gained(blank: Blank, name: str) -> float:
    """From the last point to the tip."""
    return sum(part.length for part in blank.parts if part.what.startswith(f"end {name}:"))


def pieces_that_fit(whole: Whole, job: Job, blanks: dict[str, Blank], insides: dict[str, Insides]) -> Iterator[Fit]:
    """Every member that has points and a blank."""
    for member in job.members:
        if member.points and member.mark in blanks:
            yield fit(whole, member, blanks[member.mark], insides[member.mark])


def fit(whole: Whole, member: Member, blank: Blank, lie: Insides) -> Fit:
    """One of them; nothing may be added to it for fitting."""
    path, radius = course(member).pieces, whole.radius(member)
    here, way, _, _, _ = path[0]
    shaped_a, shaped_b = member.end_a.cut is Cut.COPE, member.end_b.cut is Cut.COPE
    short_a = whole.short_side(member.end_a, here, way) if shaped_a else None
    square_a = shaped_a and blank.end_a.saddles[0].angle_deg > _EITHER_DEG
    square_b = shaped_b and blank.end_b.saddles[0].angle_deg > _EITHER_DEG
    inside = off = 0.0
    # The side carried along is the inside of the first bend; of a straight piece the short side of end a.
    if blank.bends:
        side = path[1][4]
        if short_a is not None and lie.a is not None:
            inside = between(turned(short_a, way, lie.a), side, radius, either=square_a)
    else:
        side = across(way) if short_a is None else short_a
    run = 0.0
    for number, bend in enumerate(blank.bends):
        here = here + way * (bend.start - (0.0 if number else gained(blank, "a")) - (run if number else 0.0))
        if number:
            side = turned(side, way, bend.rotation_deg)
        turn = np.radians(bend.angle_deg)
        here = here + bend.radius * (side * (1 - np.cos(turn)) + way * np.sin(turn))
        way, side = way * np.cos(turn) + side * np.sin(turn), side * np.cos(turn) - way * np.sin(turn)
        run = bend.start + bend.arc
    net = sum(part.length for part in blank.parts[:-1])
    here = here + way * (net - gained(blank, "b") - (run if blank.bends else gained(blank, "a")))
    point, inward, _ = whole.end_axis(member.mark, True)
    place = float(np.linalg.norm(here - point) + radius * np.linalg.norm(way + inward))
    if not shaped_b:
        return Fit(member.mark, place, 0.0, inside)
    short_b = whole.short_side(member.end_b, point, inward)
    if blank.bends and lie.b is not None:
        inside = max(inside, between(turned(short_b, way, lie.b), side, radius, either=square_b))
    if shaped_a:
        start = side if not blank.bends else turned(side, way, -_round(blank, lie))
        off = between(turned(start, way, blank.turn_deg), short_b, radius, either=square_a or square_b)
    return Fit(member.mark, place, off, inside)


def _round(blank: Blank, lie: Insides) -> float:
    """By how much the side carried along a bent piece was turned about it since end a's short side."""
    return (lie.a or 0.0) + sum(bend.rotation_deg for bend in blank.bends[1:])


def between(one: Vector, other: Vector, radius: float, *, either: bool) -> float:
    """How far apart two sides are round the tube; ``either``: opposite sides will do."""
    gap = float(np.linalg.norm(one - other))
    return radius * (min(gap, float(np.linalg.norm(one + other))) if either else gap)
