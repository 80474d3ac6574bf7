"""The last word on a mix of bars: all patterns that a plan on it could use, and an integer program over them.

Any set of whole-number duals bounds what a mix can waste. A pattern that wastes more on its own is in no plan
for this mix, and the patterns left are few where the mix is tight; where it is not, plans are easily found.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from cutplan.nesting.bars import Mix
from cutplan.nesting.clock import Clock
from cutplan.nesting.instance import Instance
from cutplan.nesting.knapsack import whole_values
from cutplan.nesting.many_duals import ManyDuals
from cutplan.nesting.master import Column, Duals

_THIN_FROM = 2_000  # below this the integer program is quicker than thinning its columns
_WORTH_LISTING = 100  # a list that is so many times too long is tried: one dual more may have shortened it enough


@dataclass(frozen=True, slots=True)
class Effort:
    """How much to spend on one mix of bars: ``dives`` for a plan; at most so many ``patterns`` to list, and, where they
    are more, so many ``duals`` at most to have fewer of them. ``again``: what stays open is taken up again at last, as
    long as there is time."""

    dives: int = 6
    patterns: int = 80_000
    duals: int = 24
    again: bool = True


def settle(
    instance: Instance, mix: Mix, duals: Duals, pool: Iterable[Column], clock: Clock, effort: Effort
) -> list[Column] | bool | None:
    """A plan on this mix, False where there is none, None where it stays open. Raises TimeUpError."""
    many = ManyDuals(instance, mix, duals, clock)
    columns = many.tight(effort.patterns)
    while columns is None and len(many.found) <= effort.duals:
        if many.more(pool) < _WORTH_LISTING * effort.patterns or len(many.found) > effort.duals:
            columns = many.tight(effort.patterns)
    if columns is None:
        return None
    if len(columns) > _THIN_FROM:
        # Few duals while the list is long, more of them for what is left.
        columns = thin(instance, mix, columns, range(12), clock)
        columns = thin(instance, mix, columns, range(12, 60), clock)
    return cover(instance, mix, columns, clock)


def thin(instance: Instance, mix: Mix, columns: list[Column], steps: range, clock: Clock) -> list[Column]:
    """The columns that are left when further duals, each optimal for a demand a little disturbed (by the
    number of its step), have had their say. Only listed columns can be in a plan, so the duals need only hold
    for these: the bound rises as the list shrinks, and an empty list is a proof that there is no plan. Whole
    numbers decide, as everywhere. No step is begun once the time is up."""
    from ortools.linear_solver import pywraplp

    demand = np.array(instance.demand, dtype=np.int64)
    matrix = np.zeros((len(columns), len(demand)), dtype=np.int64)
    for row, (_, counts) in enumerate(columns):
        for item, count in counts:
            matrix[row, item] = count
    stock = np.array([k for k, _ in columns], dtype=np.int64)
    alive = np.ones(len(columns), dtype=bool)
    solver = pywraplp.Solver.CreateSolver("GLOP")
    endless = solver.infinity()
    cover, variables = _covering(solver, instance, mix, columns, solver.NumVar)
    for variable, (k, _) in zip(variables, columns, strict=True):
        solver.Objective().SetCoefficient(variable, max(1, instance.prices[k]))
    for item, weight in enumerate(instance.weights):
        # A penalty keeps the program solvable, so that its duals can show that the mix is too little.
        short = solver.NumVar(0, endless, "")
        cover[item].SetCoefficient(short, 1)
        solver.Objective().SetCoefficient(short, 4.0 * max(1, *instance.prices) * weight / min(instance.weights))
    scale = (1 << 40) // max(1, *instance.prices)
    for step in steps:
        if clock.up:
            break
        for item, row in enumerate(cover):
            shake = 0.0 if not step else 0.02 * (((item * 7919 + step * 104_729) % 211) / 211 - 0.5)
            row.SetLb(instance.demand[item] * (1 + shake))
        clock.solve_counted(solver)
        if clock.up:
            break
        raw = [row.dual_value() for row in cover]
        values = np.array(whole_values(raw, scale, instance.demand)[0], dtype=np.int64)
        worth = matrix @ values
        tops = [int(worth[alive & (stock == k)].max(initial=0)) for k in range(len(mix))]
        slack = sum(top * count for top, count in zip(tops, mix, strict=True)) - int(demand @ values)
        out = alive & (np.array(tops, dtype=np.int64)[stock] - worth > slack)
        for place in np.flatnonzero(out):
            variables[place].SetUb(0)
        alive &= ~out
        if not alive.any():
            break
    return [columns[place] for place in np.flatnonzero(alive)]


def _covering(
    solver: Any, instance: Instance, mix: Mix, columns: Sequence[Column], variable: Callable[..., Any]
) -> tuple[list[Any], list[Any]]:
    """The rows of demand, and a ``variable`` for each column; within the mix."""
    endless = solver.infinity()
    cover = [solver.Constraint(count, endless) for count in instance.demand]
    limits = [solver.Constraint(-endless, count) for count in mix]
    variables = [variable(0, endless, "") for _ in columns]
    for each, (stock, counts) in zip(variables, columns, strict=True):
        for item, count in counts:
            cover[item].SetCoefficient(each, count)
        limits[stock].SetCoefficient(each, 1)
    return cover, variables


def cover(instance: Instance, mix: Mix, columns: list[Column], clock: Clock) -> list[Column] | bool | None:
    """Bars of these columns, within the mix, that cover the demand; False: there are none; None: open."""
    program = Program(instance, mix, columns)
    answer = program.solve(clock)
    return program.plan() if answer else answer


class Program:
    """The integer program over columns: within the mix, cover the demand. With ``penalties`` (by kind; None: may not
    be left out) pieces may be left out, at the least penalty in all; with ``within`` too, the fewest pieces at no more
    penalty than that. After `solve`, ``settled``: no better answer is left over these columns."""

    def __init__(
        self,
        instance: Instance,
        mix: Mix,
        columns: list[Column],
        penalties: Sequence[int | None] | None = None,
        within: int | None = None,
    ) -> None:
        from ortools.linear_solver import pywraplp

        self.columns, self.settled = columns, False
        self.solver = pywraplp.Solver.CreateSolver("SCIP")
        endless = self.solver.infinity()
        rows, self.variables = _covering(self.solver, instance, mix, columns, self.solver.IntVar)
        cap = None if within is None else self.solver.Constraint(-endless, within)
        for row, penalty, count in zip(rows, penalties, instance.demand, strict=True) if penalties else ():
            if penalty is None:
                continue
            variable = self.solver.IntVar(0, count, "")
            row.SetCoefficient(variable, 1)
            self.solver.Objective().SetCoefficient(variable, penalty if cap is None else 1)
            if cap is not None:
                cap.SetCoefficient(variable, penalty)

    def solve(self, clock: Clock) -> bool | None:
        """True: solved; False: proven to have no answer; None: neither, in the time left."""
        # An interrupt is the caller's: the solver would swallow it. And a proof has no gap: OR-Tools stops at 1e-4.
        limits = f"misc/catchctrlc = FALSE\nlimits/gap = 0\nlimits/nodes = {clock.nodes(self.solver)}\n"
        self.solver.SetSolverSpecificParametersAsString(limits)
        answer = clock.solve_counted(self.solver)
        self.settled = answer in (self.solver.OPTIMAL, self.solver.INFEASIBLE)
        if answer == self.solver.INFEASIBLE:
            return False
        return True if answer in (self.solver.OPTIMAL, self.solver.FEASIBLE) else None

    def plan(self) -> list[Column]:
        """The columns taken, each as often as it is."""
        pairs = zip(self.columns, self.variables, strict=True)
        return [column for column, variable in pairs for _ in range(round(variable.solution_value()))]
