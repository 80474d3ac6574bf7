"""Small linear programs: a thin front to CLP, the open simplex solver that comes with OR-Tools.

Not GLOP: where many rows are nearly alike, as those of a saddle are, it calls some feasible programs infeasible.
"""

from __future__ import annotations

from collections.abc import Sequence


def maximise(
    objective: Sequence[float],
    rows: Sequence[tuple[Sequence[float], float]],
    bounds: Sequence[tuple[float, float]],
) -> tuple[float, ...] | None:
    """The values of the variables where ``objective`` is greatest, or None where no point is allowed
    or the objective has no greatest value.

    ``rows``: each ``(coefficients, limit)`` says ``sum(coefficient * variable) <= limit``. ``bounds``: the
    least and greatest value of each variable (``float("inf")`` for none). Raises ValueError where a row or
    the bounds do not have one entry a variable.
    """
    from ortools.linear_solver import pywraplp

    if len(bounds) != len(objective) or any(len(row) != len(objective) for row, _ in rows):
        raise ValueError(f"every row and the bounds need {len(objective)} entries, one a variable")
    solver = pywraplp.Solver.CreateSolver("CLP")
    variables = [solver.NumVar(low, high, "") for low, high in bounds]
    for row, limit in rows:
        constraint = solver.Constraint(-solver.infinity(), limit)
        for variable, coefficient in zip(variables, row, strict=True):
            constraint.SetCoefficient(variable, coefficient)
    for variable, coefficient in zip(variables, objective, strict=True):
        solver.Objective().SetCoefficient(variable, coefficient)
    solver.Objective().SetMaximization()
    if solver.Solve() != pywraplp.Solver.OPTIMAL:
        return None
    return tuple(variable.solution_value() for variable in variables)
