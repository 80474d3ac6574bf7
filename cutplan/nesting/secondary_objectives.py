"""The secondary objectives, each without losing those before: the longest single piece left, few bars, few settings.

Small jobs: one integer program over all columns that a plan of least cost can use, with one bar outside the
columns, filled so as to leave the most on it. Larger jobs: the longest piece left alone, by
search, for no more than a part of the work of the proof. The effort is counted in steps, not in seconds, so that a
slower machine gives the same plan.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from cutplan.nesting.clock import Clock, TimeUpError
from cutplan.nesting.enumeration import Effort
from cutplan.nesting.extract import extract, lay, longest_left
from cutplan.nesting.instance import Instance, make
from cutplan.nesting.listing import near_all
from cutplan.nesting.master import Column, Duals
from cutplan.nesting.model import PackedBar, Piece, Spare, Stock
from cutplan.nesting.search import Search

MOST_COLUMNS = 300
MOST_PIECES = 400
MOST_WORK = 180  # tries of a longer piece left, times the kinds of piece
PART = 2  # of the steps of the proof, the secondary objectives may take one in so many
LEAST_STEPS = 500_000_000  # or these: a second or two
MANY = 160  # from so many pieces on a longer rest is often had at once, and a try that fails is dear:
FAILURES = 4  # then it ends with so many of those, or with the steps
_LITTLE = Effort(dives=1, patterns=1_000, duals=0, again=False)  # for one try of a longer piece left
# CP-SAT counts its work in units that take about a second. The programs are small: probing them costs more than
# it saves. An interrupt is the caller's: the solver would swallow it.
_EFFORT = (
    "num_workers: 1, max_deterministic_time: 0.3, cp_model_probing_level: 0, symmetry_level: 0, "
    "catch_sigint_signal: false"
)


@dataclass(frozen=True, slots=True)
class Asked:
    """What was asked of `pack`."""

    pieces: Sequence[Piece]
    stocks: Sequence[Stock]
    kerf: int
    spare: Spare | None
    joints: Mapping[int, int] | None


def improve(search: Search, asked: Asked) -> tuple[PackedBar, ...]:
    """The bars of the search's plan, or better ones at no more cost."""
    pieces, stocks, kerf = asked.pieces, asked.stocks, asked.kerf
    instance, plan, clock = search.instance, search.plan or [], search.clock
    bars = extract(instance, plan, pieces, stocks, kerf)
    if sum(instance.demand) > MOST_PIECES or clock.up:
        return bars
    cost = sum(instance.prices[stock] for stock, _ in plan)
    try:
        # Proven without any rule: the job is so large that the columns are far too many.
        columns = affordable(instance, cost, search.rules[0], MOST_COLUMNS, clock) if search.rules else None
    except TimeUpError:
        return bars
    if columns is None:
        if len(instance.machine.lost) > 1:
            return bars  # with shared cuts every table is many layers deep: halving would take too long
        return lengthen(bars, cost, search, asked)
    program = _Program(instance, columns, cost, stocks, clock)
    for aim in (program.aim_longest, program.aim_bars, program.aim_settings):
        best = merit(bars, pieces, stocks)
        aim(best)
        for found in program.solve():
            other = extract(instance, found, pieces, stocks, kerf)
            if sum(instance.prices[bar.stock] for bar in other) <= cost and merit(other, pieces, stocks) < best:
                bars = other
        if clock.up:
            break
    return bars


def merit(bars: Sequence[PackedBar], pieces: Sequence[Piece], stocks: Sequence[Stock]) -> tuple[int, int, int]:
    """The secondary objectives of a plan in order, each the less the better."""
    opened = sum(bool(bar.pieces) or not stocks[bar.stock].owned for bar in bars)
    settings = sum(len({pieces[index].length for index in bar.pieces}) for bar in bars)
    return (-longest_left(bars, stocks), opened, settings)


def affordable(instance: Instance, cost: int, duals: Duals, most: int, clock: Clock) -> list[Column] | None:
    """All columns that a plan within ``cost`` can use, or None where they are more than ``most``.

    Raises TimeUpError.
    """
    worth = [max(price * duals.scale, top) for price, top in zip(instance.prices, duals.tops, strict=True)]
    excess = sum(
        limit * (value - price * duals.scale)
        for limit, value, price in zip(instance.limits, worth, instance.prices, strict=True)
    )
    slack = cost * duals.scale + excess - duals.wanted(instance.demand)
    table = instance.table(duals.values, instance.demand, clock, keep=True)
    floors = [[value - slack] for value in worth]
    return near_all([table], instance.capacities, instance.limits, floors, most, full=False)


def lengthen(bars: tuple[PackedBar, ...], cost: int, search: Search, asked: Asked) -> tuple[PackedBar, ...]:
    """Bars of no more cost with a longer piece left, by halving: one more piece of the length asked for must
    find room. To within 1/250 of the longest bar, and the fewer tries the more kinds of piece there are;
    from ``MANY`` pieces on, until ``FAILURES`` tries have failed."""
    stocks, kerf, spare = asked.stocks, asked.kerf, asked.spare
    steps = max(LEAST_STEPS, search.clock.steps // PART)
    clock = search.clock.settled(cost, cost if search.proven else search.bound, steps)
    low, high = longest_left(bars, stocks), max(stock.length for stock in stocks)
    step = max(1, high // 250)
    # Room enough for one spare more can be had where a little less room cannot: then a spare need not lie
    # elsewhere. Between these lengths, what holds for one rest holds for all shorter ones.
    firsts = {stock.length for stock in stocks if stock.owned}
    if spare is not None and spare.length > 0:
        firsts |= {count * (spare.length + kerf) - kerf for count in range(1, min(spare.count, 6) + 1)}
    tries = sorted(firsts, reverse=True)
    instance = search.instance
    many = sum(instance.demand) >= MANY
    effort = FAILURES if many else max(2, MOST_WORK // len(instance.weights))
    while low + step <= high and effort and not clock.up:
        tries = [length for length in tries if low < length <= high]
        wanted = tries.pop(0) if tries else (low + high + 1) // 2
        other = _with_rest(wanted, cost, search, asked, clock)
        left = longest_left(other, stocks) if other else 0
        effort -= left <= low or not many
        if left > low:
            bars, low, tries = other, left, []
        else:
            high = wanted - 1
    return bars


def _with_rest(wanted: int, cost: int, known: Search, asked: Asked, clock: Clock) -> tuple[PackedBar, ...]:
    """Bars within ``cost`` one of which has ``wanted`` left, or none. Spares are kept in that rest first."""
    pieces, stocks, kerf, spare = asked.pieces, asked.stocks, asked.kerf, asked.spare
    inside = 0
    if spare is not None and spare.length > 0:
        inside = min(spare.count, (wanted + kerf) // (spare.length + kerf))
        spare = Spare(spare.length, spare.count - inside)
    instance = make([*pieces, Piece(wanted, 1)], stocks, kerf, spare, asked.joints)
    search = Search(instance, clock, below=cost + 1, effort=_LITTLE)
    places = {key: item for item, key in enumerate(_keys(instance))}
    names = _keys(known.instance)
    for stock, counts in known.pool:
        if all(names[item] in places for item, _ in counts):
            search.pool[stock, tuple(sorted((places[names[item]], count) for item, count in counts))] = None
    search.run()
    if search.plan is None:
        return ()
    bars = []
    for bar in extract(instance, search.plan, [*pieces, Piece(wanted, 1)], stocks, kerf):
        if len(pieces) in bar.pieces:
            cut = [index for index in bar.pieces if index != len(pieces)]
            bar = lay(instance, bar.stock, cut, bar.spares + inside, pieces, stocks[bar.stock].length, kerf)
        if bar.pieces or bar.spares:
            bars.append(bar)
    return tuple(bars)


def _keys(instance: Instance) -> list[tuple[int, tuple[int, int], bool]]:
    """What the kinds differ by, in any instance."""
    return [
        (weight, ends, instance.spare(item))
        for item, (weight, ends) in enumerate(zip(instance.weights, instance.kinds, strict=True))
    ]


class _Program:
    """Columns, one bar filled freely (``place`` says of which stock), or one owned bar left whole."""

    def __init__(
        self, instance: Instance, columns: Sequence[Column], cost: int, stocks: Sequence[Stock], clock: Clock
    ) -> None:
        from ortools.linear_solver import pywraplp

        self.instance, self.columns, self.clock, self.stocks = instance, columns, clock, stocks
        solver: Any = pywraplp.Solver.CreateSolver("SAT")
        solver.SetSolverSpecificParametersAsString(_EFFORT)
        self.solver = solver
        self.bars = [solver.IntVar(0, instance.limits[stock], "") for stock, _ in columns]
        self.place = [solver.IntVar(0, 1 if limit else 0, "") for limit in instance.limits]
        self.whole = [
            solver.IntVar(0, 1 if s.owned and n else 0, "") for s, n in zip(stocks, instance.limits, strict=True)
        ]
        self.loose = [solver.IntVar(0, count, "") for count in instance.demand]
        self.cut = [solver.IntVar(0, 1, "") for _ in instance.demand]
        self.opened = solver.IntVar(0, 1, "")
        # A bar filled to its very end may lack the last kerf: what is left is then below zero by up to that.
        self.longest = solver.IntVar(-max(instance.capacities), max(instance.capacities), "")
        self._rows(cost)

    def _rows(self, cost: int) -> None:
        solver, instance = self.solver, self.instance
        held: list[list[Any]] = [[] for _ in instance.demand]
        used: list[list[Any]] = [[] for _ in instance.limits]
        for bar, (stock, counts) in zip(self.bars, self.columns, strict=True):
            used[stock].append(bar)
            for item, count in counts:
                held[item].append(count * bar)
        for item, count in enumerate(instance.demand):
            solver.Add(solver.Sum([*held[item], self.loose[item]]) == count)
            if not instance.spare(item):
                solver.Add(self.loose[item] <= count * self.cut[item])
        for stock, limit in enumerate(instance.limits):
            owned = self.stocks[stock].count
            cap = limit + 1 if owned is None else owned
            solver.Add(solver.Sum([*used[stock], self.place[stock], self.whole[stock]]) <= cap)
        solver.Add(solver.Sum(self.place) + solver.Sum(self.whole) == 1)
        spent = [instance.prices[s] * bar for bar, (s, _) in zip(self.bars, self.columns, strict=True)]
        spent += [price * chosen for price, chosen in zip(instance.prices, self.place, strict=True)]
        solver.Add(solver.Sum(spent) <= cost)
        room = solver.Sum([c * chosen for c, chosen in zip(instance.capacities, self.place, strict=True)])
        load = solver.Sum([w * n for w, n in zip(instance.weights, self.loose, strict=True)])
        spare = solver.Sum(
            [w * n for i, (w, n) in enumerate(zip(instance.weights, self.loose, strict=True)) if instance.spare(i)]
        )
        solver.Add(load <= room)
        solver.Add(solver.Sum(self.loose) >= solver.Sum(self.place))
        whole = solver.Sum([s.length * n for s, n in zip(self.stocks, self.whole, strict=True)])
        lengths = solver.Sum([s.length * n for s, n in zip(self.stocks, self.place, strict=True)])
        solver.Add(self.longest <= lengths - load + spare + whole)

    def aim_longest(self, best: tuple[int, int, int]) -> None:
        """The longest single piece left."""
        self.solver.Maximize(self.longest)

    def aim_bars(self, best: tuple[int, int, int]) -> None:
        """Few bars, none of the longest piece given away."""
        self.solver.Add(self.longest >= -best[0])
        instance = self.instance
        bought = self.solver.Sum([n for n, stock in zip(self.place, self.stocks, strict=True) if not stock.owned])
        for item, cut in enumerate(self.cut):
            if not instance.spare(item):
                self.solver.Add(self.opened >= cut)
        self.solver.Add(self.opened >= bought)
        opened = [
            bar
            for bar, (stock, counts) in zip(self.bars, self.columns, strict=True)
            if not self.stocks[stock].owned or not all(instance.spare(item) for item, _ in counts)
        ]
        self.count = self.solver.Sum([*opened, self.opened])
        self.solver.Minimize(self.count)

    def aim_settings(self, best: tuple[int, int, int]) -> None:
        """Few stop settings, no bar more."""
        self.solver.Add(self.count <= best[1])
        instance = self.instance
        lengths = [
            len({instance.weights[item] for item, _ in counts if not instance.spare(item)})
            for _, counts in self.columns
        ]
        settings = self.solver.Sum([n * bar for n, bar in zip(lengths, self.bars, strict=True)])
        self.solver.Minimize(settings + self.solver.Sum(self.cut))

    def solve(self) -> list[list[Column]]:
        """The best plan found within the effort allowed, if any."""
        if self.clock.solve(self.solver) not in (self.solver.OPTIMAL, self.solver.FEASIBLE):
            return []
        plan = [
            column
            for column, bar in zip(self.columns, self.bars, strict=True)
            for _ in range(round(bar.solution_value()))
        ]
        free = tuple((item, count) for item, n in enumerate(self.loose) if (count := round(n.solution_value())) > 0)
        # The free bar comes first: what it holds is wanted there only if no column holds it too.
        plan += [(stock, free) for stock, chosen in enumerate(self.place) if free and chosen.solution_value() > 0.5]
        return [plan]
