"""How many bars of each kind: the least money that no known bound forbids.

Every set of whole-number duals gives a rule that all plans obey: the bars' top values add up to no less than
the pieces' values. Over the few kinds of bar these rules, and the mixes already known to be too little, leave
a small integer program. Its answer is a bound in money, stronger than the linear one wherever prices do not
divide evenly; it is searched depth first in whole numbers.
"""

from __future__ import annotations

from collections.abc import Sequence

from cutplan.nesting.clock import Clock
from cutplan.nesting.master import Duals

Mix = tuple[int, ...]
_LOOK = 256
"""Nodes between two looks at the clock."""


def cheapest(
    prices: Sequence[int],
    limits: Sequence[int],
    demand: Sequence[int],
    rules: Sequence[Duals],
    too_little: Sequence[Mix],
    below: int | None,
    clock: Clock,
    nodes: int = 400_000,
) -> tuple[int, Mix] | bool | None:
    """The least cost under ``below`` and its mix; None where there is none; False where ``nodes`` or the time
    ran out.
    Bars without a price are all taken."""
    search = _Depth(prices, limits, below, too_little, nodes, clock)
    search.rows = [(rule.tops, rule.wanted(demand)) for rule in rules]
    needs = [
        need - sum(t * n for t, n, p in zip(tops, limits, prices, strict=True) if not p) for tops, need in search.rows
    ]
    search.visit(0, 0, needs)
    if search.nodes <= 0:
        return False
    return None if search.best is None else (search.best, search.mix)


class _Depth:
    def __init__(
        self,
        prices: Sequence[int],
        limits: Sequence[int],
        below: int | None,
        too_little: Sequence[Mix],
        nodes: int,
        clock: Clock,
    ) -> None:
        self.prices, self.limits, self.too_little, self.nodes = prices, limits, too_little, nodes
        self.clock = clock
        self.rows: list[tuple[tuple[int, ...], int]] = []
        self.order = [k for k, price in enumerate(prices) if price]
        self.order.sort(key=lambda k: (-prices[k], k))
        self.best: int | None = None
        self.below = below
        self.mix: Mix = ()
        self.counts = [0 if price else limit for price, limit in zip(prices, limits, strict=True)]

    def _cut_off(self, cost: int) -> bool:
        cap = self.best if self.best is not None else self.below
        return cap is not None and cost >= cap

    def visit(self, depth: int, cost: int, needs: Sequence[int]) -> None:
        self.nodes -= 1
        if self.nodes % _LOOK == 0 and self.clock.up:
            self.nodes = 0
        if self.nodes <= 0 or self._cut_off(cost):
            return
        if depth == len(self.order):
            if max(needs, default=0) <= 0 and not self._forbidden():
                self.best, self.mix = cost, tuple(self.counts)
            return
        stock = self.order[depth]
        last = depth == len(self.order) - 1
        count = self._least(stock, needs) if last else 0
        while count <= self.limits[stock]:
            self.counts[stock] = count
            spent = cost + count * self.prices[stock]
            if self._cut_off(spent) or self.nodes <= 0:
                break
            after = [need - tops[stock] * count for need, (tops, _) in zip(needs, self.rows, strict=True)]
            more = self._more(depth + 1, after)
            if more is not None and not self._cut_off(spent + more):
                self.visit(depth + 1, spent, after)
            count += 1
        self.counts[stock] = 0

    def _least(self, stock: int, needs: Sequence[int]) -> int:
        least = 0
        for need, (tops, _) in zip(needs, self.rows, strict=True):
            if need > 0 and tops[stock] > 0:
                least = max(least, -(-need // tops[stock]))
        return least

    def _more(self, depth: int, needs: Sequence[int]) -> int | None:
        """The least that the kinds of bar from ``depth`` on must cost yet, each rule on its own; None where
        they cannot do."""
        most = 0
        for need, (tops, _) in zip(needs, self.rows, strict=True):
            if need <= 0:
                continue
            rates = [-(-need * self.prices[k] // tops[k]) for k in self.order[depth:] if tops[k] > 0]
            if not rates:
                return None
            most = max(most, min(rates))
        return most

    def _forbidden(self) -> bool:
        return any(all(n <= m for n, m in zip(self.counts, mix, strict=True)) for mix in self.too_little)
