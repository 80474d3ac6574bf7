"""Rough places to begin from, out of distances alone: nobody has to give any.

Three methods in turn. *Scaling*: missing distances are replaced by the shortest way along measured ones, and
classical multidimensional scaling (Torgerson 1952) lays the nodes out. *Lifting*: the same, unfolded through a fourth
dimension. Where a part of a frame was laid on the wrong side of the rest, distances alone cannot bring it over, for
every way leads through worse shapes; with a fourth coordinate it turns round through the room beyond, and that
coordinate is then made dearer step by step until it is gone (Crippen, *Conformational analysis by energy embedding*,
1982, from memory). *One after another*: each node is placed from those already there, the best tied one first, on a
side picked at random.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.random import Generator

from cutplan.survey.equations import ANCHOR, Array, Flags, Network, solved

TURNED = (1, 1, 2, 3, 6)
"""How many nodes are turned over at once, one of these at random."""

OUT_OF_SPACE = 0.3
"""How far out of space the nodes begin, as a part of the frame's size."""

DEARER = (0.03, 0.3, 1.0)
STEP = 0.02
"""What is out of space by this part of the frame's size weighs as much as a miss of ``SOFT``, times each of these."""

SOFT = 5.0
"""Standard deviations that a reading may be off without counting for much on the way."""


def starts(net: Network, about: Array, rng: Generator) -> Iterator[Array]:
    """Rough places without end, each different; ``about`` (NaN where nothing is said) is used in the first ones."""
    whole, net = net, net.direct
    hinted = bool(np.isfinite(about).any())
    while True:
        if hinted:
            yield np.where(np.isfinite(about), about, _one_after_another(net, about, rng))
        yield lifted(whole, _scaled(net, rng), size(net), rng)
        yield _scaled(net, rng)
        yield _one_after_another(net, np.full_like(about, np.nan), rng)


def lifted(net: Network, start: Array, across: float, rng: Generator) -> Array:
    """Places near a solution, from ``start`` moved out of space at random."""
    from scipy.optimize import least_squares

    count = len(net.names)
    out = net.free.any(axis=1, keepdims=True)
    free = np.hstack([net.free, out]).ravel()
    fixed = np.hstack([np.where(net.free, 0.0, net.base), np.zeros((count, 1))]).ravel()
    begin = np.hstack([start, OUT_OF_SPACE * across * out * rng.standard_normal((count, 1))]).ravel()[free]
    spreads = SOFT * net.spreads()
    beyond = np.eye(4 * count)[4 * np.flatnonzero(out.ravel()) + 3][:, free]
    hold = ANCHOR * np.eye(begin.size)

    def placed(unknown: Array) -> Array:
        places = fixed.copy()
        places[free] = unknown
        return places.reshape(-1, 4)

    for price in (dear / (STEP * across) for dear in DEARER if begin.size):

        def misses(unknown: Array, price: float = price, begin: Array = begin) -> Array:
            off = (net.values(placed(unknown)) - net.read()) / spreads
            return np.concatenate([off, price * (beyond @ unknown), ANCHOR * (unknown - begin)])

        def slopes(unknown: Array, price: float = price) -> Array:
            return np.vstack([net.slopes(placed(unknown))[:, free] / spreads[:, None], price * beyond, hold])

        found = least_squares(misses, begin, slopes, method="lm", xtol=1e-6, ftol=1e-6, gtol=1e-9, max_nfev=50)
        begin = np.asarray(found.x)
    return placed(begin)[:, :3]


def turned_over(net: Network, xyz: Array, rng: Generator) -> Array:
    """A solution with one or several nodes each reflected in the plane of three that it was measured to."""
    ties = [np.unique(net.pairs[(net.pairs == node).any(axis=1)]) for node in range(len(xyz))]
    xyz = xyz.copy()
    for _ in range(int(rng.choice(TURNED))):
        node = int(rng.integers(len(xyz)))
        others = ties[node][ties[node] != node]
        if len(others) < 3:
            continue
        first, second, third = xyz[rng.choice(others, 3, replace=False)]
        normal = np.cross(second - first, third - first)
        square = float(normal @ normal)
        if square > 0:
            xyz[node] -= 2.0 * ((xyz[node] - first) @ normal / square) * normal
    return xyz


def size(net: Network) -> float:
    """A length of the frame's order: the longest reading, or the spread of what is known."""
    known = net.base[~net.free.any(axis=1)]
    across = float(np.ptp(known, axis=0).max()) if len(known) > 1 else 0.0
    return max(float(net.lengths.max(initial=0.0)), across, 1.0)


def known_values(net: Network) -> Array:
    """Coordinates that are given, exactly or with a ±; NaN elsewhere."""
    values = np.where(net.free, np.nan, net.base)
    values.ravel()[net.soft] = net.soft_values
    return values


def _scaled(net: Network, rng: Generator) -> Array:
    from scipy.sparse.csgraph import shortest_path

    count = len(net.names)
    ways = np.full((count, count), np.inf)
    known = known_values(net)
    for (i, j), length in zip(net.pairs, net.lengths, strict=True):
        ways[i, j] = ways[j, i] = length
    full = np.flatnonzero(np.isfinite(known).all(axis=1))
    for i in full:
        for j in full:
            ways[i, j] = max(float(np.linalg.norm(known[i] - known[j])), 1e-6)
    np.fill_diagonal(ways, 0.0)
    apart = shortest_path(np.where(np.isfinite(ways), ways, 0.0), directed=False)
    apart = np.where(np.isfinite(apart), apart, 2.0 * size(net))
    apart = apart * (1.0 + 0.02 * rng.standard_normal(apart.shape))
    centred = np.eye(count) - 1.0 / count
    values, vectors = np.linalg.eigh(-0.5 * centred @ (apart**2 + apart.T**2) / 2.0 @ centred)
    laid = np.zeros((count, 3))
    most = min(3, count)
    laid[:, :most] = vectors[:, ::-1][:, :most] * np.sqrt(np.maximum(values[::-1][:most], 0.0))
    laid = _brought_over(laid, known, rng)
    return np.where(np.isfinite(known), known, laid)


def _brought_over(laid: Array, known: Array, rng: Generator) -> Array:
    """Turned and shifted onto the coordinates that are known, or turned at random; mirrored half of the time."""
    from scipy.optimize import least_squares
    from scipy.spatial.transform import Rotation

    laid = laid * np.array([1.0, 1.0, rng.choice([-1.0, 1.0])])
    given = np.isfinite(known)
    begin = np.concatenate([Rotation.random(rng=rng).as_rotvec(), np.zeros(3)])
    if not given.any():
        return np.asarray(Rotation.from_rotvec(begin[:3]).apply(laid))
    begin[3:] = np.nan_to_num(np.array([known[given[:, k], k].mean() if given[:, k].any() else 0.0 for k in range(3)]))

    def moved(six: Array) -> Array:
        return np.asarray(Rotation.from_rotvec(six[:3]).apply(laid) + six[3:])

    found = least_squares(lambda six: (moved(six) - known)[given], begin, max_nfev=60)
    return moved(np.asarray(found.x))


def _one_after_another(net: Network, about: Array, rng: Generator) -> Array:
    places = known_values(net)
    there: Flags = np.asarray(np.isfinite(places).all(axis=1))
    if not there.any():
        seed = int(rng.integers(len(net.names)))
        places[seed] = np.nan_to_num(places[seed])
        there[seed] = True
    while not there.all():
        node = _best_tied(net, places, there, rng)
        places[node] = _placed(net, places, there, node, about[node], rng)
        there[node] = True
    return places


def _best_tied(net: Network, places: Array, there: Flags, rng: Generator) -> int:
    ties = np.isfinite(places).sum(axis=1) + rng.random(len(there)) * 0.5
    start, end = net.pairs[:, 0], net.pairs[:, 1]
    np.add.at(ties, start[there[end]], 1.0)
    np.add.at(ties, end[there[start]], 1.0)
    return int(np.argmax(np.where(there, -1.0, ties)))


def _placed(net: Network, places: Array, there: Flags, node: int, about: Array, rng: Generator) -> Array:
    """One node from those there: least squares from a random point on one side, the better of three tries."""
    start, end = net.pairs[:, 0], net.pairs[:, 1]
    ties = ((start == node) & there[end]) | ((end == node) & there[start])
    base = np.where(there[:, None], places, 0.0)
    base[node] = np.nan_to_num(places[node])
    free = np.zeros_like(net.free)
    free[node] = ~np.isfinite(places[node])
    others = there if not ties.any() else np.isin(np.arange(len(there)), net.pairs[ties]) & there
    middle = base[others].mean(axis=0)
    reach = float(net.lengths[ties].max(initial=0.0)) or size(net) / 2.0
    others_rows = np.flatnonzero(np.append(~ties, np.ones(len(net.soft), dtype=bool)))
    local = replace(net.without(others_rows.tolist()), base=base, free=free)
    best, least = base, np.inf
    for _ in range(3):
        begin = base.copy()
        begin[node] = np.where(free[node], middle + reach * rng.standard_normal(3), base[node])
        begin[node] = np.where(free[node] & np.isfinite(about), about, begin[node])
        found = solved(local, begin, rough=True) if ties.any() else begin
        misfit = local.misfit(found)
        if misfit < least - 1e-3:
            best, least = found, misfit
        if least < 1e3:
            break
    return np.asarray(best[node])
