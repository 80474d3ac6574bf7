"""What to order from sellers who charge for an order: the cheapest purchase within the rules known so far (see
`orders`)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from cutplan.nesting.bars import Mix
from cutplan.nesting.clock import Clock, TimeUpError
from cutplan.nesting.wanted import Need

_RULE_BITS = 34
"""Bits of a rule's numbers, few enough that no sum leaves 64."""


@dataclass(frozen=True, slots=True)
class Seller:
    """What a seller charges for one order on top of its goods: ``delivery``, unless the goods come to ``free_from`` or
    more (None: always); and what they come short of the ``minimum``. ``instead_of``: another seller, by number, from
    whom nothing is ordered where anything is from this one (another way of buying the same)."""

    delivery: int = 0
    free_from: int | None = None
    minimum: int = 0
    instead_of: int | None = None

    def charge(self, goods: int) -> int:
        """The charge on goods of this much; 0 where nothing is ordered."""
        if not goods:
            return 0
        free = self.free_from is not None and goods >= self.free_from
        return max(0, self.minimum - goods) + (0 if free else self.delivery)


class Proposal:
    """The integer program over the numbers of bars: the least total within all the rules."""

    def __init__(self, parts: Sequence[Need], sellers: Sequence[Seller]) -> None:
        from ortools.sat.python import cp_model

        self.model: Any = cp_model.CpModel()
        self.parts, self.bound = parts, 0
        self.used = [self.model.new_bool_var("") for _ in sellers]
        self.tops = [[_most(part, at, sellers) for at in range(len(part.wanted.stocks))] for part in parts]
        self.bars = [[self._count(part, at) for at in range(len(part.wanted.stocks))] for part in parts]
        charged = (self._charged(at, one) for at, one in enumerate(sellers))
        total = sum([*self._goods(None), *self._fees(), *charged])
        for part, counts in zip(parts, self.bars, strict=True):
            self._rules(part, counts)
        for used, one in zip(self.used, sellers, strict=True):
            if one.instead_of is not None:
                self.model.add(used + self.used[one.instead_of] <= 1)
        # Of purchases that cost the same: few sellers first, then few bars.
        most = sum(map(sum, self.tops)) + 1
        few = sum([most * one for one in self.used] + [one for mix in self.bars for one in mix])
        self.scale = most * (len(sellers) + 1)
        self.model.minimize(self.scale * total + few)

    def _count(self, part: Need, at: int) -> Any:
        """How many bars of one stock; none of a seller that nothing is ordered from."""
        stock, seller = part.wanted.stocks[at], part.wanted.sellers[at]
        top = self.tops[self.parts.index(part)][at]
        count = self.model.new_int_var(top if stock.owned else 0, top, "")
        if seller is not None and not stock.owned:
            self.model.add(count <= top * self.used[seller])
        return count

    def _goods(self, seller: int | None) -> Iterator[Any]:
        for part, counts in zip(self.parts, self.bars, strict=True):
            for stock, whose, count in zip(part.wanted.stocks, part.wanted.sellers, counts, strict=True):
                if whose == seller and not stock.owned:
                    yield stock.price * count

    def _fees(self) -> Iterator[Any]:
        for part, counts in zip(self.parts, self.bars, strict=True):
            yield from (fee * count for fee, count in zip(part.fees, counts, strict=True) if fee)

    def _dearest(self, seller: int) -> int:
        """The most that the goods of one seller can come to."""
        return sum(
            stock.price * top
            for part, tops in zip(self.parts, self.tops, strict=True)
            for stock, whose, top in zip(part.wanted.stocks, part.wanted.sellers, tops, strict=True)
            if whose == seller and not stock.owned
        )

    def _charged(self, at: int, seller: Seller) -> Any:
        """What one seller's goods and charges come to."""
        model, used = self.model, self.used[at]
        goods = sum(self._goods(at))
        most = max(seller.minimum, self._dearest(at))
        spent, delivered = model.new_int_var(0, most, ""), model.new_bool_var("")
        model.add(spent >= goods)
        model.add(spent >= seller.minimum * used)
        if seller.free_from is None:
            model.add(delivered >= used)
        else:
            free = model.new_bool_var("")
            model.add(goods >= seller.free_from * free)
            model.add(delivered >= used - free)
        return spent + seller.delivery * delivered

    def _rules(self, part: Need, counts: Sequence[Any]) -> None:
        model = self.model
        for source in dict.fromkeys(part.wanted.sources):
            same = [at for at, number in enumerate(part.wanted.sources) if number == source]
            if len(same) > 1 and (there := part.wanted.stocks[same[0]].count) is not None:
                model.add(sum(counts[at] for at in same) <= there)
        for rule in part.rules:
            need = rule.wanted(part.instance.demand)
            # The program's whole numbers have 64 bits: rounded so that the rule forbids nothing more than it did.
            over = max(1, need >> _RULE_BITS)
            held = sum(-(-top // over) * n for top, n in zip(rule.tops, counts, strict=True))
            model.add(held >= need // over)
        for reach in part.too_small:
            more = []
            for some, had in zip(part.no_less, reach, strict=True):
                beyond = model.new_bool_var("")
                model.add(sum(counts[at] for at in some) >= had + 1).only_enforce_if(beyond)
                more.append(beyond)
            model.add_bool_or(more)

    def solve(self, clock: Clock) -> tuple[Mix, ...] | None:
        """The cheapest purchase, with ``bound``; None where there is none. Raises TimeUpError."""
        from ortools.sat.python import cp_model

        solver, answer = clock.solve_model(self.model)
        if answer == cp_model.INFEASIBLE:
            return None
        if answer != cp_model.OPTIMAL:
            raise TimeUpError
        self.bound = round(solver.objective_value) // self.scale
        return tuple(tuple(int(solver.value(one)) for one in mix) for mix in self.bars)


def _most(part: Need, at: int, sellers: Sequence[Seller]) -> int:
    """How many bars of one stock may be of use: as many as there are pieces, and what free delivery takes."""
    stock, seller = part.wanted.stocks[at], part.wanted.sellers[at]
    if stock.owned:
        return stock.count or 0
    most = sum(part.instance.demand)
    if seller is not None and stock.price:
        most += -(-(sellers[seller].free_from or 0) // stock.price)
    return most if stock.count is None else min(most, stock.count)
