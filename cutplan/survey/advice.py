"""What is not fixed, and which further reading would fix most.

Every unknown is given a standard deviation of a metre besides what the readings say; then each reading that could
still be taken is worth the part of the total variance that it would take away (optimal design, criterion A).
"""

from __future__ import annotations

from itertools import combinations

import numpy as np

from cutplan.survey.equations import Array, Network, Quality
from cutplan.survey.model import Advice

BEFORE_MM = 1000.0
FAINT_MM = 50.0
"""A coordinate whose standard deviation is more than this is as good as open."""

MOVES = 1e-3
MOST = 12


def loose_nodes(net: Network, found: Quality) -> list[int]:
    """Nodes that can still move, or whose place is so faint that it is worth nothing."""
    spread = np.sqrt(np.diag(found.spread)).reshape(-1, 3).max(axis=1)
    moves = np.linalg.norm(found.motions, axis=1).reshape(-1, 3).max(axis=1, initial=0.0)
    return [int(node) for node in np.flatnonzero((moves > MOVES) | (spread > FAINT_MM))]


def advice(net: Network, xyz: Array, loose: list[int]) -> list[Advice]:
    """Further readings, the one that fixes most first, until ``loose`` nodes are fixed by them."""
    if not loose:
        return []
    free = net.free.ravel()
    design = net.weighted(xyz)
    spread = np.asarray(np.linalg.inv(design.T @ design + np.eye(int(free.sum())) / BEFORE_MM**2), dtype=float)
    sigma = float(np.median(net.spreads())) if net.rows else 1.0
    tapes, coordinates = _candidates(net, xyz)
    rows_of = np.array([np.flatnonzero(free) // 3]).ravel()
    chosen: list[Advice] = []
    while len(chosen) < MOST:
        faint = np.sqrt(np.maximum(np.diag(spread), 0.0)) > FAINT_MM
        if not (faint & np.isin(rows_of, loose)).any():
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


def _candidates(net: Network, xyz: Array) -> tuple[dict[Advice, Array], dict[Advice, Array]]:
    free = net.free.ravel()
    done = {tuple(sorted(pair)) for pair in net.pairs.tolist()}
    pairs = [pair for pair in combinations(range(len(xyz)), 2) if pair not in done and net.free[list(pair)].any()]
    tapes: dict[Advice, Array] = {}
    for i, j in pairs:
        way = xyz[j] - xyz[i]
        length = float(np.linalg.norm(way))
        if length > 1.0:
            row = np.zeros(free.size)
            row[3 * j : 3 * j + 3], row[3 * i : 3 * i + 3] = way / length, -way / length
            tapes[Advice(net.names[i], net.names[j], None)] = row[free]
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
