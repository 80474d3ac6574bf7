"""The equations of a survey, their least-squares solution, and how well that is known.

One row for each reading, in units of its standard deviation: a distance is the length between two nodes, a coordinate
with a ``±`` is itself. Coordinates known exactly are no unknowns. Method: least squares by variation of coordinates
(Ghilani, *Adjustment Computations*, chapter 14), solved by Levenberg and Marquardt's method in scipy (MINPACK).
Covariances and redundancy numbers are from the same book, the w-test from Baarda, *A testing procedure for use in
geodetic networks* (1968).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from cutplan.survey.model import COVERAGE, Distance, Node, SurveyError

Array = NDArray[np.float64]
Whole = NDArray[np.int64]
Flags = NDArray[np.bool_]

ANCHOR = 1e-9
"""Weight that holds what no reading fixes where the start put it; too small to move anything else."""

UNKNOWN_REST = 1e-6
"""Singular values below this part of the largest are zero: a motion that no reading notices."""

CHECKED = 1e-6
"""A redundancy number below this is none: nothing checks the reading."""


@dataclass(frozen=True, slots=True)
class Network:
    """Nodes as rows of arrays: ``base`` is what is known (0 elsewhere), ``free`` what is to be found.

    ``pairs``, ``lengths`` and ``sigmas`` are the distances; ``soft``, ``soft_values`` and ``soft_sigmas`` the
    coordinates that were read, ``soft`` as 3 * node + axis. ``across``: distances to the mirror image of their second
    node, in the plane square to ``axis`` at ``at``.
    """

    names: tuple[str, ...]
    base: Array
    free: Flags
    pairs: Whole
    lengths: Array
    sigmas: Array
    soft: Whole
    soft_values: Array
    soft_sigmas: Array
    across: Flags
    axis: int = 1
    at: float = 0.0

    @property
    def rows(self) -> int:
        """How many readings there are."""
        return len(self.lengths) + len(self.soft_values)

    def without(self, left_out: Sequence[int]) -> Network:
        """The same without some readings, by their row."""
        stay = np.ones(self.rows, dtype=bool)
        stay[list(left_out)] = False
        tapes, coordinates = stay[: len(self.lengths)], stay[len(self.lengths) :]
        return replace(
            self,
            pairs=self.pairs[tapes],
            lengths=self.lengths[tapes],
            sigmas=self.sigmas[tapes],
            across=self.across[tapes],
            soft=self.soft[coordinates],
            soft_values=self.soft_values[coordinates],
            soft_sigmas=self.soft_sigmas[coordinates],
        )

    def pinned(self, at: Sequence[int], values: Sequence[float]) -> Network:
        """The same with some coordinates (3 * node + axis) set."""
        base, free = self.base.copy(), self.free.copy()
        base.ravel()[list(at)] = values
        free.ravel()[list(at)] = False
        return replace(self, base=base, free=free)

    def freed(self, at: Sequence[int]) -> Network:
        """The same with some coordinates (3 * node + axis) that were set to be found."""
        if not at:
            return self
        free = self.free.copy()
        free.ravel()[list(at)] = True
        return replace(self, free=free)

    @property
    def direct(self) -> Network:
        """The same without the distances across the mirror."""
        return self.without(np.flatnonzero(self.across).tolist())

    def values(self, xyz: Array) -> Array:
        """What every reading would be if the nodes were at ``xyz``, by row."""
        return np.concatenate([np.linalg.norm(self._ways(xyz), axis=1), xyz[self.soft // 3, self.soft % 3]])

    def _ways(self, xyz: Array) -> Array:
        """From the first node of each distance to its second, or to that one's mirror image."""
        ends = xyz[self.pairs[:, 1]]
        ends[self.across, self.axis] = 2.0 * self.at - ends[self.across, self.axis]
        return np.asarray(ends - xyz[self.pairs[:, 0]])

    def read(self) -> Array:
        """What was read, by row."""
        return np.concatenate([self.lengths, self.soft_values])

    def spreads(self) -> Array:
        """The standard deviation of every reading, by row."""
        return np.concatenate([self.sigmas, self.soft_sigmas])

    def misfit(self, xyz: Array) -> float:
        """The sum of the squared misses, each in units of its standard deviation."""
        return float(np.sum(((self.values(xyz) - self.read()) / self.spreads()) ** 2))

    def slopes(self, xyz: Array) -> Array:
        """What each reading (row) changes by for each coordinate, known ones too.

        Columns are 3 * node + axis; where ``xyz`` has more columns than three, that many to a node.
        """
        many = xyz.shape[1]
        slopes = np.zeros((self.rows, many * len(self.names)))
        start, end = self.pairs[:, 0], self.pairs[:, 1]
        ways = self._ways(xyz)
        ways = ways / np.maximum(np.linalg.norm(ways, axis=1), 1e-9)[:, None]
        rows = np.arange(len(self.lengths))
        for axis in range(many):
            # A node and its own mirror image are one unknown: what both ends do adds up.
            slopes[rows, many * start + axis] -= ways[:, axis]
            slopes[rows, many * end + axis] += np.where(self.across & (axis == self.axis), -1.0, 1.0) * ways[:, axis]
        slopes[len(self.lengths) + np.arange(len(self.soft)), many * (self.soft // 3) + self.soft % 3] = 1.0
        return slopes

    def weighted(self, xyz: Array) -> Array:
        """The slopes by unknown alone, in units of each reading's standard deviation (the design matrix)."""
        return np.asarray(self.slopes(xyz)[:, self.free.ravel()] / self.spreads()[:, None])


def network(nodes: Sequence[Node], distances: Sequence[Distance], mirror: tuple[int, float] | None) -> Network:
    """The arrays of a survey. Raises SurveyError for a node named twice or a distance to a node that is not there."""
    index = {node.name: i for i, node in enumerate(nodes)}
    if len(index) < len(nodes):
        names = [node.name for node in nodes]
        twice = next(name for i, name in enumerate(names) if name in names[:i])
        raise SurveyError("a node is named once", twice, "rename one of the two")
    for each in distances:
        for name in (each.start, each.end):
            if name not in index:
                raise SurveyError("no node has this name", name, "add the node, or correct the name")
        if each.across and mirror is None:
            raise SurveyError("there is no mirror to measure across", f"{each.start} to {each.end}", "give its plane")
    given = [(3 * i + axis, known) for i, node in enumerate(nodes) for axis, known in enumerate(node.known) if known]
    base, free = np.zeros((len(nodes), 3)), np.ones((len(nodes), 3), dtype=bool)
    for at, known in given:
        base.ravel()[at] = known.value
        free.ravel()[at] = known.doubt > 0
    soft = [(at, known) for at, known in given if known.doubt > 0]
    return Network(
        tuple(index),
        base,
        free,
        np.array([(index[each.start], index[each.end]) for each in distances], dtype=np.int64).reshape(-1, 2),
        np.array([each.value for each in distances], dtype=float),
        np.array([each.doubt / COVERAGE for each in distances], dtype=float),
        np.array([at for at, _ in soft], dtype=np.int64),
        np.array([known.value for _, known in soft], dtype=float),
        np.array([known.doubt / COVERAGE for _, known in soft], dtype=float),
        np.array([each.across for each in distances], dtype=bool),
        *(mirror or ()),
    )


def solved(net: Network, start: Array, robust: bool = False, rough: bool = False, settle: bool = True) -> Array:
    """The nearest solution from ``start``. ``robust`` weighs a large miss less, to find the shape despite a slip; that
    is as far as it goes if it is not to ``settle``.

    ``rough``: near enough to say what shape it is and whether it fits.
    """
    from scipy.optimize import least_squares

    free = net.free.ravel()
    fixed = np.where(net.free, 0.0, net.base)
    begin = np.where(net.free, start, 0.0).ravel()[free]
    if not begin.size:
        return fixed
    read, spreads, hold = net.read(), net.spreads(), ANCHOR * np.eye(begin.size)

    def placed(unknown: Array) -> Array:
        xyz = fixed.ravel().copy()
        xyz[free] = unknown
        return xyz.reshape(-1, 3)

    def misses(unknown: Array) -> Array:
        return np.concatenate([(net.values(placed(unknown)) - read) / spreads, ANCHOR * (unknown - begin)])

    def slopes(unknown: Array) -> Array:
        return np.vstack([net.weighted(placed(unknown)), hold])

    if robust:
        found = least_squares(misses, begin, slopes, method="trf", loss="soft_l1", f_scale=2.0, max_nfev=100)
        begin = np.asarray(found.x)
        if not settle:
            return placed(begin)
    near, most = (1e-7, 60) if rough else (1e-15, 300)
    found = least_squares(misses, begin, slopes, method="lm", xtol=near, ftol=near, gtol=near, max_nfev=most)
    return placed(np.asarray(found.x))


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
