"""A frame that nothing fixes in space is set down: some coordinates are chosen, without changing its shape.

The motions of a rigid body (three shifts, three turns) that leave every known coordinate as it is are taken away by
setting coordinates one by one, in the order of the nodes: the first node, one away from it, one off their line.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from cutplan.survey.equations import Array, Network
from cutplan.survey.mirrors import Wishes
from cutplan.survey.model import Side
from cutplan.survey.starts import known_values, size

WELL = 0.3
"""A coordinate is chosen only if setting it holds a motion at least this well, against the best one."""


@dataclass(frozen=True, slots=True)
class Pinned:
    """The network with ``chosen`` coordinates set, every solution moved there, and the wishes with the signs chosen."""

    net: Network
    found: list[Array]
    chosen: tuple[tuple[str, int], ...]
    wishes: Wishes


def pinned(net: Network, found: list[Array], wishes: Wishes) -> Pinned:
    """The frame set down. Nothing is chosen, and it stays free to move, if the coordinates cannot be reached."""
    at = _chosen(net, found[0])
    known = known_values(net)
    values = [_level(known, each) for each in at]
    moved = [_moved(known, each, at, values, wishes) for each in found] if at else [None]
    first = moved[0]
    if first is None:
        return Pinned(net, found, (), wishes)
    if not np.isfinite(known).any():
        moved = [None if each is None else _same_way_round(each, at, wishes) for each in moved]
        first = moved[0] if moved[0] is not None else first
    chosen = tuple((net.names[each // 3], each % 3) for each in at)
    signs = _signs(net.pinned(at, values), first, at)
    return Pinned(
        net.pinned(at, values),
        [each for each in moved if each is not None],
        chosen,
        replace(wishes, sides=(*wishes.sides, *signs)),
    )


def _same_way_round(xyz: Array, at: list[int], wishes: Wishes) -> Array:
    """Of the eight ways in which distances alone leave a frame on its axes, the one that was said; else the same one
    every time: the second node to the front, the third to the left, the first that is well off their plane above it."""
    along, third = at[3] // 3, at[-1] // 3
    up = np.abs(xyz[:, 2])
    above = int(np.argmax(up >= WELL * up.max()))
    ways: list[Array] = [xyz * np.array(signs) + 0.0 for signs in product((1.0, -1.0), repeat=3)]
    ways.sort(key=lambda way: (way[along, 0] > 0.0, way[third, 1] > 0.0, way[above, 2] > 0.0), reverse=True)
    best = ways[0]
    for way in ways[1:]:
        best = way if wishes.prefers(best, way) else best
    return best


def _signs(net: Network, xyz: Array, at: list[int]) -> list[tuple[int, Side]]:
    """On which side of zero the frame was set down: turned half round it would be the same frame."""
    origin = at[0] // 3
    signs = []
    for node in dict.fromkeys(each // 3 for each in at):
        left = np.flatnonzero(net.free[node])
        if node != origin and 1 <= len(left) <= 2:
            axis = int(left[-1])
            signs.append((node, Side(axis, bool(xyz[node, axis] > xyz[origin, axis]), net.names[origin])))
    return signs


def _level(known: Array, at: int) -> float:
    given = known[:, at % 3][np.isfinite(known[:, at % 3])]
    return float(given[0]) if given.size else 0.0


def _chosen(net: Network, xyz: Array) -> list[int]:
    known = np.isfinite(known_values(net)).ravel()
    if (known.reshape(-1, 3).all(axis=1)).sum() > 1 or net.across.any():
        return []
    if not known.any():
        return _first_three(xyz)
    rigid = _motions(xyz, size(net))
    still = _unheld(rigid, rigid[known])
    order = [3 * node + axis for node in range(len(xyz)) for axis in (2, 1, 0) if not known[3 * node + axis]]
    chosen: list[int] = []
    while still.shape[1] and order:
        holds = np.linalg.norm(rigid[order] @ still, axis=1)
        if holds.max() < 1e-6:
            break
        first = order[int(np.argmax(holds >= WELL * holds.max()))]
        chosen.append(first)
        order.remove(first)
        still = still @ _unheld(np.eye(still.shape[1]), (rigid[[first]] @ still))
    return chosen


def _first_three(xyz: Array) -> list[int]:
    """The first node at zero, one away from it on the x axis, and one off that line at the height of both."""
    away = np.linalg.norm(xyz - xyz[0], axis=1)
    along = int(np.argmax(away >= WELL * away.max()))
    way = (xyz[along] - xyz[0]) / max(float(away[along]), 1e-9)
    off = np.linalg.norm(np.cross(xyz - xyz[0], way), axis=1)
    third = int(np.argmax(off >= WELL * off.max()))
    turning = [3 * third + 2] if off[third] > 1e-3 * away.max() else []
    return [2, 1, 0, 3 * along + 2, 3 * along + 1, *turning]


def _motions(xyz: Array, across: float) -> Array:
    """Rows of coordinates, columns of the six motions; turns scaled so that they compare with shifts."""
    motions = np.zeros((xyz.size, 6))
    away = (xyz - xyz.mean(axis=0)) / across
    for axis in range(3):
        motions[axis::3, axis] = 1.0
        motions[:, 3 + axis] = np.cross(np.eye(3)[axis], away).ravel()
    return motions


def _unheld(motions: Array, held: Array) -> Array:
    """A basis of the combinations of columns that ``held`` does not notice."""
    if not held.shape[0]:
        return np.eye(motions.shape[1])
    _, values, right = np.linalg.svd(held, full_matrices=True)
    return np.asarray(right[int(np.sum(values > 1e-6)) :].T)


def _moved(known: Array, xyz: Array, at: list[int], values: list[float], wishes: Wishes) -> Array | None:
    """``xyz`` turned and shifted so that the chosen coordinates hold: of several ways the one that was said."""
    from scipy.optimize import least_squares
    from scipy.spatial.transform import Rotation

    target = known.ravel().copy()
    target[at] = values
    given = np.isfinite(target)
    middle = xyz.mean(axis=0)
    aim = np.where(given & ~np.isfinite(known.ravel()), target, xyz.ravel())
    scale = np.array([1.0, 1.0, 1.0, *[max(float(np.ptp(xyz)), 1.0)] * 3])
    rng = np.random.default_rng(len(xyz))
    best: Array | None = None
    for turn in [Rotation.identity(), *Rotation.random(16, rng=rng)]:

        def placed(six: Array, turn: Rotation = turn) -> Array:
            return np.asarray((Rotation.from_rotvec(six[:3]) * turn).apply(xyz - middle) + middle + six[3:])

        def misses(six: Array) -> Array:
            return np.asarray((placed(six).ravel() - aim)[given])

        six = least_squares(misses, np.zeros(6), xtol=1e-14, ftol=1e-14, gtol=1e-14, max_nfev=100, x_scale=scale)
        if np.abs(six.fun).max(initial=0.0) > 1e-4:
            continue
        there = placed(np.asarray(six.x))
        if (
            best is None
            or wishes.prefers(best, there)
            or (not wishes.prefers(there, best) and there.sum() > best.sum() + 1.0)
        ):
            best = there
    return best
