"""Where an end may be on, or next to, a bend of a tube whose points are in doubt.

Wherever they are, its tube is inside the one by the likely points made thicker by as far as its centreline, and the
member's axis, can be moved, and around the one made thinner by that (see :mod:`cutplan.geometry.estimates.ends`). So
a line of the member enters it no further in than the thicker one; no further out than the thinner one, and where it may
miss that, than the far side of the thicker one. The tip is the furthest out of all lines.

Nor is the tip further along the axis than the tube's radius beyond the places of its centreline that are no further
from the axis than both radii together, with as much more all round.

How far a centreline may be moved: a straight no further than its ends; a bend as its centre, and as it turns about
that. The centre is r / cos(A/2) from the corner (r: centreline radius, A: angle), on the line that halves it; with both
sides turned by tau together, that line turns by tau at most, and A is out by no more. Method: vector geometry.

Lengths in mm, along the member's axis inwards positive.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from math import ceil, cos, hypot, inf, isfinite, radians, sin

import numpy as np

from cutplan.geometry.estimates.moved_tubes import thick_entry, thin_entry, upside_down
from cutplan.geometry.points import Vector
from cutplan.geometry.saddle import Array, around
from cutplan.geometry.solid import Piece, Target

_STEP_MM = 1.0
"""Between places looked at on a centreline."""
_FLATTEST_DEG = 178.0
_TURN_DEG = 1.0


def bend_moved(corner: float, radius: float, angle_deg: float, turn_deg: float) -> float:
    """How far a bend's centreline may be moved, where its corner may be moved by ``corner`` and its two sides may be
    turned by ``turn_deg`` together."""
    low, high = (1.0 / cos(radians(min(max(angle_deg + by, 0.0), _FLATTEST_DEG)) / 2.0) for by in (-turn_deg, turn_deg))
    swing = 2.0 * sin(radians(min(turn_deg, 180.0)) / 2.0)
    return corner + radius * (high - low + 2.0 * high * swing)


@dataclass(frozen=True, slots=True)
class TipRange:
    """From where to where the tip may be, and how far in any line may be cut."""

    low: float
    high: float
    deepest: float


def tip_on(
    target: Target, radius: float, moved: float, axis_moved: Callable[[float], float], turn_deg: float
) -> TipRange:
    """Of an end of a member of ``radius`` on ``target``, given in the end's frame. ``moved``: how far its centreline
    may be moved, ``axis_moved``: the member's axis so far along it; ``turn_deg``: how far the axis may be turned."""
    low, high = inf, -inf
    turned = sin(radians(min(turn_deg, 90.0)))
    most = 0.0
    for x, y, z in _places(target.pieces):
        aside = radius + target.radius + moved + axis_moved(z) + _STEP_MM
        if hypot(x, y) <= aside:
            # What is aside of the axis is further along it where that is turned.
            slack = target.radius + moved + _STEP_MM + aside * turned
            low, high = min(low, z - slack), max(high, z + slack)
            most = max(most, moved + axis_moved(low) + axis_moved(high) + aside * turned)
    least, entry = _lines(target, radius, most)
    return TipRange(max(low, float(least.min())), min(high, float(entry.min())), min(high, float(entry.max())))


def _lines(target: Target, radius: float, by: float) -> tuple[Array, Array]:
    """From, to where each line round the member may enter ``target`` that may be moved by so much."""
    x, y = around(radius, np.arange(0.0, 360.0, _TURN_DEG))
    wide = np.full(x.shape, target.radius + by)
    entry = np.maximum.reduce([thick_entry(piece, wide, by, x, y) for piece in target.pieces])
    far_side = -np.maximum.reduce([thick_entry(upside_down(piece), wide, by, x, y) for piece in target.pieces])
    last = len(target.pieces) - 1
    certain = np.maximum.reduce(
        [
            thin_entry(piece, target.radius, np.full(x.shape, by), by, (number == 0, number == last), x, y)
            for number, piece in enumerate(target.pieces)
            if not piece.saddles
        ]
        or [np.full(x.shape, -inf)]
    )
    return np.where(certain > -inf, certain, far_side), np.where(entry > -inf, entry, inf)


def _places(pieces: Sequence[Piece]) -> Iterator[Vector]:
    """Places all along a centreline."""
    for piece in pieces:
        lo, hi = (at if isfinite(at) else 0.0 for at in (piece.lo, piece.hi))
        count = max(ceil((hi - lo) / _STEP_MM), 1)
        for k in range(count + 1):
            yield piece.at(lo + (hi - lo) * k / count)[0]
