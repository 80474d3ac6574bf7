"""Every pattern that is nearly as good as the best, for several sets of values at once.

Kind by kind, from the lightest on, bars with room left are filled further, as long as the best that the heavier kinds
can add, by the knapsack table of each set of values, still comes to what is asked of that set.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutplan.nesting.knapsack import MOST_SUM, Counts, Ints, Table

_Places = NDArray[np.intp]
_ROW = 20  # steps of the clock for a bar half filled


@dataclass(frozen=True, slots=True)
class _Bars:
    """Bars half filled, a row each: their parent among those before, their state, the room left, the value by table."""

    parent: _Places
    state: Ints
    room: Ints
    values: tuple[Ints, ...]

    def pick(self, which: NDArray[np.bool_] | _Places) -> _Bars:
        """Those that are true, or at these places."""
        return _Bars(self.parent[which], self.state[which], self.room[which], tuple(v[which] for v in self.values))


def _joined(parts: Sequence[_Bars]) -> _Bars:
    return _Bars(
        np.concatenate([part.parent for part in parts]),
        np.concatenate([part.state for part in parts]),
        np.concatenate([part.room for part in parts]),
        tuple(np.concatenate(each) for each in zip(*(part.values for part in parts), strict=True)),
    )


def near(
    tables: Sequence[Table], capacity: int, floors: Sequence[int], most: int, full: bool = True
) -> list[Counts] | None:
    """Every pattern that comes to ``floors`` in each of the tables, which must keep their layers and be of one grid and
    the same copies (only patterns to which no further piece could be added, where ``full``); None beyond ``most``: each
    kind's half-filled bars count. Raises TimeUpError."""
    walk = _Walk(tables, capacity, floors)
    while walk.item:
        walk.step()
        if len(walk.bars.room) > most:
            return None
    counts = walk.counts()
    whole = np.ones(len(walk.bars.room), dtype=bool)
    for item, (weight, allowed) in enumerate(zip(tables[0].grid.weights, tables[0].copies, strict=True)):
        if full:
            whole &= (counts[item] >= allowed) | (walk.bars.room < weight)
    kept = counts[:, whole].T
    return [tuple((int(i), int(line[i])) for i in np.flatnonzero(line)) for line in kept]


def near_all(
    tables: Sequence[Table],
    capacities: Sequence[int],
    limits: Sequence[int],
    floors: Sequence[Sequence[int]],
    most: int,
    full: bool = True,
) -> list[tuple[int, Counts]] | None:
    """The patterns of `near` for every kind of bar that there is one of, each with its kind; ``floors``: by kind."""
    columns: list[tuple[int, Counts]] = []
    for stock, (capacity, limit, asked) in enumerate(zip(capacities, limits, floors, strict=True)):
        if limit:
            found = near(tables, capacity, asked, most, full)
            if found is None or len(columns) + len(found) > most:
                return None
            columns += [(stock, counts) for counts in found if counts]
    return columns


def sample(
    tables: Sequence[Table], capacity: int, floors: Sequence[int], size: int
) -> tuple[NDArray[np.float64], float]:
    """Of the patterns that `near` would list, how often each kind of piece is in one of them, in the mean over about
    ``size`` of them, evenly picked, and about how many there are. Raises TimeUpError."""
    walk = _Walk(tables, capacity, floors)
    times = 1.0
    while walk.item:
        walk.step()
        found = len(walk.bars.room)
        if found > size:
            times *= found / size
            walk.keep(np.arange(size) * found // size)
    counts = walk.counts()
    return counts.sum(axis=1) / max(1, counts.shape[1]), times * counts.shape[1]


class _Walk:
    """Bars filled kind by kind; ``item``: how many kinds are yet to come."""

    def __init__(self, tables: Sequence[Table], capacity: int, floors: Sequence[int]) -> None:
        first = tables[0]
        self.tables = tables
        self.floors = [max(least, -MOST_SUM) for least in floors]
        self.item = len(first.values)
        state = np.array([end[0] for end in first.ends(capacity)], dtype=np.int64)
        room = np.array([capacity - first.grid.machine.lost[s] for s in state], dtype=np.int64)
        nothing = np.zeros(len(state), dtype=np.int64)
        self.bars = _Bars(np.arange(len(state)), state, room, tuple(nothing for _ in tables))
        self._trail: list[tuple[_Places, Ints]] = []

    def step(self) -> None:
        """Fill in the next kind. Raises TimeUpError."""
        self.tables[0].clock.check()
        self.item -= 1
        parts = list(_extend(self.tables, self.item, self.bars, self.floors))
        self.bars = _joined(parts)
        self.tables[0].clock.steps += _ROW * len(self.tables) * len(self.bars.room)
        self._trail.append((self.bars.parent, np.concatenate([np.full(len(p.room), n) for n, p in enumerate(parts)])))

    def keep(self, rows: _Places) -> None:
        """Go on with these bars only."""
        self.bars = self.bars.pick(rows)
        self._trail[-1] = (self._trail[-1][0][rows], self._trail[-1][1][rows])

    def counts(self) -> NDArray[np.int32]:
        """How many of each kind (a row each) every bar holds."""
        counts = np.zeros((len(self.tables[0].values), len(self.bars.room)), dtype=np.int32)
        row = np.arange(len(self.bars.room))
        for item, (parent, taken) in enumerate(reversed(self._trail)):
            counts[item] = taken[row]
            row = parent[row]
        return counts


def _extend(tables: Sequence[Table], item: int, bars: _Bars, floors: Sequence[int]) -> Iterator[_Bars]:
    """From bars with room left, those with 0, 1, 2 ... of this piece more that can still come to ``floors``."""
    grid = tables[0].grid
    bars = _Bars(np.arange(len(bars.room)), bars.state, bars.room, bars.values)
    for taken in range(tables[0].copies[item] + 1):
        if taken:
            bars = _back(tables, item, bars)
        bars = bars.pick(bars.room >= 0)
        places = bars.room if grid.dense else np.searchsorted(grid.lengths, bars.room, side="right") - 1
        good = np.ones(len(bars.room), dtype=bool)
        for table, value, least in zip(tables, bars.values, floors, strict=True):
            good &= value + table.layer(item)[bars.state, places] >= least
        yield bars.pick(good)
        if not len(bars.room):
            break


def _back(tables: Sequence[Table], item: int, bars: _Bars) -> _Bars:
    """One more of this piece: every state that adding it leads here from."""
    grid = tables[0].grid
    weight = grid.weights[item]
    values = tuple(value + max(table.values[item], 0) for table, value in zip(tables, bars.values, strict=True))
    bars = _Bars(bars.parent, bars.state, bars.room - weight, values)
    if grid.kinds[item] == (0, 0):
        return bars
    parts = []
    for source, (target, saved) in enumerate(grid.machine.step[grid.kinds[item]]):
        here = bars.pick(bars.state == target)
        parts.append(_Bars(here.parent, np.full(len(here.room), source), here.room + saved, here.values))
    return _joined(parts)
