"""Where the tip of an end on several tubes may come to lie while they, and the member, are in doubt.

On each line along the member's outside what is cut is the furthest in of what the tubes cut, one by one; the tip is the
furthest out of all lines. So, whatever moves:

* the tip is never further out than that of a saddle on any one of the tubes that runs on;
* it is never further in than the furthest that any of the tubes can cut on one line, whichever line that is. What a
  tube can cut on a line is its saddle (see :mod:`cutplan.geometry.saddle`) with each number where it cuts most: by
  interval arithmetic (Moore, *Interval Analysis*, 1966). A tube that ends takes away no more than one that runs on.

Lengths in mm from the member's last point, inwards positive.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from cutplan.geometry.saddle import SLACK_MM, Array
from cutplan.job.model import LEAST_COPE_DEG

Line = Callable[[Array], Array]
"""The furthest in that a tube may cut at each turn angle in degrees; minus infinity where it is sure to cut nothing."""

_TURNS = np.arange(0.0, 360.0, 2.0)


@dataclass(frozen=True, slots=True)
class Doubted:
    """A saddle on a straight tube. ``at``: of the axis point nearest the tube's axis, with its ± ``slip``; ``angle``,
    ``offset``: from, to; ``turn``: of its short side from the first tube's, with its ± ``roll``, in degrees."""

    radius: float
    onto_radius: float
    at: float
    slip: float
    angle: tuple[float, float]
    offset: tuple[float, float]
    turn: float
    roll: float

    def furthest(self, phi_deg: Array) -> Array:
        """The furthest in that it may cut at each turn angle."""
        low, high = phi_deg - self.turn - self.roll, phi_deg - self.turn + self.roll
        beside = [self.radius * each for each in sines(low, high)]
        gap = np.maximum(np.maximum(beside[0] - self.offset[1], self.offset[0] - beside[1]), 0.0)
        under = self.onto_radius**2 - gap**2
        steep, flat = (np.radians(each) for each in (max(self.angle[0], LEAST_COPE_DEG), self.angle[1]))
        cosines = sines(low + 90.0, high + 90.0)
        lean = np.maximum.reduce([each / np.tan(angle) for each in cosines for angle in (steep, flat)])
        cut = self.radius * lean + np.sqrt(np.maximum(under, 0.0)) / min(np.sin(steep), np.sin(flat))
        missed = under < -2.0 * self.onto_radius * SLACK_MM
        return np.where(missed, -np.inf, self.at + self.slip + cut)


def sines(low: Array, high: Array) -> tuple[Array, Array]:
    """The least and the greatest sine of any angle from ``low`` to ``high`` degrees."""
    at = [np.sin(np.radians(each)) for each in (low, high)]
    # A quarter turn, or three, lies between where counting whole turns from there jumps.
    crest = np.floor((high - 90.0) / 360.0) > np.floor((low - 90.0) / 360.0)
    trough = np.floor((high - 270.0) / 360.0) > np.floor((low - 270.0) / 360.0)
    return np.where(trough, -1.0, np.minimum(*at)), np.where(crest, 1.0, np.maximum(*at))


def furthest_in(lines: Sequence[Line]) -> float:
    """How far in the tip may lie at the most, given what each tube can cut; infinity where that says nothing."""
    most = np.maximum.reduce([line(_TURNS) for line in lines])
    return float(np.min(most[np.isfinite(most)], initial=np.inf))
