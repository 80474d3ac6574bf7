"""The second aims, each without losing those before: the longest single piece left, few bars, few stop settings.

One integer program over the columns that a plan of least cost can use. One bar may stand outside the columns,
filled with whatever it takes to leave the most on it. Nodes are limited, not seconds, so that the same input
gives the same plan; an aim not settled within them keeps the best plan found.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from cutplan.nesting.clock import Clock
from cutplan.nesting.master import Column, Duals
from cutplan.nesting.model import PackedBar, Piece, Stock
from cutplan.nesting.realise import longest_left, realise
from cutplan.nesting.task import Task

MOST_COLUMNS = 3_000
MOST_PIECES = 250


def improve(
    task: Task,
    plan: list[Column],
    duals: Duals,
    pieces: Sequence[Piece],
    stocks: Sequence[Stock],
    kerf: int,
    clock: Clock,
) -> tuple[PackedBar, ...]:
    """The bars of ``plan``, or better ones at no more cost."""
    bars = realise(task, plan, pieces, stocks, kerf)
    if sum(task.demand) > MOST_PIECES or clock.up:
        return bars
    cost = sum(task.prices[stock] for stock, _ in plan)
    listed = affordable(task, cost, duals, MOST_COLUMNS)
    if listed is None:
        return bars
    program = _Program(task, *listed, cost, stocks, clock)
    for aim in (program.aim_longest, program.aim_bars, program.aim_settings):
        best = merit(bars, pieces, stocks)
        aim(best)
        for found in program.solve():
            other = realise(task, found, pieces, stocks, kerf)
            if sum(task.prices[bar.stock] for bar in other) <= cost and merit(other, pieces, stocks) < best:
                bars = other
        if clock.up:
            break
    return bars


def merit(bars: Sequence[PackedBar], pieces: Sequence[Piece], stocks: Sequence[Stock]) -> tuple[int, int, int]:
    """The second aims of a plan in order, each the less the better."""
    opened = sum(bool(bar.pieces) or not stocks[bar.stock].owned for bar in bars)
    settings = sum(len({pieces[index].length for index in bar.pieces}) for bar in bars)
    return (-longest_left(bars, stocks), opened, settings)


def affordable(task: Task, cost: int, duals: Duals, most: int) -> tuple[list[Column], bool] | None:
    """All columns that a plan within ``cost`` can use, and True; where they are more than ``most``, the full
    ones among them, and False; None where these are more too."""
    worth = [max(price * duals.scale, top) for price, top in zip(task.prices, duals.tops, strict=True)]
    excess = sum(
        limit * (value - price * duals.scale)
        for limit, value, price in zip(task.limits, worth, task.prices, strict=True)
    )
    slack = cost * duals.scale + excess - duals.wanted(task.demand)
    table = task.table(duals.values, task.demand, keep=True)
    for full in (False, True):
        columns: list[Column] = []
        for stock, limit in enumerate(task.limits):
            if limit:
                found = table.near(task.capacities[stock], worth[stock] - slack, most * (8 if full else 1), full)
                if found is None or len(found) + len(columns) > most:
                    break
                columns += [(stock, counts) for counts in found if counts]
        else:
            return columns, not full
    return None


class _Program:
    """Columns, one bar filled freely (``place`` says of which stock), or one owned bar left whole."""

    def __init__(
        self, task: Task, columns: Sequence[Column], every: bool, cost: int, stocks: Sequence[Stock], clock: Clock
    ) -> None:
        from ortools.linear_solver import pywraplp

        self.task, self.columns, self.clock, self.stocks = task, columns, clock, stocks
        solver: Any = pywraplp.Solver.CreateSolver("SCIP")
        self.solver = solver
        self.bars = [solver.IntVar(0, task.limits[stock], "") for stock, _ in columns]
        self.place = [solver.IntVar(0, 1 if limit else 0, "") for limit in task.limits]
        self.whole = [solver.IntVar(0, 1 if s.owned and n else 0, "") for s, n in zip(stocks, task.limits, strict=True)]
        self.loose = [solver.IntVar(0, count, "") for count in task.demand]
        self.cut = [solver.IntVar(0, 1, "") for _ in task.demand]
        self.opened = solver.IntVar(0, 1, "")
        self.longest = solver.NumVar(0, max(task.capacities), "")
        self._rows(cost, every)

    def _rows(self, cost: int, every: bool) -> None:
        solver, task = self.solver, self.task
        held: list[list[Any]] = [[] for _ in task.demand]
        used: list[list[Any]] = [[] for _ in task.limits]
        for bar, (stock, counts) in zip(self.bars, self.columns, strict=True):
            used[stock].append(bar)
            for item, count in counts:
                held[item].append(count * bar)
        for item, count in enumerate(task.demand):
            row = solver.Sum([*held[item], self.loose[item]])
            solver.Add(row == count if every else row >= count)
            if not task.spare(item):
                solver.Add(self.loose[item] <= count * self.cut[item])
        for stock, limit in enumerate(task.limits):
            count = self.stocks[stock].count
            cap = limit + 1 if count is None else count
            solver.Add(solver.Sum([*used[stock], self.place[stock], self.whole[stock]]) <= cap)
        solver.Add(solver.Sum(self.place) + solver.Sum(self.whole) == 1)
        spent = [task.prices[s] * bar for bar, (s, _) in zip(self.bars, self.columns, strict=True)]
        spent += [price * chosen for price, chosen in zip(task.prices, self.place, strict=True)]
        solver.Add(solver.Sum(spent) <= cost)
        room = solver.Sum([c * chosen for c, chosen in zip(task.capacities, self.place, strict=True)])
        load = solver.Sum([w * n for w, n in zip(task.weights, self.loose, strict=True)])
        spare = solver.Sum(
            [w * n for i, (w, n) in enumerate(zip(task.weights, self.loose, strict=True)) if task.spare(i)]
        )
        solver.Add(load <= room)
        solver.Add(solver.Sum(self.loose) >= solver.Sum(self.place))
        owned = solver.Sum([s.length * n for s, n in zip(self.stocks, self.whole, strict=True)])
        # A bar's capacity is its length and one kerf: on an empty bar the difference is no length left.
        lengths = solver.Sum([s.length * n for s, n in zip(self.stocks, self.place, strict=True)])
        solver.Add(self.longest <= room - load + spare + owned)
        solver.Add(self.longest <= lengths + owned)

    def aim_longest(self, best: tuple[int, int, int]) -> None:
        """The longest single piece left."""
        self.solver.Maximize(self.longest)

    def aim_bars(self, best: tuple[int, int, int]) -> None:
        """Few bars, none of the longest piece given away."""
        self.solver.Add(self.longest >= -best[0])
        task = self.task
        bought = self.solver.Sum([n for n, stock in zip(self.place, self.stocks, strict=True) if not stock.owned])
        for item, cut in enumerate(self.cut):
            if not task.spare(item):
                self.solver.Add(self.opened >= cut)
        self.solver.Add(self.opened >= bought)
        opened = [
            bar
            for bar, (stock, counts) in zip(self.bars, self.columns, strict=True)
            if not self.stocks[stock].owned or not all(task.spare(item) for item, _ in counts)
        ]
        self.count = self.solver.Sum([*opened, self.opened])
        self.solver.Minimize(self.count)

    def aim_settings(self, best: tuple[int, int, int]) -> None:
        """Few stop settings, no bar more."""
        self.solver.Add(self.count <= best[1])
        task = self.task
        lengths = [
            len({task.weights[item] for item, _ in counts if not task.spare(item)}) for _, counts in self.columns
        ]
        settings = self.solver.Sum([n * bar for n, bar in zip(lengths, self.bars, strict=True)])
        self.solver.Minimize(settings + self.solver.Sum(self.cut))

    def solve(self) -> list[list[Column]]:
        """The plan found within the nodes allowed, if any."""
        self.solver.SetSolverSpecificParametersAsString(f"limits/nodes = {max(20, 60_000 // (200 + len(self.bars)))}")
        if self.clock.left < float("inf"):
            self.solver.SetTimeLimit(max(1, int(1000 * self.clock.left)))
        self.found = self.solver.Solve() in (self.solver.OPTIMAL, self.solver.FEASIBLE)
        if not self.found:
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
