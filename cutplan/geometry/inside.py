"""Where the bends of a bent member are, seen from its ends: how far round the tube the inside of the nearest bend is.

The inside of a bend is the side that its centre is on. Carried along the tube, as a line scribed on the straight blank
is, it turns from bend to bend by their rotations. Method: vector geometry.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from cutplan.geometry.centreline import directions
from cutplan.geometry.model import Blank
from cutplan.geometry.placing import Placer
from cutplan.geometry.points import SAME_MM, Vector, cross, norm, turn_between, unit
from cutplan.job.model import Cut, End, Job, Member


@dataclass(frozen=True, slots=True)
class Insides:
    """Turn angles in degrees, from 0 to 360: ``a`` of the first bend's inside from end a's short side, ``b`` of the
    last bend's from end b's; clockwise as seen from end a to end b. None: that end is square, there is no bend, or the
    job does not say."""

    a: float | None = None
    b: float | None = None

    def at(self, name: str) -> float | None:
        """The turn angle at end ``name``, "a" or "b"."""
        return self.a if name == "a" else self.b


UNKNOWN = Insides()


def insides(blank: Blank, job: Job) -> Insides:
    """Where the bends of ``blank``, a blank of ``job``, are, seen from its ends."""
    if not blank.bends:
        return UNKNOWN
    member = job.member(blank.member)
    a, b = _by_points(member, job) if member.points else _by_rows(member)
    if member.pair and blank.mark == member.marks[1]:
        a, b = (None if turn is None else -turn for turn in (a, b))
    # The rotations of the bends come between the two ends: what is known of one end gives the other.
    between = sum(bend.rotation_deg for bend in blank.bends) - blank.turn_deg
    if _shaped(member.end_a) and _shaped(member.end_b):
        if a is None and b is not None:
            a = b - between
        elif b is None and a is not None:
            b = a + between
    return Insides(_once_round(a), _once_round(b))


def _by_rows(member: Member) -> tuple[float | None, float | None]:
    """As the first and the last row of ``Bends`` say."""
    first, last = member.bends[0].from_end_deg, member.bends[-1].from_end_deg
    return first if _shaped(member.end_a) else None, None if last is None else -last


def _by_points(member: Member, job: Job) -> tuple[float | None, float | None]:
    """From coordinates, where an end's own shape comes from them too."""
    ways = directions(member)
    found: list[float | None] = []
    for name, end in zip("ab", member.ends, strict=True):
        if not end.from_points:
            found.append(None)
            continue
        acute = Placer(job).placed(name, member).acute
        way = ways[0 if name == "a" else -1]
        found.append(turn_between(acute, cross(_normal(ways if name == "a" else ways[::-1], name), way), way))
    return found[0], found[1]


def _normal(ways: Sequence[Vector], name: str) -> Vector:
    """About which the tube turns right-handed, from end a to end b, in the first bend met along ``ways``."""
    for near, far in pairwise(ways):
        square = cross(near, far) if name == "a" else cross(far, near)
        if norm(square) > SAME_MM:
            return unit(square)
    raise ValueError("a straight member has no inside")


def _once_round(turn: float | None) -> float | None:
    return None if turn is None else round(turn, 6) % 360.0


def _shaped(end: End) -> bool:
    return end.cut is not Cut.SQUARE
