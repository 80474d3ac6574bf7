"""The time given, what may end it early, where progress is reported; and the work done, counted in steps that are the
same on every machine."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from threading import Thread
from typing import Any

from cutplan.nesting.model import Progress

_LOOK = 0.05
"""Seconds between two looks whether to stop."""
_PIVOT = 10
"""Steps of a knapsack table that take about as long as a pivot of the simplex method, a row or column."""
_PIVOTS = 50
"""Pivots to a node of an integer program, about."""


class TimeUpError(Exception):
    """The time is up amid a piece of work that is worth nothing unfinished. Never leaves this package."""


class Clock:
    """Counts seconds from when it is made. It runs out at ``limit``, or once ``stop`` says so; without both, never."""

    def __init__(
        self,
        limit: float | None,
        listener: Callable[[Progress], None] | None = None,
        stop: Callable[[], bool] | None = None,
    ) -> None:
        self._start = time.perf_counter()
        self._limit = limit
        self._listener = listener
        self._stop = stop
        self._most: int | None = None
        self.steps = 0
        """The work done so far."""

    @property
    def elapsed(self) -> float:
        """Seconds since the start."""
        return time.perf_counter() - self._start

    @property
    def left(self) -> float:
        """Seconds that may still be used."""
        if (self._stop is not None and self._stop()) or (self._most is not None and self.steps >= self._most):
            return 0.0
        return float("inf") if self._limit is None else self._limit - self.elapsed

    @property
    def limited(self) -> bool:
        """Whether a limit was set, of seconds or steps."""
        return self._limit is not None or self._most is not None

    @property
    def up(self) -> bool:
        """Whether the time has run out."""
        return self.left <= 0

    def check(self) -> None:
        """Raise TimeUpError once the time has run out."""
        if self.up:
            raise TimeUpError

    def report(self, stage: str, cost: int | None, bound: int | Fraction) -> None:
        """Report to the listener, if there is one."""
        if self._listener is not None:
            self._listener(Progress(stage, cost, -(-bound // 1), self.elapsed))

    def settled(self, cost: int, bound: int, steps: int) -> Clock:
        """The same time for a search after that of least cost: what is reported stays ``cost`` and
        ``bound``. It is up too once ``steps`` are done."""
        listener = self._listener

        def report(at: Progress) -> None:
            if listener is not None:
                listener(replace(at, cost=cost, bound=bound, seconds=self.elapsed))

        clock = Clock(self._limit, report, self._stop)
        clock._start, clock._most = self._start, steps
        return clock

    def solve_counted(self, solver: Any) -> int:
        """`solve`, and its pivots are counted."""
        status = self.solve(solver)
        self.steps += _PIVOT * solver.iterations() * (solver.NumVariables() + solver.NumConstraints())
        return status

    def nodes(self, solver: Any) -> int:
        """How many nodes of this integer program there are steps left for; -1 for any number."""
        if self._most is None:
            return -1
        node = _PIVOT * _PIVOTS * (solver.NumVariables() + solver.NumConstraints())
        return 1 + int(max(0, self._most - self.steps) // node)

    def solve(self, solver: Any) -> int:
        """``solver.Solve()`` of OR-Tools within the time left, broken off once it is up; its status."""
        if self.left < float("inf"):
            solver.SetTimeLimit(max(1, int(1000 * self.left)))
        if self._stop is None:
            return int(solver.Solve())
        return int(self._watched(solver.Solve, solver.InterruptSolve))

    def solve_model(self, model: Any) -> tuple[Any, Any]:
        """A CP-SAT solver that has solved ``model`` within the time left, and its answer."""
        from ortools.sat.python import cp_model

        solver: Any = cp_model.CpSolver()
        # One worker: the same answer every time. An interrupt is the caller's: the solver would swallow it.
        solver.parameters.num_workers = 1
        solver.parameters.catch_sigint_signal = False
        if self.left < float("inf"):
            solver.parameters.max_time_in_seconds = max(self.left, 0.001)
        answer = self._watched(lambda: solver.solve(model), solver.stop_search)
        if answer == cp_model.MODEL_INVALID:
            raise AssertionError(f"an integer program is not valid, please report it: {model.validate()}")
        return solver, answer

    def _watched(self, solve: Callable[[], Any], interrupt: Callable[[], object]) -> Any:
        """What ``solve`` gives. It runs in a thread of its own, so that this one still receives signals, and is
        interrupted once the time is up. Raises TimeUpError where it then gives nothing."""
        answers: list[Any] = []
        thread = Thread(target=lambda: answers.append(solve()), daemon=True)
        thread.start()
        while thread.is_alive():
            thread.join(_LOOK)
            if self.up:
                interrupt()
        if not answers:
            raise TimeUpError
        return answers[0]
