"""A rough place to begin from that is seldom a folded shape: laid out in four dimensions, then pressed flat.

Where a part of a frame was laid on the wrong side of the rest, distances alone cannot bring it over: every way leads
through worse shapes. With a fourth coordinate it turns round through the room beyond; that coordinate is then made
dearer step by step until it is gone. Method: Crippen, *Conformational analysis by energy embedding* (1982), from
memory.
"""

from __future__ import annotations

import numpy as np
from numpy.random import Generator

from cutplan.survey.equations import ANCHOR, Array, Network

AMONG = 0.3
"""How far out of space the nodes begin, as a part of the frame's size."""

DEARER = (0.03, 0.3, 1.0)
STEP = 0.02
"""What lies out of space by this part of the frame's size weighs as much as a miss of ``SOFT``, times each of these."""

SOFT = 5.0
"""Standard deviations that a reading may be off without counting for much on the way."""


def lifted(net: Network, start: Array, size: float, die: Generator) -> Array:
    """Places near a solution, from ``start`` moved out of space at random."""
    from scipy.optimize import least_squares

    count = len(net.names)
    out = net.free.any(axis=1, keepdims=True)
    free = np.hstack([net.free, out]).ravel()
    fixed = np.hstack([np.where(net.free, 0.0, net.base), np.zeros((count, 1))]).ravel()
    begin = np.hstack([start, AMONG * size * out * die.standard_normal((count, 1))]).ravel()[free]
    spreads = SOFT * net.spreads()
    beyond = np.eye(4 * count)[4 * np.flatnonzero(out.ravel()) + 3][:, free]
    hold = ANCHOR * np.eye(begin.size)

    def placed(unknown: Array) -> Array:
        places = fixed.copy()
        places[free] = unknown
        return places.reshape(-1, 4)

    for price in (dear / (STEP * size) for dear in DEARER if begin.size):

        def misses(unknown: Array, price: float = price, begin: Array = begin) -> Array:
            off = (net.values(placed(unknown)) - net.read()) / spreads
            return np.concatenate([off, price * (beyond @ unknown), ANCHOR * (unknown - begin)])

        def slopes(unknown: Array, price: float = price) -> Array:
            return np.vstack([net.slopes(placed(unknown))[:, free] / spreads[:, None], price * beyond, hold])

        found = least_squares(misses, begin, slopes, method="lm", xtol=1e-6, ftol=1e-6, gtol=1e-9, max_nfev=50)
        begin = np.asarray(found.x)
    return placed(begin)[:, :3]
