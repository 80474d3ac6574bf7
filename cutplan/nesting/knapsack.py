"""The best pattern for given values: a bounded knapsack by dynamic programming over the lengths that sums of pieces can
reach, in whole numbers throughout.

Where mitres are shared the table has a layer for every state of the bar (see `joints`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from cutplan.nesting.clock import Clock
from cutplan.nesting.shared_cuts import Machine

Counts = tuple[tuple[int, int], ...]
Ints = NDArray[np.int64]
_NEVER = -(1 << 60)
MOST_SUM = 1 << 59
"""No sum of values comes to this: it fits a whole number of 64 bits, with room for what is added to `_NEVER`."""

_UNPACKED = 16_000_000
"""Entries of a table, all kinds together, up to which each has a byte to say how it was come by: beyond, a bit."""

_LAYER = 3_000
"""Steps for a layer of the table, beside one for each of its entries: what calling numpy costs."""


def whole_values(
    raw: Sequence[float], scale: int, counts: Sequence[int], ceilings: Sequence[float] | None = None
) -> tuple[tuple[int, ...], int]:
    """Values of the kinds as whole numbers over a scale, and that scale: the one asked for, or less where ``counts`` of
    each would add up to more than 64 bits hold. None is below 0, or above its ceiling."""
    caps = [float("inf")] * len(raw) if ceilings is None else ceilings
    held = [max(0.0, min(value, cap)) for value, cap in zip(raw, caps, strict=True)]
    total = sum(value * count for value, count in zip(held, counts, strict=True))
    room = MOST_SUM // 2  # each may be rounded up by a half, hence half the room only
    if total * scale > room:
        scale = max(1, int(room / total))
    if total > room:  # even over 1: any smaller values make a bound too, only a weaker one
        held = [value * (room / total) for value in held]
    tops = [float("inf") if cap == float("inf") else int(cap) * scale for cap in caps]
    return tuple(int(min(round(value * scale), top)) for value, top in zip(held, tops, strict=True)), scale


class Grid:
    """The lengths that sums of pieces can reach and that leave what a sum can fill, up to the longest bar, and where
    each shift leads."""

    def __init__(
        self,
        weights: Sequence[int],
        copies: Sequence[int],
        capacities: Sequence[int],
        machine: Machine,
        kinds: Sequence[tuple[int, int]],
    ) -> None:
        """``weights``: what each kind of piece takes. ``copies``: how many of it one bar can hold at most."""
        self.machine = machine
        self.kinds = tuple(kinds)
        self.weights = tuple(weights)
        self.capacities = tuple(capacities)
        top = max(capacities)
        mask = (1 << (top + 1)) - 1
        reach = 1
        for weight, count, ends in zip(weights, copies, kinds, strict=True):
            if ends == (0, 0):
                for size in _split(count):
                    reach |= (reach << (weight * size)) & mask
            else:
                takes = {weight - saved for _, saved in machine.step[ends]}
                for _ in range(count):
                    for take in takes:
                        reach |= (reach << take) & mask
        raw = np.frombuffer(reach.to_bytes(top // 8 + 1, "little"), dtype=np.uint8)
        reached = np.flatnonzero(np.unpackbits(raw, bitorder="little"))
        lengths = reached.astype(np.int64)
        self._rooms = lengths
        if all(ends == (0, 0) for ends in kinds):
            lengths, self._rooms = _useful(lengths, [capacity for capacity in capacities if capacity >= 0])
        # Following an index costs some five times a plain shift, so thin it out only where that pays.
        self.dense = len(lengths) * 4 > top
        self.lengths: Ints = np.arange(top + 1) if self.dense else lengths
        self._shifts: dict[int, tuple[int, Ints | None]] = {}

    @property
    def size(self) -> int:
        """The number of lengths."""
        return len(self.lengths)

    def at(self, length: int) -> int:
        """The place of the greatest reachable length up to this one; -1 below zero."""
        return int(np.searchsorted(self.lengths, length, side="right")) - 1

    def shift(self, weight: int) -> tuple[int, Ints | None]:
        """The first place a piece of this weight can end at, and where each place from there on came from
        (None: plainly the weight before)."""
        if weight not in self._shifts:
            first, source = weight, None
            if not self.dense:
                first = int(np.searchsorted(self._rooms, weight))
                source = np.searchsorted(self.lengths, self._rooms[first:] - weight, side="right") - 1
            self._shifts[weight] = (first, source)
        return self._shifts[weight]


def _useful(reached: Ints, capacities: Sequence[int]) -> tuple[Ints, Ints]:
    """Of the reached lengths those that a table is ever asked for (in the spirit of the patterns that meet in the
    middle of Cote and Iori 2018), and for each the greatest room that holds no more than it.

    A bar is read at its capacity, and from there at what is left of it by sums of pieces, these rooms and no others; a
    room holds as much as the greatest reached length within it. Where several rooms come to one length, any of them
    may be read in its place, so the greatest is: what fits it together with a piece is a sum too, within them all."""
    rooms = np.unique(np.concatenate([capacity - reached[reached <= capacity] for capacity in capacities] or [reached]))
    held = reached[np.searchsorted(reached, rooms, side="right") - 1]
    last = np.flatnonzero(np.append(held[1:] != held[:-1], True))
    return held[last], rooms[last]


def _split(count: int) -> Iterator[int]:
    """Parts of ``count`` whose sums give every number up to it."""
    part = 1
    while count > 0:
        yield min(part, count)
        count -= part
        part *= 2


class Table:
    """Best values of patterns for one set of piece values and copies allowed."""

    def __init__(
        self, grid: Grid, values: Sequence[int], copies: Sequence[int], clock: Clock, keep: bool = False
    ) -> None:
        """``keep``: store every layer, so that `listing` can list patterns. Raises TimeUpError, and OverflowError for
        values whose sum does not fit (see `whole_values`)."""
        if sum(abs(value) * count for value, count in zip(values, copies, strict=True)) >= MOST_SUM:
            raise OverflowError("the values of the pieces add up to more than whole numbers of 64 bits hold")
        self.grid = grid
        self.clock = clock
        self.values = tuple(values)
        self.copies = tuple(copies)
        states = len(grid.machine.lost)
        self._best: Ints = np.full((states, grid.size), _NEVER, dtype=np.int64)
        self._best[0] = 0
        layer = _LAYER + self._best.size
        self._packed = len(self.values) * self._best.size > _UNPACKED
        self._took: list[tuple[int, int, NDArray[np.uint8]]] = []
        self._layers: list[Ints] = [self._best.copy()] if keep else []
        for item, (value, count) in enumerate(zip(values, copies, strict=True)):
            clock.check()
            if value > 0 and count > 0:
                if grid.kinds[item] == (0, 0):
                    for size in _split(count):
                        self._plain(item, size)
                        clock.steps += layer
                else:
                    for _ in range(count):
                        self._ended(item)
                        clock.steps += 2 * layer
            if keep:
                self._layers.append(self._best.copy())

    def _plain(self, item: int, size: int) -> None:
        first, source = self.grid.shift(self.grid.weights[item] * size)
        if first >= self.grid.size:
            return
        best = self._best
        came = best[:, : best.shape[1] - first] if source is None else best[:, source]
        offer = came + self.values[item] * size
        tail = best[:, first:]
        took = np.zeros(best.shape, dtype=np.bool_)
        np.greater(offer, tail, out=took[:, first:])
        np.maximum(offer, tail, out=tail)
        bits = took.view(np.uint8)
        self._took.append((item, size, np.packbits(bits, axis=1) if self._packed else bits))

    def _ended(self, item: int) -> None:
        grid = self.grid
        before, after = self._best, self._best.copy()
        took = np.zeros(before.shape, dtype=np.uint8)
        for state, (target, saved) in enumerate(grid.machine.step[grid.kinds[item]]):
            first, source = grid.shift(grid.weights[item] - saved)
            if first >= grid.size:
                continue
            came = before[state, : grid.size - first] if source is None else before[state, source]
            offer = came + self.values[item]
            better = offer > after[target, first:]
            after[target, first:][better] = offer[better]
            took[target, first:][better] = state + 1
        self._best = after
        self._took.append((item, 1, took))

    def layer(self, item: int) -> Ints:
        """The best values, by state and place, of the kinds before this one; only where the table was asked to keep."""
        return self._layers[item]

    def ends(self, capacity: int) -> list[tuple[int, int]]:
        """The states a bar of this capacity can end in, each with the place to read."""
        places = [(state, self.grid.at(capacity - lost)) for state, lost in enumerate(self.grid.machine.lost)]
        return [(state, place) for state, place in places if place >= 0]

    def best(self, capacity: int) -> int:
        """The greatest value of a pattern on a bar of this capacity."""
        return max((int(self._best[state, place]) for state, place in self.ends(capacity)), default=0)

    def patterns(self, capacity: int, most: int) -> list[tuple[int, Counts]]:
        """Up to ``most`` good patterns with their values, the best first: it, and those that are best when
        the last kinds of piece are not to be had."""
        ends = self.ends(capacity)
        if not ends:
            return []
        state, place = max(ends, key=lambda end: (int(self._best[end]), -end[0]))
        found = [self._trace(len(self._took), state, place)]
        step = len(self._took)
        while step > 0 and len(found) < most:
            step -= 1
            if len(ends) > 1 or self._came(step, state, place):
                if len(ends) > 1:
                    break
                found.append(self._trace(step, state, place))
        return [(sum(self.values[i] * n for i, n in pattern), pattern) for pattern in found]

    def _came(self, step: int, state: int, place: int) -> int:
        """Whether this step led here: 0, or (for a piece with ends) the state before it and 1."""
        item, _, took = self._took[step]
        if self._packed and self.grid.kinds[item] == (0, 0):
            return int(took[state, place >> 3]) >> (7 - (place & 7)) & 1
        return int(took[state, place])

    def _trace(self, step: int, state: int, place: int) -> Counts:
        counts: dict[int, int] = {}
        grid = self.grid
        for before in range(step - 1, -1, -1):
            came = self._came(before, state, place)
            if not came:
                continue
            item, size, _ = self._took[before]
            counts[item] = counts.get(item, 0) + size
            take = grid.weights[item] * size
            if grid.kinds[item] != (0, 0):
                state = came - 1
                take -= grid.machine.step[grid.kinds[item]][state][1]
            first, source = grid.shift(take)
            place = place - first if source is None else int(source[place - first])
        return tuple(sorted(counts.items()))
