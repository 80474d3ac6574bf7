"""Small linear programs: a thin front to CLP, the open simplex solver that comes with OR-Tools.

Not GLOP: where many rows are nearly alike, as those of a saddle are, it calls some feasible programs infeasible.
"""

from __future__ import annotations

from collections.abc import Sequence


class Region:
    """The points that satisfy ``rows`` and ``bounds``; what is set up once can be maximised over several times.

    ``rows``: each ``(coefficients, limit)`` says ``sum(coefficient * variable) <= limit``. ``bounds``: the least and
    greatest value of each variable (``float("inf")`` for none). Raises ValueError where a row does not have one entry
    a variable.
    """

    def __init__(self, rows: Sequence[tuple[Sequence[float], float]], bounds: Sequence[tuple[float, float]]) -> None:
        from ortools.linear_solver import pywraplp

        if any(len(row) != len(bounds) for row, _ in rows):
            raise ValueError(f"every row needs {len(bounds)} entries, one a variable")
        self._optimal = pywraplp.Solver.OPTIMAL
        self._solver = pywraplp.Solver.CreateSolver("CLP")
        self._variables = [self._solver.NumVar(low, high, "") for low, high in bounds]
        for row, limit in rows:
            constraint = self._solver.Constraint(-self._solver.infinity(), limit)
            for variable, coefficient in zip(self._variables, row, strict=True):
                constraint.SetCoefficient(variable, coefficient)

    def maximise(self, objective: Sequence[float]) -> tuple[float, ...] | None:
        """The point where ``objective`` is greatest, or None where no point is allowed or there is no greatest value.

        Raises ValueError where ``objective`` does not have one entry a variable.
        """
        if len(objective) != len(self._variables):
            raise ValueError(f"the objective needs {len(self._variables)} entries, one a variable")
        for variable, coefficient in zip(self._variables, objective, strict=True):
            self._solver.Objective().SetCoefficient(variable, coefficient)
        self._solver.Objective().SetMaximization()
        if self._solver.Solve() != self._optimal:
            return None
        return tuple(variable.solution_value() for variable in self._variables)
