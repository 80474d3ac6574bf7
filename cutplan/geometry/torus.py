"""Where lines along a member first meet a bend: a ray and a torus, held to the stretch that is bent.

Method: along a line the torus is a quartic, whose own turning points are the roots of a cubic, without a square term
once distances are counted from the point nearest the bend's centre; those have a closed form (Cardano, 1545; Viète,
1591, where there are three). Between two of them the quartic rises or falls, so the first change of its sign brackets
the first entry, which Newton's method closes in on, halving the bracket wherever a step would leave it.
"""

from __future__ import annotations

from math import cos, inf, sin

import numpy as np

from cutplan.geometry.points import Vector, cross, plus, scaled
from cutplan.geometry.saddle import SLACK_MM, Array
from cutplan.geometry.solid import Piece

_STEPS = 60
_DONE_MM = 1e-10
_JOINT_MM = 1e-7
"""How far a stretch reaches past its end, so that two that join leave no crack."""


def arc_entry(piece: Piece, radius: float | Array, x: Array, y: Array) -> Array:
    """The greatest z at which the line along z through each (x, y) is in the bend ``piece`` of a tube of ``radius``
    (or of one for each line).

    Minus infinity where it does not.
    """
    clr = piece.clr
    start = scaled(piece.inwards, -1.0)
    centre = piece.centre
    normal = cross(start, piece.way)
    across, along = x - centre[0], y - centre[1]
    away = across**2 + along**2
    reach = (clr + radius) ** 2 - away
    top = np.sqrt(np.maximum(reach, 0.0))
    low, high = -top, top
    for angle, sense in ((piece.lo / clr, 1.0), (piece.hi / clr, -1.0)):
        edge = plus(scaled(start, -sin(angle) * sense), scaled(piece.way, cos(angle) * sense))
        low, high = beyond(edge, edge[0] * across + edge[1] * along + _JOINT_MM, low, high)
    found = np.full(x.shape, -inf)
    # A line may touch the bend at its very outside, square to its plane.
    rows = np.nonzero((reach > -2.0 * (clr + radius) * SLACK_MM) & (low <= high))[0]
    if rows.size:
        square = normal[0] * across[rows] + normal[1] * along[rows]
        lines = _Lines(clr, np.broadcast_to(radius, x.shape)[rows], away[rows], square, normal[2])
        found[rows] = centre[2] + lines.entry(low[rows], high[rows])
    return found


def in_arc(piece: Piece, radius: float, x: Array, y: Array, z: Array) -> np.typing.NDArray[np.bool_]:
    """Whether each point is in the bend ``piece`` of a tube of ``radius``."""
    start, way = scaled(piece.inwards, -1.0), piece.way
    centre = piece.centre
    gap = (x - centre[0], y - centre[1], z - centre[2])
    out, ahead, square = (
        gap[0] * axis[0] + gap[1] * axis[1] + gap[2] * axis[2] for axis in (start, way, cross(start, way))
    )
    along = np.arctan2(ahead, out) * piece.clr
    within = (along >= piece.lo - _JOINT_MM) & (along <= piece.hi + _JOINT_MM)
    return np.asarray(within & ((np.hypot(out, ahead) - piece.clr) ** 2 + square**2 <= radius**2))


def beyond(normal: Vector, level: Array, low: Array, high: Array) -> tuple[Array, Array]:
    """The part of each line from ``low`` to ``high`` where ``level`` + normal_z · z is not negative."""
    rise = normal[2]
    if abs(rise) < 1e-12:
        return np.where(level < 0.0, inf, low), high
    limit = -level / rise
    return (np.maximum(low, limit), high) if rise > 0.0 else (low, np.minimum(high, limit))


class _Lines:
    """Lines past a torus. Distances along them from where each is nearest its centre; ``away``: squared distance from
    the centre there; ``square``: from the bend's plane there, changing by ``rise`` for each mm along."""

    def __init__(self, clr: float, radius: Array, away: Array, square: Array, rise: float) -> None:
        self.clr, self.radius, self.away, self.square, self.rise = clr, radius, away, square, rise

    def outside(self, z: Array) -> tuple[Array, Array]:
        """Squared distance from the centreline less the squared radius (negative: inside), and its rate along z."""
        square = self.square + self.rise * z
        out = np.sqrt(np.maximum(self.away + z * z - square * square, 1e-24))
        radial = out - self.clr
        rate = 2.0 * (radial * (z - square * self.rise) / out + square * self.rise)
        return radial * radial + square * square - self.radius**2, rate

    def turning_points(self) -> Array:
        """Where the quartic turns, falling, in three rows (some alike where there is one)."""
        p = self.away + self.clr**2 - self.radius**2 - 2.0 * self.clr**2 * (1.0 - self.rise**2)
        q = 2.0 * self.clr**2 * self.square * self.rise
        discriminant = (q / 2.0) ** 2 + (p / 3.0) ** 3
        root = np.sqrt(np.maximum(discriminant, 0.0))
        # The larger of both cube roots keeps its figures; the other follows from their product.
        larger = np.cbrt(-q / 2.0 - np.copysign(root, q))
        alone = larger - np.divide(p, 3.0 * larger, out=np.zeros_like(p), where=larger != 0.0)
        spread = np.sqrt(np.maximum(-p / 3.0, 0.0))
        cosine = np.divide(-q, 2.0 * spread**3, out=np.zeros_like(p), where=spread > 0.0)
        third = np.arccos(np.clip(cosine, -1.0, 1.0)) / 3.0
        three = np.sort([2.0 * spread * np.cos(third - 2.0 * np.pi * k / 3.0) for k in (0, 1, 2)], axis=0)
        return np.where(discriminant < 0.0, three[::-1], alone)

    def entry(self, low: Array, high: Array) -> Array:
        """The greatest z from ``low`` to ``high`` that is inside; minus infinity where none does."""
        nodes = np.vstack([high, np.clip(self.turning_points(), low, high), low])
        inside = self.outside(nodes)[0] <= 2.0 * self.radius * SLACK_MM
        first = np.argmax(inside, axis=0)
        columns = np.arange(len(low))
        below = nodes[first, columns]
        above = nodes[np.maximum(first - 1, 0), columns]
        met = inside.any(axis=0)
        closing = met & (first > 0)
        if closing.any():
            below = np.where(closing, self._closed_in(above, below, closing), below)
        return np.where(met, below, -inf)

    def _closed_in(self, above: Array, below: Array, closing: np.typing.NDArray[np.bool_]) -> Array:
        z = (above + below) / 2.0
        for _ in range(_STEPS):
            left, rate = self.outside(z)
            within = left <= 0.0
            below, above = np.where(within, z, below), np.where(within, above, z)
            step = z - np.divide(left, rate, out=np.full_like(z, np.nan), where=rate != 0.0)
            good = (step >= below) & (step <= above)
            step = np.where(good, step, (above + below) / 2.0)
            moved = np.abs(step - z)[closing].max()
            z = step
            if moved < _DONE_MM:
                break
        return z
