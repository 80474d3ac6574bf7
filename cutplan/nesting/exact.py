"""The last word on a mix of bars: all patterns that a plan on it could use, and an integer program over them.

Any set of whole-number duals bounds what a mix can waste. A pattern that wastes more on its own is in no plan
for this mix, and the patterns left are few where the mix is tight; where it is not, plans are easily found.
"""

from __future__ import annotations

from collections.abc import Sequence

from cutplan.nesting.bars import Mix
from cutplan.nesting.clock import Clock
from cutplan.nesting.master import Column, Duals
from cutplan.nesting.task import Task

MOST_PATTERNS = 60_000


def settle(task: Task, mix: Mix, duals: Duals, clock: Clock, most: int = MOST_PATTERNS) -> list[Column] | bool | None:
    """A plan on this mix, False where there is none, None where it stays open."""
    columns = tight(task, mix, duals, most)
    if columns is None:
        return None
    return cover(task, mix, columns, clock)


def tight(task: Task, mix: Mix, duals: Duals, most: int) -> list[Column] | None:
    """All columns that a plan on this mix can use, or None where there are more than ``most``."""
    slack = sum(t * n for t, n in zip(duals.tops, mix, strict=True)) - duals.wanted(task.demand)
    table = task.table(duals.values, task.demand, keep=True)
    columns: list[Column] = []
    for stock, count in enumerate(mix):
        if count:
            found = table.near(task.capacities[stock], duals.tops[stock] - slack, most)
            if found is None or len(found) + len(columns) > most:
                return None
            columns += [(stock, counts) for counts in found]
    return columns


def cover(task: Task, mix: Mix, columns: list[Column], clock: Clock) -> list[Column] | bool | None:
    """Bars of these columns, within the mix, that cover the demand; False: there are none; None: open."""
    program = Program(task, mix, columns)
    answer = program.solve(clock)
    return program.plan() if answer else answer


def choose(
    task: Task, mix: Mix, columns: list[Column], clock: Clock, fines: Sequence[int]
) -> tuple[list[Column], int] | None:
    """Bars of these columns, within the mix, that leave out the pieces with the least fines, and those."""
    program = Program(task, mix, columns, fines)
    if not program.solve(clock):
        return None
    return program.plan(), program.fined()


class Program:
    """The integer program over columns: within the mix, cover the demand, or pay fines for what is short."""

    def __init__(self, task: Task, mix: Mix, columns: list[Column], fines: Sequence[int] | None = None) -> None:
        from ortools.linear_solver import pywraplp

        self.columns, self.fines = columns, fines
        self.solver = pywraplp.Solver.CreateSolver("SCIP")
        endless = self.solver.infinity()
        rows = [self.solver.Constraint(count, endless) for count in task.demand]
        limits = [self.solver.Constraint(-endless, count) for count in mix]
        self.variables = []
        for stock, counts in columns:
            variable = self.solver.IntVar(0, mix[stock], "")
            for item, count in counts:
                rows[item].SetCoefficient(variable, count)
            limits[stock].SetCoefficient(variable, 1)
            self.variables.append(variable)
        self.short = []
        for row, fine, count in zip(rows, fines, task.demand, strict=True) if fines else ():
            variable = self.solver.IntVar(0, count, "")
            row.SetCoefficient(variable, 1)
            self.solver.Objective().SetCoefficient(variable, fine)
            self.short.append(variable)

    def solve(self, clock: Clock) -> bool | None:
        """True: solved; False: proven to have no answer; None: neither, in the time left."""
        if clock.left < float("inf"):
            self.solver.SetTimeLimit(max(1, int(1000 * clock.left)))
        answer = self.solver.Solve()
        if answer == self.solver.INFEASIBLE:
            return False
        return True if answer in (self.solver.OPTIMAL, self.solver.FEASIBLE) else None

    def plan(self) -> list[Column]:
        """The columns taken, each as often as it is."""
        pairs = zip(self.columns, self.variables, strict=True)
        return [column for column, variable in pairs for _ in range(round(variable.solution_value()))]

    def fined(self) -> int:
        """The fines to pay."""
        pairs = zip(self.fines or (), self.short, strict=True)
        return sum(fine * round(variable.solution_value()) for fine, variable in pairs)
