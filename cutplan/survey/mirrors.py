"""Places that fit the readings as well as the first one: parts of the frame reflected in a plane.

A distance does not say on which side it was measured. Where some nodes are tied to the rest only through nodes of one
plane, they can be reflected in it, and no reading notices (Hendrickson, *Conditions for unique graph realizations*,
1992). The planes tried go through three nodes, or through one or two and along an axis.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from cutplan.survey.equations import Array, Flags, Network, solved
from cutplan.survey.model import CLEAR_MM, Side
from cutplan.survey.starts import known_values

NEAR_MM = 8.0
"""A node this near to a plane may be in it: a reflection must not be missed for a reading's error."""

SAME_MM = 3.0
"""Places nearer than this are one place."""

AS_GOOD = 16.0
"""A sum of squares this much above the least is still as good: odds of about 3000 to 1."""

PLANES_NODES = 45
"""Beyond this many nodes only the planes of neighbours are tried: all triples would take minutes."""


@dataclass(frozen=True, slots=True)
class Wishes:
    """What was said of sides, by node, and the rough places (NaN where nothing was said)."""

    sides: tuple[tuple[int, Side], ...]
    about: Array
    index: dict[str, int]

    def unmet(self, xyz: Array) -> list[tuple[int, Side]]:
        """The sides that ``xyz`` does not satisfy."""
        return [(node, side) for node, side in self.sides if self._contradicted(xyz, node, side)]

    def far(self, xyz: Array) -> float:
        """How far ``xyz`` is from the rough places."""
        return float(np.nansum((xyz - self.about) ** 2) ** 0.5)

    def prefers(self, one: Array, other: Array) -> bool:
        """Whether ``other`` is what was meant rather than ``one``."""
        before, after = len(self.unmet(one)), len(self.unmet(other))
        return after < before or (after == before and self.far(other) < self.far(one) - SAME_MM)

    def settles(self, one: Array, other: Array) -> bool:
        """Whether what was said decides between the two, either way."""
        return self.prefers(one, other) or self.prefers(other, one)

    def _contradicted(self, xyz: Array, node: int, side: Side) -> bool:
        """A node that is hardly off the middle says nothing: its side would be decided by a reading's error."""
        than = xyz[self.index[side.than], side.axis] if isinstance(side.than, str) else side.than
        further = float(xyz[node, side.axis] - than)
        return (-further if side.more else further) > CLEAR_MM


def meant(net: Network, xyz: Array, wishes: Wishes) -> Array:
    """The reflection that fits as well and is what was said, or ``xyz`` itself."""
    for _ in range(2 * len(net.names) + 1):
        if not wishes.unmet(xyz) and not np.isfinite(wishes.about).any():
            return xyz
        better = next((other for other in reflections(net, xyz) if wishes.prefers(xyz, other)), None)
        if better is None:
            return xyz
        xyz = better
    return xyz


def reflections(net: Network, xyz: Array) -> Iterator[Array]:
    """Every other place that fits as well, with one part reflected, solved again."""
    least = net.misfit(xyz)
    seen: set[tuple[int, str]] = set()
    known, ties = known_values(net), _ties(net)
    for kind, point, normal in _planes(net, xyz):
        off = (xyz - point) @ normal
        inside = sum(1 << int(node) for node in np.flatnonzero(np.abs(off) < NEAR_MM))
        if (inside, kind) in seen:
            continue
        seen.add((inside, kind))
        for part in _parts(ties, inside):
            other = xyz.copy()
            other[part] -= 2.0 * np.outer(off[part], normal)
            if _worth_it(net, xyz, other, known):
                other = solved(net, other)
                if net.misfit(other) < least + AS_GOOD and apart(xyz, other).any():
                    yield other


def apart(one: Array, other: Array) -> Flags:
    """Which nodes are in different places."""
    return np.asarray(np.abs(one - other).max(axis=1) > SAME_MM)


def _worth_it(net: Network, xyz: Array, other: Array, known: Array) -> bool:
    """Whether the reflection keeps every known coordinate and nearly every distance."""
    kept = np.nan_to_num(np.abs(other - known) - np.abs(xyz - known))
    if kept.max(initial=0.0) > 2.0 * NEAR_MM or np.abs(other - xyz).max(initial=0.0) <= SAME_MM:
        return False
    changed = np.abs(net.values(other) - net.values(xyz))
    return bool(changed.max(initial=0.0) < 4.0 * NEAR_MM)


def _planes(net: Network, xyz: Array) -> Iterator[tuple[str, Array, Array]]:
    """Each with its kind: planes of one kind through the same nodes are one plane, of two kinds they need not be."""
    axes = np.eye(3)
    for node in range(len(xyz)):
        for axis in range(3):
            yield f"square to {axis}", xyz[node], axes[axis]
    for i, j in combinations(range(len(xyz)), 2):
        for axis in range(3):
            yield from _plane(f"along {axis}", xyz[i], xyz[j] - xyz[i], axes[axis])
    for i, j, k in _triples(net, len(xyz)):
        yield from _plane("three nodes", xyz[i], xyz[j] - xyz[i], xyz[k] - xyz[i])


def _triples(net: Network, count: int) -> Iterator[tuple[int, ...]]:
    if count <= PLANES_NODES:
        yield from combinations(range(count), 3)
        return
    for node in range(count):
        ties = net.pairs[(net.pairs == node).any(axis=1)].ravel()
        yield from combinations(sorted(set(ties.tolist()) - {node}), 3)


def _plane(kind: str, point: Array, along: Array, across: Array) -> Iterator[tuple[str, Array, Array]]:
    normal = np.cross(along, across)
    length = float(np.linalg.norm(normal))
    if length > 1e-3 * float(np.linalg.norm(along)) * max(float(np.linalg.norm(across)), 1e-9):
        yield kind, point, normal / length


def _parts(ties: Sequence[int], inside: int) -> list[list[int]]:
    """The groups of nodes that hang together without those in the plane; sets of nodes are the bits of a number."""
    left = ((1 << len(ties)) - 1) & ~inside
    parts = []
    while left:
        part, edge = 0, left & -left
        while edge:
            part |= edge
            left &= ~edge
            reached = 0
            while edge:
                lowest = edge & -edge
                reached |= ties[lowest.bit_length() - 1]
                edge ^= lowest
            edge = reached & left
        parts.append([node for node in range(len(ties)) if part >> node & 1])
    return parts


def _ties(net: Network) -> list[int]:
    ties = [0] * len(net.names)
    for i, j in net.pairs.tolist():
        ties[i] |= 1 << j
        ties[j] |= 1 << i
    return ties


@dataclass(frozen=True, slots=True)
class Choice:
    """Nodes that change sides together, and the one of them, with its axis, that says best which side is meant."""

    differ: tuple[int, ...]
    node: int
    axis: int
    here: float
    there: float

    def settles(self, other: Array) -> bool:
        """Whether ``other`` is on the far side of what is asked, so that it needs no question of its own."""
        middle = (self.here + self.there) / 2.0
        off = float(other[self.node, self.axis]) - middle
        return off * (self.here - middle) < 0.0 and abs(off) > CLEAR_MM


def choices(xyz: Array, rivals: Sequence[tuple[Flags, Array]]) -> list[Choice]:
    """The fewest questions, asked of few nodes first, that decide between ``xyz`` and its ``rivals``: each other place
    with the nodes that differ there."""
    asked: list[Choice] = []
    for flags, other in sorted(rivals, key=lambda each: int(each[0].sum())):
        if any(one.settles(other) for one in asked):
            continue
        differ = np.flatnonzero(flags).tolist()
        steps = np.abs(xyz - other)[differ]
        row, axis = (int(each) for each in np.unravel_index(int(np.argmax(steps)), steps.shape))
        node = differ[row]
        asked.append(Choice(tuple(differ), node, axis, float(xyz[node, axis]), float(other[node, axis])))
    return asked
