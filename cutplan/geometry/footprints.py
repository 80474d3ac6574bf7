"""Where on a tube others land: from where to where along it each joint reaches, and on which side of it.

For members given by points. A joint's edge is that of the finished end, in space; each of its points that is on the
outside of the tube landed on is brought to the nearest place of that tube's centreline. Lengths in mm, angles in
degrees. Method: vector geometry.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import accumulate
from math import atan2, cos, degrees, radians, sin

import numpy as np

from cutplan.geometry.bodies import Body
from cutplan.geometry.centreline import Stretch, closest
from cutplan.geometry.points import as_vector, turn_between
from cutplan.geometry.saddle import Array
from cutplan.job.model import Cut, Job

_ON_IT_MM = 0.2
"""How far from the outside of the tube landed on a point of a joint's edge may be."""
_LEAST_POINTS = 8
"""Of the lines round an end: fewer that touch a tube are no place to go by."""


@dataclass(frozen=True, slots=True)
class Footprint:
    """The joint of end ``end`` of the member ``mark`` on a tube: on the ``number``-th stretch of it, from ``start`` to
    ``stop`` along that stretch. ``turn_deg``: the side that it comes from, clockwise as seen from the tube's end a to
    its end b, from its end a's short side (``by`` "a") or from the inside of its first bend ("bend"); where it has
    neither, from the first of its joints ("first")."""

    mark: str
    end: str
    number: int
    start: float
    stop: float
    turn_deg: float
    by: str


def footprints(body: Body, others: Mapping[str, Body], job: Job) -> tuple[Footprint, ...]:
    """What lands on ``body``, from its end a to its end b. ``others``: the bodies of ``job``, by member."""
    names = {body.mark, body.member}
    found: list[tuple[str, str, int, float, float, float]] = []
    for member in job.members:
        other = others.get(member.mark)
        if other is None:
            continue
        for end, shape in zip("ab", member.ends, strict=True):
            if any(one.onto.member in names for one in shape.saddles):
                touched = _touched(body, other.edge(end), _pierced(other, end))
                if touched is not None:
                    found.append((other.mark, end, *touched))
    found.sort(key=lambda one: (one[2], one[3]))
    by = "a" if body.ends[0].cut is not Cut.SQUARE else "bend" if _bent(body) else "first"
    zero = found[0][5] if by == "first" and found else 0.0
    return tuple(
        Footprint(mark, end, number, start, stop, (turn - zero) % 360.0, by)
        for mark, end, number, start, stop, turn in found
    )


def tip_of(body: Body, name: str) -> float:
    """How far the tip of end ``name`` is from that end of the centreline, along it into the body (negative: beyond)."""
    piece = body.course[0 if name == "a" else -1]
    at, way = piece.at(0.0 if name == "a" else piece.length)
    inward = np.array(way) * (1.0 if name == "a" else -1.0)
    return float(((body.edge(name) - np.array(at)) @ inward).min())


def _bent(body: Body) -> bool:
    return any(piece.radius is not None for piece in body.course)


def _pierced(body: Body, end: str) -> Array:
    """Where the axis of ``body`` leaves it at ``end``."""
    at = body.ends[0 if end == "a" else 1]
    return np.asarray(np.array(at.origin) + float(at.lines[0, 0]) * np.array(at.z), dtype=float)


def _touched(body: Body, edge: Array, axis: Array) -> tuple[int, float, float, float] | None:
    """The stretch of ``body`` that the middle of a joint is on, the joint's reach along that, and the turn angle of
    its side, which is that of its ``axis`` where that meets the body, else the middle of its own; None: hardly any of
    it is on the body."""
    starts = [0.0, *accumulate(piece.length for piece in body.course)]
    sides = list(_references(body))
    along, turns = [], []
    for point in (*edge, axis):
        near = closest(body.course, as_vector(point))
        if abs(near.gap - body.radius) > _ON_IT_MM:
            continue
        zero = _carried(body.course[near.number], near.along - starts[near.number], sides[near.number])
        turn = turn_between(as_vector(zero), as_vector(point - np.array(near.point)), near.way)
        if point is axis:
            turns = [turn]
        else:
            along.append(near.along)
            turns.append(turn)
    if len(along) < _LEAST_POINTS:
        return None
    low, high = min(along), max(along)
    middle = (low + high) / 2.0
    number = max(n for n, start in enumerate(starts[:-1]) if start <= middle or n == 0)
    across = sum(cos(radians(turn)) for turn in turns), sum(sin(radians(turn)) for turn in turns)
    side = degrees(atan2(across[1], across[0])) % 360.0
    return number, low - starts[number], high - starts[number], side


def _references(body: Body) -> Iterator[Array]:
    """The direction that turn angles count from, at the start of each stretch: carried along as a scribed line is."""
    first = next((piece for piece in body.course if piece.radius is not None), None)
    if body.ends[0].cut is not Cut.SQUARE or first is None:
        side = np.array(body.ends[0].x)
    else:
        side = np.array(first.inwards(0.0))
    for piece in body.course:
        yield side
        side = _carried(piece, piece.length, side)


def _carried(piece: Stretch, at: float, side: Array) -> Array:
    """``side``, known at the start of a stretch, ``at`` mm along it."""
    if piece.radius is None:
        return side
    # In the plane of a bend it turns with the tube; square to it, it stays.
    normal = np.array(piece.normal)
    inwards, here = np.array(piece.inwards(0.0)), np.array(piece.inwards(at))
    return np.asarray((side @ normal) * normal + (side @ inwards) * here, dtype=float)
