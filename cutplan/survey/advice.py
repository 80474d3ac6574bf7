"""What is not fixed, and which further reading would fix most.

Every unknown is given a standard deviation of a metre besides what the readings say; then each reading that could
still be taken is worth the part of the total variance that it would take away (optimal design, criterion A).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations, combinations_with_replacement

import numpy as np

from cutplan.survey.equations import Array, Network, Quality
from cutplan.survey.mirrors import NEAR_MM
from cutplan.survey.model import Advice

BEFORE_MM = 1000.0
FAINT_MM = 50.0
"""A coordinate whose standard deviation is more than this is as good as open."""

WEAK_MM, WEAK_TIMES = 5.0, 5.0
"""A coordinate whose standard deviation is more than this, and than so many times that of a reading, is poorly fixed:
common practice, no source."""

MOVES = 1e-3
MOST = 12


def loose_nodes(net: Network, found: Quality) -> list[int]:
    """Nodes that can still move, or whose place is so faint that it is worth nothing."""
    spread = np.sqrt(np.diag(found.spread)).reshape(-1, 3).max(axis=1)
    moves = np.linalg.norm(found.motions, axis=1).reshape(-1, 3).max(axis=1, initial=0.0)
    return [int(node) for node in np.flatnonzero((moves > MOVES) | (spread > FAINT_MM))]


def weak_nodes(net: Network, found: Quality) -> list[tuple[int, int]]:
    """Nodes that are fixed poorly, and the axis along which each is worst."""
    spread = np.sqrt(np.diag(found.spread)).reshape(-1, 3)
    return [(int(node), int(spread[node].argmax())) for node in np.flatnonzero(spread.max(axis=1) > _weak(net))]


def _weak(net: Network) -> float:
    return max(WEAK_MM, WEAK_TIMES * float(np.median(net.spreads()))) if net.rows else WEAK_MM


def better(net: Network, xyz: Array, weak: Sequence[int], *, mirrored: bool) -> list[Advice]:
    """Further readings until none of the ``weak`` nodes is fixed poorly."""
    return advice(net, xyz, weak, mirrored=mirrored, faint=_weak(net))


def advice(net: Network, xyz: Array, loose: Sequence[int], *, mirrored: bool, faint: float = FAINT_MM) -> list[Advice]:
    """Further readings, the one that fixes most first, until ``loose`` nodes are fixed by them to within ``faint``.
    ``mirrored``: a distance may go across the mirror."""
    if not loose:
        return []
    free = net.free.ravel()
    design = net.weighted(xyz)
    spread = np.asarray(np.linalg.inv(design.T @ design + np.eye(int(free.sum())) / BEFORE_MM**2), dtype=float)
    sigma = float(np.median(net.spreads())) if net.rows else 1.0
    tapes, coordinates = _candidates(net, xyz, mirrored)
    rows_of = np.array([np.flatnonzero(free) // 3]).ravel()
    chosen: list[Advice] = []
    while len(chosen) < MOST:
        still = np.sqrt(np.maximum(np.diag(spread), 0.0)) > faint
        if not (still & np.isin(rows_of, loose)).any():
            break
        best, worth = _best(tapes, spread, sigma)
        other, more = _best(coordinates, spread, sigma)
        if more > 10.0 * worth:
            best = other
        row = tapes[best] if best in tapes else coordinates[best]
        chosen.append(best)
        gain = spread @ row
        spread = spread - np.outer(gain, gain) / (sigma**2 + float(row @ gain))
    return chosen


def _candidates(net: Network, xyz: Array, mirrored: bool) -> tuple[dict[Advice, Array], dict[Advice, Array]]:
    free = net.free.ravel()
    done = {(*sorted(pair), across) for pair, across in zip(net.pairs.tolist(), net.across.tolist(), strict=True)}
    pairs = [(i, j, False) for i, j in combinations(range(len(xyz)), 2)]
    if mirrored:
        off = np.flatnonzero(np.abs(xyz[:, net.axis] - net.at) > NEAR_MM).tolist()
        pairs += [(i, j, True) for i, j in combinations_with_replacement(off, 2)]
    tapes: dict[Advice, Array] = {}
    for i, j, across in pairs:
        if (i, j, across) in done or not net.free[[i, j]].any():
            continue
        to, sides = xyz[j].copy(), np.ones(3)
        if across:
            to[net.axis], sides[net.axis] = 2.0 * net.at - to[net.axis], -1.0
        way = to - xyz[i]
        length = float(np.linalg.norm(way))
        if length > 1.0:
            row = np.zeros(free.size)
            row[3 * j : 3 * j + 3] += sides * way / length
            row[3 * i : 3 * i + 3] -= way / length
            tapes[Advice(net.names[i], net.names[j], None, across)] = row[free]
    coordinates: dict[Advice, Array] = {}
    for at in np.flatnonzero(free):
        row = np.zeros(free.size)
        row[at] = 1.0
        coordinates[Advice(net.names[at // 3], "", int(at % 3))] = row[free]
    return tapes, coordinates


def _best(candidates: dict[Advice, Array], spread: Array, sigma: float) -> tuple[Advice, float]:
    if not candidates:
        return Advice("", "", None), 0.0
    rows = np.array(list(candidates.values()))
    gains = rows @ spread
    worth = np.sum(gains**2, axis=1) / (sigma**2 + np.sum(gains * rows, axis=1))
    at = int(np.argmax(worth))
    return list(candidates)[at], float(worth[at])
