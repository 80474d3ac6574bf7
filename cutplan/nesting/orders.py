"""Several packing problems at once, their bars ordered from sellers who charge for an order: the least total.

What each problem needs is coupled by the sellers alone: a delivery is paid once for all, and is free, or a minimum
reached, by what all of them order together. So the purchase is settled first and its layout after it (logic-based
Benders decomposition, Hooker and Ottosson 2003). An integer program over the numbers of bars proposes the cheapest
purchase, every charge included, that no rule forbids; each problem says whether its pieces fit on its bars. The first
proposal on which they all fit is the best there is; each before it was a bound. The rules are

- the duals of each problem's linear program over patterns, one for each set of sellers, and one for each proposal that
  its linear program alone rules out;
- for bars too small otherwise: no purchase will do that has, of every length, no more bars of that length or longer.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import chain, combinations, islice
from typing import Any

from cutplan.nesting.bars import Mix
from cutplan.nesting.clock import Clock, TimeUpError
from cutplan.nesting.instance import Instance, loosened, make
from cutplan.nesting.master import Duals, Master
from cutplan.nesting.model import Packing, Piece, Spare, Status, Stock
from cutplan.nesting.packing import pack

_ROUNDS = 2000
"""Rounds of pricing a linear program may take."""
_MOST_SETS = 16
"""Sets of sellers whose linear programs are solved before the search: enough for all sets of four."""
_RULE_BITS = 34
"""Bits of a rule's numbers, few enough that no sum leaves 64."""


@dataclass(frozen=True, slots=True)
class Seller:
    """What a seller charges for one order besides its goods: ``delivery``, unless the goods come to ``free_from`` or
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


@dataclass(frozen=True, slots=True)
class Wanted:
    """One packing problem. ``sellers``: of each stock the seller by number, None where it has none (a bar in hand, or
    one sold without charges). ``survives``: asked of bars (so many of each stock) that hold the pieces without the
    spare, whether they will do all the same; None: then they must hold the spare too."""

    pieces: Sequence[Piece]
    stocks: Sequence[Stock]
    sellers: Sequence[int | None]
    kerf: int = 0
    spare: Spare | None = None
    joints: Any = None
    survives: Callable[[Mix], bool | None] | None = None


@dataclass(frozen=True, slots=True)
class Purchase:
    """``bars``: for each problem how many of each stock, those in hand included (None without a purchase). ``cost``:
    of goods and charges, with its safe ``bound``; ``floors``: for each problem the least its goods can cost alone.
    ``short``: the problems that no purchase can serve, where the status is IMPOSSIBLE."""

    status: Status
    bars: tuple[Mix, ...] | None
    cost: int | None
    bound: int
    floors: tuple[int, ...]
    short: tuple[int, ...] = ()


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
    that does not bite, the same input gives the same answer. ``progress`` is told the best total so far and its bound.
    """
    return _Together(wanted, sellers, Clock(time_limit, stop=stop), progress).run()


class _Part:
    """One problem: the rules on its bars, and what was learnt of them."""

    def __init__(self, wanted: Wanted, clock: Clock) -> None:
        self.wanted, self.clock = wanted, clock
        self.lengths = sorted({stock.length for stock in wanted.stocks}, reverse=True)
        self.rules: list[Duals] = []
        self.too_small: list[Mix] = []
        """How many bars of each of ``lengths`` or longer, in purchases that will not do, or may not."""
        self.known: dict[Mix, bool | None] = {}

    @cached_property
    def instance(self) -> Instance:
        """What any purchase must hold, as the linear programs see it; loosened where not all mitres can be shared."""
        one = self.wanted
        spare = None if one.survives else one.spare
        found = make(one.pieces, one.stocks, one.kerf, spare, one.joints)
        return found if found.exact else loosened(one.pieces, one.stocks, one.kerf, spare, one.joints or {})

    def reach(self, mix: Mix) -> Mix:
        """How many bars of ``mix`` are of each of ``lengths`` or longer."""
        pairs = list(zip(self.wanted.stocks, mix, strict=True))
        return tuple(sum(count for stock, count in pairs if stock.length >= long) for long in self.lengths)

    def relax(self, sellers: Iterable[int]) -> None:
        """Take up the rule of the linear program with bars of these ``sellers`` alone."""
        instance, allowed = self.instance, {*sellers, None}
        total = sum(instance.demand)
        limits = [
            0 if seller not in allowed else None if count >= total else count
            for count, seller in zip(instance.limits, self.wanted.sellers, strict=True)
        ]
        rate = 4.0 * max(1, *instance.prices) / min(instance.weights)
        master = Master(instance, instance.demand, limits, instance.prices, [rate * w for w in instance.weights])
        self._rule(master.generate(_ROUNDS, self.clock).duals)

    def _rule(self, duals: Duals) -> None:
        if duals not in self.rules:
            self.rules.append(duals)

    def serves(self, mix: Mix) -> bool | None:
        """Whether all that is wanted can be cut from these bars; where not, or where it stays open, that is noted."""
        if mix not in self.known:
            self.known[mix] = self._judged(mix)
            if not self.known[mix] and not (self.known[mix] is False and self._ruled_out(mix)):
                self.too_small.append(self.reach(mix))
        return self.known[mix]

    def _judged(self, mix: Mix) -> bool | None:
        one = self.wanted
        held = self._held(mix, one.spare)
        if held or one.survives is None:
            return held
        bare = self._held(mix, None)
        return one.survives(mix) if bare else bare

    def _held(self, mix: Mix, spare: Spare | None) -> bool | None:
        """Whether these bars hold the pieces, and the ``spare``."""
        stocks = [
            replace(stock, price=0, count=n, owned=True) for stock, n in zip(self.wanted.stocks, mix, strict=True)
        ]
        found = self._packed(stocks, spare, self.clock.left)
        return None if found.status is Status.UNKNOWN else found.cost is not None

    def _packed(self, stocks: Sequence[Stock], spare: Spare | None, seconds: float) -> Packing:
        """The cheapest of these bars that hold the pieces, and the ``spare``, in at most so many ``seconds``."""
        one = self.wanted
        return pack(
            one.pieces,
            stocks,
            kerf=one.kerf,
            spare=spare,
            joints=one.joints,
            second_aims=False,
            time_limit=None if math.isinf(seconds) else max(seconds, 0.001),
            stop=lambda: self.clock.up,
        )

    def _ruled_out(self, mix: Mix) -> bool:
        """Whether the linear program shows that these bars are too little; then there is a rule that says so."""
        instance = self.instance
        limits = [min(n, sum(instance.demand)) for n in mix]
        program = Master(instance, instance.demand, limits, [0] * len(mix), instance.weights)
        try:
            duals = program.generate(_ROUNDS, self.clock).duals
        except TimeUpError:
            return False
        if sum(t * n for t, n in zip(duals.tops, mix, strict=True)) >= duals.wanted(instance.demand):
            return False
        self._rule(duals)
        return True

    def alone(self, seconds: Collection[int]) -> tuple[Mix | None, int, bool]:
        """The cheapest bars by their goods alone (None: none found), the bound on these, and whether none will do.
        ``seconds``: the sellers that are another way of buying what a first one sells too, at the same price."""
        one = self.wanted
        # Whatever can be had in either of two ways can be had in the first.
        stocks = [
            replace(stock, count=0) if seller in seconds else stock
            for stock, seller in zip(one.stocks, one.sellers, strict=True)
        ]
        found = self._packed(stocks, one.spare, self.clock.left / 2)
        if found.cost is None:
            return None, found.bound, found.status is Status.IMPOSSIBLE and one.survives is None
        counts = [0 if stock.count is None or not stock.owned else stock.count for stock in one.stocks]
        for bar in found.bars:
            counts[bar.stock] += not one.stocks[bar.stock].owned
        return tuple(counts), 0 if one.survives else found.bound, False


class _Together:
    def __init__(
        self,
        wanted: Sequence[Wanted],
        sellers: Sequence[Seller],
        clock: Clock,
        progress: Callable[[int | None, int], None] | None,
    ) -> None:
        self.parts = [_Part(one, clock) for one in wanted]
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
        return Purchase(status, self.best, self.cost, bound, floors)

    def total(self, mixes: Sequence[Mix]) -> int:
        """What a purchase costs, charges included."""
        goods = [0] * len(self.sellers)
        loose = 0
        for part, mix in zip(self.parts, mixes, strict=True):
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
            proposal = _Proposal(self.parts, self.sellers)
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


class _Proposal:
    """The integer program over the numbers of bars: the least total within all the rules."""

    def __init__(self, parts: Sequence[_Part], sellers: Sequence[Seller]) -> None:
        from ortools.sat.python import cp_model

        self.model: Any = cp_model.CpModel()
        self.parts, self.bound = parts, 0
        self.used = [self.model.new_bool_var("") for _ in sellers]
        self.tops = [[_most(part, at, sellers) for at in range(len(part.wanted.stocks))] for part in parts]
        self.bars = [[self._count(part, at) for at in range(len(part.wanted.stocks))] for part in parts]
        total = sum([*self._goods(None), *(self._charged(at, one) for at, one in enumerate(sellers))])
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

    def _count(self, part: _Part, at: int) -> Any:
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

    def _dearest(self, seller: int) -> int:
        """What the goods of one seller can come to at the most."""
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

    def _rules(self, part: _Part, counts: Sequence[Any]) -> None:
        model, stocks = self.model, part.wanted.stocks
        for rule in part.rules:
            need = rule.wanted(part.instance.demand)
            # The program's whole numbers have 64 bits: rounded so that the rule forbids nothing more than it did.
            over = max(1, need >> _RULE_BITS)
            held = sum(-(-top // over) * n for top, n in zip(rule.tops, counts, strict=True))
            model.add(held >= need // over)
        for reach in part.too_small:
            more = []
            for long, had in zip(part.lengths, reach, strict=True):
                beyond = model.new_bool_var("")
                longer = [n for n, stock in zip(counts, stocks, strict=True) if stock.length >= long]
                model.add(sum(longer) >= had + 1).only_enforce_if(beyond)
                more.append(beyond)
            model.add_bool_or(more)

    def solve(self, clock: Clock) -> tuple[Mix, ...] | None:
        """The cheapest purchase, with ``bound``; None where there is none. Raises TimeUpError."""
        from ortools.sat.python import cp_model

        solver: Any = cp_model.CpSolver()
        # One worker: the same answer every time. An interrupt is the caller's: the solver would swallow it.
        solver.parameters.num_workers = 1
        solver.parameters.catch_sigint_signal = False
        if not math.isinf(clock.left):
            solver.parameters.max_time_in_seconds = max(clock.left, 0.001)
        answer = solver.solve(self.model)
        if answer == cp_model.INFEASIBLE:
            return None
        if answer == cp_model.MODEL_INVALID:
            raise AssertionError(f"the program of orders is not valid, please report it: {self.model.validate()}")
        if answer != cp_model.OPTIMAL:
            raise TimeUpError
        self.bound = round(solver.objective_value) // self.scale
        return tuple(tuple(int(solver.value(one)) for one in mix) for mix in self.bars)


def _most(part: _Part, at: int, sellers: Sequence[Seller]) -> int:
    """How many bars of one stock may be of use: as many as there are pieces, and what free delivery takes."""
    stock, seller = part.wanted.stocks[at], part.wanted.sellers[at]
    if stock.owned:
        return stock.count or 0
    most = sum(part.instance.demand)
    if seller is not None and stock.price:
        most += -(-(sellers[seller].free_from or 0) // stock.price)
    return most if stock.count is None else min(most, stock.count)
