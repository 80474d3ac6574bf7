"""The linear master over patterns and its safe bounds.

Column generation after Gilmore and Gomory (1961, 1963), the bound after Farley (1990). A floating-point dual
only proposes: it is rounded to whole numbers over a common denominator, the best pattern for it is found in
whole numbers, and every bound follows from these by exact fractions (the safe bounds of Baldacci and others,
2023, in spirit). Where it takes many rounds, the duals priced are drawn towards the best ones so far (the smoothing of
Wentges 1997, as in Pessoa and others 2018).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.nesting.clock import Clock, TimeUpError
from cutplan.nesting.instance import Instance
from cutplan.nesting.knapsack import Counts, whole_values

Column = tuple[int, Counts]
_SCALE_BITS = 44
_WIDTH = 12  # columns taken a round for each kind of bar
_SMOOTH = 0.8  # how far duals are drawn towards the best ones, from this round on:
_SMOOTH_FROM = 100


@dataclass(frozen=True, slots=True)
class Duals:
    """Whole-number values of the kinds over ``scale``, and of each kind of bar the ``top`` value of any
    pattern on it. For any plan: sum over bars of top >= sum over pieces of value."""

    values: tuple[int, ...]
    tops: tuple[int, ...]
    scale: int

    def slack(self, mix: Sequence[int], demand: Sequence[int]) -> int:
        """What a plan on a mix of bars can lose against these values; below 0: the mix is too little."""
        return sum(top * count for top, count in zip(self.tops, mix, strict=True)) - self.wanted(demand)

    def wanted(self, demand: Sequence[int]) -> int:
        """The value of all pieces."""
        return sum(v * d for v, d in zip(self.values, demand, strict=True))

    def bound(self, demand: Sequence[int], prices: Sequence[int], limits: Sequence[int | None]) -> Fraction:
        """A cost that no plan within the limits can be below. Where a bar without limit is worth more than
        its price, all values are scaled down first (Farley); a limited one is charged the excess."""
        factor = Fraction(1)
        for top, price, limit in zip(self.tops, prices, limits, strict=True):
            if limit is None and top > price * self.scale:
                factor = min(factor, Fraction(price * self.scale, top))
        total = factor * self.wanted(demand)
        for top, price, limit in zip(self.tops, prices, limits, strict=True):
            if limit is not None:
                total -= limit * max(Fraction(0), factor * top - price * self.scale)
        return total / self.scale


def duals_of(instance: Instance, values: tuple[int, ...], scale: int, clock: Clock) -> Duals:
    """The values with the best pattern of each kind of bar. Raises TimeUpError."""
    table = instance.table(values, instance.demand, clock)
    return Duals(values, tuple(map(table.best, instance.capacities)), scale)


def by_length(instance: Instance) -> Iterator[Duals]:
    """Duals without any search: every kind is worth its length, at what a unit of one kind of bar costs. A piece is
    given half of what its ends can save, as if both were always shared."""
    values = tuple(
        max(0, 2 * w - instance.give(ends)) for w, ends in zip(instance.weights, instance.kinds, strict=True)
    )
    tops = tuple(2 * max(0, capacity) for capacity in instance.capacities)
    for top, price in sorted(set(zip(tops, instance.prices, strict=True))):
        if top and price:
            yield Duals(tuple(v * price for v in values), tuple(t * price for t in tops), top)


@dataclass(slots=True)
class Relaxed:
    """Where column generation ended: ``value`` of the linear program, share of each ``column`` in use, what
    is ``short`` of the demand, the best exact ``bound`` and its ``duals``."""

    value: float
    use: list[tuple[float, Column]]
    short: float
    bound: Fraction
    duals: Duals
    settled: bool


class Master:
    """Columns over the rows of demand and of limits. The objective is the price of the bars and the ``penalties``, by
    kind, of the pieces left out. With ``exact`` penalties leaving out is part of the problem, and every bound is one on
    price and penalties together; else they only keep the program solvable, and bounds are of plans that serve all."""

    def __init__(
        self,
        instance: Instance,
        demand: Sequence[int],
        limits: Sequence[int | None],
        prices: Sequence[int],
        penalties: Sequence[float] | None = None,
        exact: bool = False,
    ) -> None:
        """``penalties`` None: more than any bar costs for its length."""
        from ortools.linear_solver import pywraplp

        self.instance, self.demand, self.limits, self.prices = instance, tuple(demand), tuple(limits), tuple(prices)
        if penalties is None:
            lightest = min(w for w, d in zip(instance.weights, demand, strict=True) if d)
            penalties = [4.0 * max(1, *prices) / lightest * weight for weight in instance.weights]
        self.ceilings = tuple(penalties) if exact else None
        self.solver = pywraplp.Solver.CreateSolver("GLOP")
        endless = self.solver.infinity()
        self.objective = self.solver.Objective()
        self.cover = [self.solver.Constraint(count, endless) for count in demand]
        self.limit = [self.solver.Constraint(-endless, endless if n is None else n) for n in limits]
        self.short = []
        for item, row in enumerate(self.cover):
            variable = self.solver.NumVar(0, endless, "")
            row.SetCoefficient(variable, 1)
            self.objective.SetCoefficient(variable, penalties[item])
            self.short.append(variable)
        self.columns: list[Column] = []
        self.variables: list[object] = []
        self.known: set[Column] = set()

    def add(self, column: Column) -> bool:
        """Take a column in, unless it is there or holds more of a kind than is wanted."""
        stock, counts = column
        if column in self.known or not counts or any(self.demand[i] < n for i, n in counts):
            return False
        self.known.add(column)
        variable = self.solver.NumVar(0, self.solver.infinity(), "")
        for item, count in counts:
            self.cover[item].SetCoefficient(variable, count)
        self.limit[stock].SetCoefficient(variable, 1)
        self.objective.SetCoefficient(variable, self.prices[stock])
        self.columns.append(column)
        self.variables.append(variable)
        return True

    def generate(self, rounds: int, clock: Clock, enough: Fraction | None = None) -> Relaxed:
        """Solve and price until no column helps, or ``rounds`` or the time are up, or the bound comes to
        ``enough``. Raises TimeUpError where the time is up before the first bound."""
        best: tuple[Fraction, Duals] | None = None
        settled = False
        top_price = max(1, *self.prices, *(int(p) for p in self.ceilings or ()))
        wanted_scale = max(1, (1 << _SCALE_BITS) // top_price)
        for turn in range(max(1, rounds)):
            try:
                self._solve(clock)
                value = self.objective.Value()
                reduced = [min(0.0, row.dual_value()) for row in self.limit]
                raw = [row.dual_value() for row in self.cover]
                drawn = _SMOOTH if turn >= _SMOOTH_FROM else 0.0
                while True:
                    asked = raw if best is None or not drawn else _between(raw, best[1], drawn)
                    duals, offers = self._price(asked, wanted_scale, clock)
                    bound = duals.bound(self.demand, self.prices, self.limits)
                    if best is None or bound > best[0]:
                        best = (bound, duals)
                    fresh = False
                    for stock, worth, counts in offers:
                        true = sum(raw[item] * count for item, count in counts) * duals.scale if drawn else worth
                        if true > (self.prices[stock] - reduced[stock] + top_price * 1e-9) * duals.scale:
                            fresh |= self.add((stock, counts))
                    if fresh or not drawn:
                        break
                    drawn = max(0.0, 2 * drawn - 1)
            except TimeUpError:
                break
            if not fresh:
                settled = True
                break
            if (enough is not None and best[0] >= enough) or clock.up:
                break
        if best is None:
            raise TimeUpError
        if clock.up:
            # Nothing more is made of the columns: the bound is what counts.
            return Relaxed(value, [], 0.0, best[0], best[1], settled)
        if not settled:
            self._solve(clock)
            value = self.objective.Value()
        use = [
            (share, column)
            for column, variable in zip(self.columns, self.variables, strict=True)
            if (share := variable.solution_value()) > 1e-9  # type: ignore[attr-defined]  # not in the stubs
        ]
        short = sum(variable.solution_value() for variable in self.short)
        return Relaxed(value, use, short, best[0], best[1], settled)

    def disturbed(self, demand: Sequence[float], clock: Clock) -> Duals:
        """The duals of a demand near the true one, with no more limits to bars than it can keep.

        Raises TimeUpError."""
        weights = self.instance.weights
        load = sum(w * d for w, d in zip(weights, demand, strict=True))
        growth = max(1.0, load / sum(w * d for w, d in zip(weights, self.demand, strict=True))) * 1.001
        for row, wanted in zip(self.cover, demand, strict=True):
            row.SetLb(wanted)
        for row, limit in zip(self.limit, self.limits, strict=True):
            if limit is not None:
                row.SetUb(limit * growth)
        top_price = max(1, *self.prices)
        while True:
            self._solve(clock)
            reduced = [min(0.0, row.dual_value()) for row in self.limit]
            raw = [row.dual_value() for row in self.cover]
            duals, offers = self._price(raw, (1 << _SCALE_BITS) // top_price, clock)
            fresh = [
                self.add((stock, counts))
                for stock, worth, counts in offers
                if worth > (self.prices[stock] - reduced[stock] + top_price * 1e-9) * duals.scale
            ]
            if not any(fresh):
                return duals

    def _solve(self, clock: Clock) -> None:
        """Solve the linear program. Raises TimeUpError where the time is up before it is solved."""
        clock.solve_counted(self.solver)
        clock.check()

    def _price(self, raw: Sequence[float], scale: int, clock: Clock) -> tuple[Duals, list[tuple[int, int, Counts]]]:
        values, scale = whole_values(raw, scale, self.demand, self.ceilings)
        table = self.instance.table(values, self.demand, clock)
        tops = tuple(table.best(capacity) for capacity in self.instance.capacities)
        offers = [
            (stock, worth, counts)
            for stock, capacity in enumerate(self.instance.capacities)
            if self.limits[stock] is None or self.limits[stock]
            for worth, counts in table.patterns(capacity, _WIDTH)
        ]
        return Duals(values, tops, scale), offers


def _between(raw: Sequence[float], best: Duals, part: float) -> list[float]:
    """Duals drawn this part of the way to the best ones."""
    return [part * value / best.scale + (1 - part) * each for each, value in zip(raw, best.values, strict=True)]
