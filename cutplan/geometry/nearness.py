"""Where a centreline of straights and arcs comes nearest a point. Lengths in mm. Method: vector geometry."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, inf

from cutplan.geometry.landing import Piece
from cutplan.geometry.points import Vector, cross, dot, minus, norm, scaled


@dataclass(frozen=True, slots=True)
class Near:
    """Where a centreline comes nearest a point: ``gap`` mm from it, ``along`` from end a; ``past``: by how much the
    point lies beyond an end of it, measured along it (0 or less: beside it). ``number``: of the piece."""

    gap: float
    point: Vector
    way: Vector
    along: float
    past: float
    number: int


def closest(course: Sequence[Piece], point: Vector) -> Near:
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


def _along(piece: Piece, point: Vector) -> float:
    """How far along a piece, prolonged, the place next to ``point`` lies."""
    gap = minus(point, piece.start)
    if piece.radius is None:
        return dot(gap, piece.way)
    inwards = cross(piece.normal, piece.way)
    out = minus(gap, scaled(inwards, piece.radius))
    return atan2(dot(out, piece.way), -dot(out, inwards)) * piece.radius
