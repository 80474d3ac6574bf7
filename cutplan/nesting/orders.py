"""Several packing problems at once, their bars ordered from sellers who charge for an order: the least total.

What each problem needs is coupled by the sellers alone: a delivery is paid once for all, and is free, or a minimum
reached, by what all of them order together. So the purchase is settled first and its layout after it (logic-based
Benders decomposition, Hooker and Ottosson 2003). An integer program over the numbers of bars proposes the cheapest
purchase, every charge included, that no rule forbids; each problem says whether its pieces fit on its bars. The first
proposal on which they all fit is the best there is; each before it was a bound. The rules are

- the duals of each problem's linear program over patterns, one for each set of sellers, and one for each proposal that
  its linear program alone rules out;
- for bars too small otherwise: a purchase is not enough that has, of every length, no more bars of that length or
  longer, and no more of each kind that comes in parts.

A seller may cut bars into parts (see `cut_bars`): each number of parts is a stock of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from itertools import chain, combinations, islice

from cutplan.nesting.bars import Mix
from cutplan.nesting.clock import Clock, TimeUpError
from cutplan.nesting.model import Status
from cutplan.nesting.proposal import Proposal, Seller
from cutplan.nesting.wanted import Layout, Need, Wanted

__all__ = ["Layout", "Purchase", "Seller", "Wanted", "buy_together"]

_MOST_SETS = 16
"""Sets of sellers whose linear programs are solved before the search: enough for all sets of four."""


@dataclass(frozen=True, slots=True)
class Purchase:
    """``bars``: for each problem how many of each stock, those in hand included (None without a purchase);
    ``layouts``: for each its bars in parts. ``cost``: of goods and charges, with its safe ``bound``; ``floors``: for
    each problem the least its goods can cost alone.
    ``short``: the problems that no purchase can serve, where the status is IMPOSSIBLE."""

    status: Status
    bars: tuple[Mix, ...] | None
    cost: int | None
    bound: int
    floors: tuple[int, ...]
    short: tuple[int, ...] = ()
    layouts: tuple[Layout, ...] = ()


def buy_together(
    wanted: Sequence[Wanted],
    sellers: Sequence[Seller],
    *,
    time_limit: float | None = None,
    stop: Callable[[], bool] | None = None,
    progress: Callable[[int | None, int], None] | None = None,
) -> Purchase:
    """The bars of least total on which all that is ``wanted`` can be cut; of several such, from the fewest sellers, and
    then the fewest bars. More than is needed may be bought, where that costs less. Without ``time_limit``, and with one
    that does not bite, the same input gives the same answer. ``progress`` is given the best total so far and its bound.
    """
    return _Together(wanted, sellers, Clock(time_limit, stop=stop), progress).run()


class _Together:
    def __init__(
        self,
        wanted: Sequence[Wanted],
        sellers: Sequence[Seller],
        clock: Clock,
        progress: Callable[[int | None, int], None] | None,
    ) -> None:
        self.parts = [Need(one, clock) for one in wanted]
        self.sellers, self.clock, self.progress = sellers, clock, progress
        self.best: tuple[Mix, ...] | None = None
        self.cost: int | None = None
        self.bound = 0
        self.unsure: list[int] = []

    def run(self) -> Purchase:
        """Search until the bound is met, or the time is up."""
        seconds = {at for at, one in enumerate(self.sellers) if one.instead_of is not None}
        alone = [part.alone(seconds) for part in self.parts]
        floors = tuple(floor for _, floor, _ in alone)
        if short := tuple(at for at, (_, _, none) in enumerate(alone) if none):
            return Purchase(Status.IMPOSSIBLE, None, None, 0, floors, short)
        self.bound = sum(floors)
        mixes = [mix for mix, _, _ in alone if mix is not None]
        if len(mixes) == len(alone):
            self._offer(tuple(mixes))
        proven = False
        with suppress(TimeUpError):
            self._relax()
            proven = self._search()
        if self.best is None:
            return Purchase(Status.IMPOSSIBLE if proven else Status.UNKNOWN, None, None, self.bound, floors)
        assert self.cost is not None
        bound = min(self.bound, self.cost)
        status = Status.PROVEN if bound == self.cost else Status.FOUND
        layouts = tuple(part.layouts.get(mix, ()) for part, mix in zip(self.parts, self.best, strict=True))
        return Purchase(status, self.best, self.cost, bound, floors, (), layouts)

    def total(self, mixes: Sequence[Mix]) -> int:
        """What a purchase costs, charges included."""
        goods = [0] * len(self.sellers)
        loose = 0
        for part, mix in zip(self.parts, mixes, strict=True):
            loose += sum(fee * count for fee, count in zip(part.fees, mix, strict=True))
            for stock, seller, count in zip(part.wanted.stocks, part.wanted.sellers, mix, strict=True):
                if seller is None:
                    loose += 0 if stock.owned else stock.price * count
                else:
                    goods[seller] += stock.price * count
        charged = (one.charge(spent) for one, spent in zip(self.sellers, goods, strict=True))
        return loose + sum(goods) + sum(charged)

    def _offer(self, mixes: tuple[Mix, ...]) -> None:
        cost = self.total(mixes)
        if self.cost is None or cost < self.cost:
            self.best, self.cost = mixes, cost

    def _relax(self) -> None:
        """The rules of sets of sellers: of all together, then of small sets."""
        every = range(len(self.sellers))
        sets = chain([tuple(every)], *(combinations(every, size) for size in range(len(self.sellers))))
        for allowed in islice(sets, _MOST_SETS):
            for part in self.parts:
                self.clock.check()
                part.relax(allowed)

    def _search(self) -> bool:
        """Propose purchases until one serves all; whether the search came to its end. Raises TimeUpError."""
        while True:
            if self.progress is not None:
                self.progress(self.cost, self.bound)
            self.clock.check()
            proposal = Proposal(self.parts, self.sellers)
            found = proposal.solve(self.clock)
            bound = min([proposal.bound, *self.unsure])
            if found is None:
                if self.cost is not None and not self.unsure:
                    self.bound = self.cost
                return not self.unsure
            self.bound = max(self.bound, bound)
            if self.unsure and self.cost is not None and self.cost <= proposal.bound:
                return True
            verdicts = [part.serves(mix) for part, mix in zip(self.parts, found, strict=True)]
            if all(verdicts):
                if self.cost is None or self.total(found) <= self.cost:
                    self.best, self.cost = found, self.total(found)
                return True
            if None in verdicts:
                self.clock.check()
                self.unsure.append(proposal.bound)
