"""How well a solution is known: covariance, open motions, redundancy numbers and the w of each reading.

Sources: Ghilani, *Adjustment Computations* (covariance of unknowns, redundancy numbers); Baarda, *A testing procedure
for use in geodetic networks* (1968), the w-test.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cutplan.survey.equations import UNKNOWN_REST, Array, Network

CHECKED = 1e-6
"""A redundancy number below this is none: nothing checks the reading."""


@dataclass(frozen=True, slots=True)
class Quality:
    """Of a solution with a standard deviation of unit weight of 1.

    ``spread`` is the covariance of all coordinates (3 * node + axis; zero for known ones), ``motions`` the motions
    that no reading notices (columns), ``checked`` the redundancy number of each reading, ``w`` its Baarda statistic
    (0 where nothing checks it), ``misfit`` the weighted sum of squares, ``spare`` the redundancy.
    """

    spread: Array
    motions: Array
    checked: Array
    w: Array
    misfit: float
    spare: int


def quality(net: Network, xyz: Array) -> Quality:
    """Everything about the solution ``xyz`` that the readings and their ± say."""
    free = net.free.ravel()
    design = net.weighted(xyz)
    count = int(free.sum())
    left, values, right = np.linalg.svd(design, full_matrices=True)
    rank = int(np.sum(values > UNKNOWN_REST * max(float(values.max(initial=0.0)), 1e-300)))
    inverse = right[:rank].T / values[:rank]
    spread, motions = np.zeros((free.size, free.size)), np.zeros((free.size, count - rank))
    spread[np.ix_(free, free)] = inverse @ inverse.T
    motions[free] = right[rank:].T
    checked = np.clip(1.0 - np.sum(left[:, :rank] ** 2, axis=1), 0.0, 1.0)
    checked[checked < CHECKED] = 0.0
    miss = (net.read() - net.values(xyz)) / net.spreads()
    w = np.divide(miss, np.sqrt(checked), out=np.zeros_like(miss), where=checked > 0)
    return Quality(spread, motions, checked, w, float(miss @ miss), net.rows - rank)
