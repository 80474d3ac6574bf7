"""Where a centreline of straights and arcs comes nearest a point, and straights each other. Lengths in mm.

Method: vector geometry.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, inf

import numpy as np

from cutplan.geometry.landing import Stretch
from cutplan.geometry.points import Vector, dot, minus, norm, scaled
from cutplan.geometry.saddle import Array

_CHORDS = 12


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
    """How far along a piece, prolonged, the place next to ``point`` lies."""
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
    """Between all segments: least distance (n, n), and where on the row's and the column's it lies (0 to 1, n by n)."""
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
