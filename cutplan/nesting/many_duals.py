"""Many duals for one mix of bars, and their mean: together they say much more of a pattern than any one of them.

Where the mix is tight the linear program has many optimal duals, and a simplex solver gives one corner of them, by
which a great many patterns lose nothing that are in no plan. Demands a little disturbed lead to other corners: less of
the kinds that these patterns hold often makes them lose the most in all. A mean of corners is a dual too, and a pattern
that loses by any of them loses by the mean, as by the strictly complementary duals of Goldman and Tucker (1956). All
are proposals in floating point, made safe in whole numbers like any other.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence

import numpy as np

from cutplan.nesting.bars import Mix
from cutplan.nesting.clock import Clock
from cutplan.nesting.instance import Instance
from cutplan.nesting.knapsack import Table
from cutplan.nesting.listing import near_all, sample
from cutplan.nesting.master import Column, Duals, Master, duals_of

_SHAKE = 0.1  # how far a demand is disturbed at most, as a share of it
_SAMPLE = 2_000  # patterns looked at to see which kinds they hold
_MOST_KEPT = 12_000_000  # numbers in the tables that are kept at once


class ManyDuals:
    """Duals for a mix, ever more of them; ``first`` is the linear program's own."""

    def __init__(self, instance: Instance, mix: Mix, first: Duals, clock: Clock) -> None:
        self.instance, self.mix, self.clock = instance, mix, clock
        self.found = [first]
        self._master: Master | None = None

    def tight(self, most: int) -> list[Column] | None:
        """All columns that a plan on this mix can use, by all the duals, or None where there are more than ``most``.
        Raises TimeUpError."""
        tables, floors = self._tables()
        return near_all(tables, self.instance.capacities, self.mix, floors, most)

    def more(self, pool: Iterable[Column]) -> float:
        """Find one more, by which the patterns left lose the most; about how many they were before.

        Raises TimeUpError."""
        instance = self.instance
        if self._master is None:
            self._master = Master(instance, instance.demand, self.mix, instance.prices)
            for column in pool:
                self._master.add(column)
        tables, floors = self._tables()
        often, total = np.zeros(len(instance.demand)), 0.0
        for stock, count in enumerate(self.mix):
            if count:
                held, found = sample(tables, instance.capacities[stock], floors[stock], _SAMPLE)
                often += count * held
                total += found
        excess = often / instance.demand
        dice = random.Random(len(self.found))
        lean = 1 - excess / max(1e-9, excess.max())
        demand = [
            d * (1 + _SHAKE * (2 * each - 1 + 0.2 * dice.random()))
            for d, each in zip(instance.demand, lean, strict=True)
        ]
        self.found.append(self._master.disturbed(demand, self.clock))
        return total

    def _tables(self) -> tuple[list[Table], list[list[int]]]:
        """A table for each of the duals that say the most, and by kind of bar the least value in each of them that a
        plan's pattern has. Raises TimeUpError."""
        demand, several = self.instance.demand, self._chosen()
        tables = [self.instance.table(each.values, demand, self.clock, keep=True) for each in several]
        slacks = [each.slack(self.mix, demand) for each in several]
        tops = zip(*(each.tops for each in several), strict=True)
        return tables, [[top - slack for top, slack in zip(each, slacks, strict=True)] for each in tops]

    def _chosen(self) -> list[Duals]:
        """Those that say the most, as many as their tables may be kept at once: means, then single ones, the last
        found first."""
        instance = self.instance
        room = _MOST_KEPT // (len(instance.weights) * len(instance.machine.lost) * instance.grid.size)
        single = [self.found[0], *reversed(self.found[1:])]
        return [*([self._mean(self.found)] if len(self.found) > 1 else []), *single][: max(2, room)]

    def _mean(self, several: Sequence[Duals]) -> Duals:
        """Their mean."""
        scale = max(duals.scale for duals in several)
        values = [0] * len(self.instance.weights)
        for duals in several:
            for item, value in enumerate(duals.values):
                values[item] += value * scale // duals.scale
        return duals_of(self.instance, tuple(value // len(several) for value in values), scale, self.clock)
