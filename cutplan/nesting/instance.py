"""The instance as the search sees it: kinds of piece by falling weight, kinds of bar, all in whole numbers.

Weights carry the kerf, so a pattern fits where its weights add up to no more than the bar's capacity.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import gcd

from cutplan.nesting.clock import Clock
from cutplan.nesting.knapsack import Counts, Grid, Ints, Table
from cutplan.nesting.model import Piece, Spare, Stock
from cutplan.nesting.shared_cuts import Machine, machine


@dataclass(frozen=True)
class Instance:
    """``weights``, ``kinds`` (ends), ``demand``: by kind of piece. ``capacities``, ``prices``, ``limits``: by
    kind of bar. ``members``: of each kind, its pieces one by one, or -1 for each spare (a kind of its own).
    ``exact``: False where some classes of mitre are too many to be shared, so that less may do."""

    weights: tuple[int, ...]
    kinds: tuple[tuple[int, int], ...]
    demand: tuple[int, ...]
    members: tuple[tuple[int, ...], ...]
    capacities: tuple[int, ...]
    prices: tuple[int, ...]
    limits: tuple[int, ...]
    machine: Machine
    joints: Mapping[int, int]
    exact: bool = True

    @cached_property
    def grid(self) -> Grid:
        """The reachable lengths of all pieces together."""
        copies = self.copies(self.demand)
        return Grid(self.weights, copies, self.capacities, self.machine, self.kinds)

    def part(self, kinds: Sequence[int], demand: Sequence[int], limits: Sequence[int]) -> Instance:
        """So many of these kinds alone, from so many bars."""
        return replace(
            self,
            weights=tuple(self.weights[item] for item in kinds),
            kinds=tuple(self.kinds[item] for item in kinds),
            demand=tuple(demand),
            members=tuple(self.members[item] for item in kinds),
            limits=tuple(limits),
        )

    def copies(self, demand: Sequence[int]) -> tuple[int, ...]:
        """How many of each kind one bar can hold at most, of what is wanted."""
        return tuple(map(min, demand, self._held))

    @cached_property
    def _held(self) -> tuple[int, ...]:
        """How many of each kind one bar can hold at most."""
        top = max(self.capacities)
        return tuple(
            top // max(1, weight - self.give(ends)) for weight, ends in zip(self.weights, self.kinds, strict=True)
        )

    def give(self, ends: tuple[int, int]) -> int:
        """The most a piece with these ends can save by its neighbours."""
        return sum(self.joints.get(end, 0) for end in ends)

    def spare(self, item: int) -> bool:
        """Whether this kind is the spares."""
        return self.members[item][0] < 0

    def load(self, pattern: Counts) -> int:
        """What a pattern takes of a bar, shared cuts counted once."""
        state = saved = 0
        for item, count in pattern:
            if self.kinds[item] != (0, 0):
                row = self.machine.step[self.kinds[item]]
                for _ in range(count):
                    state, less = row[state]
                    saved += less
        return sum(self.weights[i] * n for i, n in pattern) - saved + self.machine.lost[state]

    def table(self, values: Sequence[int] | Ints, demand: Sequence[int], clock: Clock, keep: bool = False) -> Table:
        """The knapsack table for these values, no more of a kind than is wanted. Raises TimeUpError."""
        return Table(self.grid, [int(v) for v in values], self.copies(demand), clock, keep)

    @property
    def price_step(self) -> int:
        """Every cost is a multiple of this."""
        return gcd(*self.prices) or 1


def make(
    pieces: Sequence[Piece], stocks: Sequence[Stock], kerf: int, spare: Spare | None, joints: Mapping[int, int] | None
) -> Instance:
    """The instance of these pieces and spares. Where the classes of mitre are too many for a machine, those that
    save the least are not shared. Raises ValueError for a length, count, price or kerf that makes no sense."""
    _check(pieces, stocks, kerf)
    met = Counter(end for piece in pieces for end in piece.ends for _ in range(min(piece.count, 2)))
    saves = {name: size for name, size in (joints or {}).items() if name and size > 0 and met[name] > 1}
    groups: dict[tuple[int, tuple[int, int], bool], list[int]] = {}
    for index, piece in enumerate(pieces):
        ends = tuple(end if end in saves else 0 for end in piece.ends)
        if sum(saves.get(end, 0) for end in ends) >= piece.length:
            ends = (0, 0)  # shorter than its own two cuts: it cannot share them
        groups.setdefault((piece.length + kerf, (min(ends), max(ends)), False), []).extend([index] * piece.count)
    if spare is not None and spare.length > 0 and spare.count > 0:
        groups.setdefault((spare.length + kerf, (0, 0), True), []).extend([-1] * spare.count)
    order = sorted((key for key, members in groups.items() if members), key=lambda key: (-key[0], *key[1:]))
    kinds = tuple(ends for _, ends, _ in order)
    found = machine(kinds, saves)
    if found is None:
        least = min(saves, key=lambda name: (saves[name], name))
        fewer = {name: size for name, size in saves.items() if name != least}
        return replace(make(pieces, stocks, kerf, spare, fewer), exact=False)
    demand = tuple(len(groups[key]) for key in order)
    total = sum(demand)
    return Instance(
        tuple(weight for weight, _, _ in order),
        kinds,
        demand,
        tuple(tuple(groups[key]) for key in order),
        tuple(stock.length + kerf for stock in stocks),
        tuple(stock.price for stock in stocks),
        tuple(total if stock.count is None else min(stock.count, total) for stock in stocks),
        found,
        saves,
    )


def loosened(
    pieces: Sequence[Piece], stocks: Sequence[Stock], kerf: int, spare: Spare | None, joints: Mapping[int, int]
) -> Instance:
    """An instance that every plan of the true one fits, whatever cuts it shares: two ends share a cut, so each piece
    is given half of what its ends can save, always. All lengths are doubled to stay whole."""
    short = []
    for piece in pieces:
        saved = sum(max(0, joints.get(end, 0)) for end in piece.ends if end)
        short.append(Piece(max(1, 2 * piece.length - saved), piece.count))
    long = [Stock(2 * stock.length, stock.price, stock.count, stock.owned) for stock in stocks]
    room = None if spare is None else Spare(2 * spare.length, spare.count)
    return make(short, long, 2 * kerf, room, None)


def _check(pieces: Sequence[Piece], stocks: Sequence[Stock], kerf: int) -> None:
    if kerf < 0:
        raise ValueError(f"the kerf must not be negative, not {kerf}")
    for piece in pieces:
        if piece.length <= 0 or piece.count < 0:
            raise ValueError(f"a piece needs a length above 0 and a count of 0 or more, not {piece}")
    for stock in stocks:
        if stock.length < 0 or stock.price < 0 or (stock.count is not None and stock.count < 0):
            raise ValueError(f"a bar needs a length, price and count of 0 or more, not {stock}")
