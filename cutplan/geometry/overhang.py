"""How an end sits on what it lands on: what hangs over a tube's end, and what else is in its way.

Coordinates as in :mod:`cutplan.geometry.solid`. Method: the lines of the saddle, one every few degrees, against the
tubes as they end and as they would run on.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, inf

import numpy as np

from cutplan.geometry.kernel import first_entry, kept_inside, line_at
from cutplan.geometry.points import dot
from cutplan.geometry.saddle import Array, around
from cutplan.geometry.solid import Piece, Target

_STEP_DEG = 1.0
_ON_MM = 0.01
_FAR = 1.5


@dataclass(frozen=True, slots=True)
class Overhang:
    """``name``: the tube whose end is hung over, by ``mm`` at most, on ``lines`` of all lines round the tube (a part,
    above 0 up to 1)."""

    name: str
    mm: float
    part: float


def overhang(targets: tuple[Target, ...], radius_mm: float) -> Overhang | None:
    """What of an end of ``radius_mm`` misses the tubes as they end, and by how much; None: nothing does."""
    if all(_endless(piece, radius_mm + target.radius) for target in targets for piece in target.pieces):
        return None
    x, y = around(radius_mm, turns())
    missed = np.nonzero(first_entry(targets, x, y) == -inf)[0]
    if not missed.size:
        return None
    x, y = x[missed], y[missed]
    z = line_at(targets, x, y)
    least, name = np.full(missed.shape, inf), ""
    for target in targets:
        for piece in target.pieces:
            past = _past(piece, target.radius, x, y, z)
            if float(past.min()) < float(least.min()):
                name = target.name
            least = np.minimum(least, past)
    found = least[np.isfinite(least)]
    if not found.size:
        return None
    return Overhang(name, float(found.max()), missed.size / (360.0 / _STEP_DEG))


def depth_in(third: Target, line: Array, radius_mm: float) -> float:
    """How far a tube that is not landed on sticks out of the saddle's ``line`` (of `turns`, in mm) at the most; 0: not
    at all."""
    x, y = around(radius_mm, turns())
    out = first_entry((third,), x, y, floor=line) - line
    # Further in it is another joint's matter.
    near = np.isfinite(out) & (out < 6.0 * (radius_mm + third.radius))
    return float(np.max(out[near], initial=0.0))


def turns() -> Array:
    """The turn angles, in degrees, that are looked at."""
    return np.arange(0.0, 360.0, _STEP_DEG)


def _endless(piece: Piece, reach: float = inf) -> bool:
    """Whether a stretch has no end, or none within ``reach`` of the joint, across its axis, or further as it leans."""
    if piece.planes or piece.saddles or not any(piece.ends):
        return not (piece.planes or piece.saddles)
    here = -dot(piece.point, piece.way)
    far = _FAR * reach / max(hypot(piece.way[0], piece.way[1]), 1e-6)
    return not (piece.ends[0] and piece.lo > here - far) and not (piece.ends[1] and piece.hi < here + far)


def _past(piece: Piece, radius: float, x: Array, y: Array, z: Array) -> Array:
    """How far beyond the end of a straight each point on its surface, run on, is; infinite for what is not on it."""
    past = np.full(z.shape, inf)
    if piece.clr or _endless(piece):
        return past
    gap = np.stack([x - piece.point[0], y - piece.point[1], z - piece.point[2]])
    way = np.array(piece.way)[:, None]
    along = (gap * way).sum(axis=0)
    on = np.abs(np.sqrt(((gap - along * way) ** 2).sum(axis=0)) - radius) < _ON_MM
    beyond = np.zeros(z.shape)
    if piece.ends[0]:
        beyond = np.maximum(beyond, piece.lo - along)
    if piece.ends[1]:
        beyond = np.maximum(beyond, along - piece.hi)
    for cut in piece.planes:
        flat = sum(cut.normal[k] * (point - cut.point[k]) for k, point in enumerate((x, y, z)))
        beyond = np.maximum(beyond, -flat)
    if piece.saddles:
        beyond = np.maximum(beyond, -kept_inside(piece.saddles, x, y, z))
    return np.where(on & (beyond > 0.0), beyond, inf)
