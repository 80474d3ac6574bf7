"""The least cost of one tube for every (spares, insured length), with as few solves as the costs allow.

Room for k spares of a length is room for fewer or shorter ones, so the least cost never falls as either grows.
(Fitted one at a time, one spare needs no more than such room, and for a shorter length no more than for a longer.)
Each solve therefore bounds its neighbours from above or from below, and a step whose two bounds meet is settled
without one of its own; between two steps of equal cost nothing is solved.
"""

from __future__ import annotations

import math
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from cutplan.nesting import Status
from cutplan.plan.planner import packed
from cutplan.plan.problem import Limits, Problem
from cutplan.plan.sequential.course import Searches


class Clock:
    """Shares out the time left among the solves still to come: evenly among the last few, and at least an eighth to the
    next one, as one proof often settles many others."""

    def __init__(self, limits: Limits) -> None:
        self.limits = limits
        self.end = None if limits.seconds is None else time.perf_counter() + limits.seconds

    def share(self, solves: int) -> Limits:
        """The limits of the next of ``solves``."""
        if self.end is None:
            return self.limits
        return replace(self.limits, seconds=max(self.end - time.perf_counter(), 0.0) / min(max(solves, 1), 8))

    @property
    def up(self) -> bool:
        """Whether the time has run out."""
        stopped = self.limits.stop is not None and self.limits.stop()
        return stopped or (self.end is not None and time.perf_counter() >= self.end)


@dataclass(frozen=True, slots=True)
class Rung:
    """``spares`` more blanks of ``length`` mm, the cheapest plan found with room for them and the bound on any,
    both as the solver counts cost."""

    spares: int
    length: Fraction
    cost: int
    bound: int


class Ladder:
    """The rungs of one tube, up to ``most`` spares. ``known``: the searches for courses, to be used again."""

    def __init__(self, problem: Problem, most: int, known: Searches | None = None) -> None:
        self.known = {} if known is None else known
        self.problem = problem
        self.most = most
        lengths = sorted({blank.length for group in problem.blanks for blank in group if blank.insured})
        self.lengths = (Fraction(0), *lengths)
        self._steps = [(0, 0), *((k, i) for k in range(1, most + 1) for i in range(1, len(self.lengths)))]
        self._found: dict[tuple[int, int], tuple[float, float]] = {}

    def span(self, spares: int, at: int) -> tuple[float, float]:
        """The least cost with ``spares`` of ``lengths[at]`` is between these two; the upper is infinite where no plan
        is known, both where there is none."""
        spares, at = (spares, at) if spares and at else (0, 0)
        return (
            max((low for (k, i), (low, _) in self._found.items() if k <= spares and i <= at), default=0),
            min((high for (k, i), (_, high) in self._found.items() if k >= spares and i >= at), default=math.inf),
        )

    def solve(self, spares: int, at: int, limits: Limits) -> None:
        """Find the least cost with ``spares`` of ``lengths[at]``, unless it is known already."""
        low, high = self.span(spares, at)
        if low == high:
            return
        packing, _ = packed(self.problem, spares, self.lengths[at], limits, self.known, second_aims=False)
        if packing.status is Status.IMPOSSIBLE:
            self._found[spares, at] = (math.inf, math.inf)
        else:
            self._found[spares, at] = (packing.bound, math.inf if packing.cost is None else packing.cost)

    def climb(self, clock: Clock, others: int) -> None:
        """Find the cost of every step, or of as many as there is time for. ``others``: the solves that other ladders
        may still need."""
        last = len(self.lengths) - 1
        for spares in range(self.most, 0, -1):
            if clock.up:
                return
            self.solve(spares, last, clock.share(self.unsettled() + others))
            self._between(spares, 0, last, clock, others)

    def _between(self, spares: int, first: int, last: int, clock: Clock, others: int) -> None:
        middle = (first + last) // 2
        if clock.up or middle == first or self.span(spares, first)[1] == self.span(spares, last)[1]:
            return
        self.solve(spares, middle, clock.share(self.unsettled() + others))
        self._between(spares, first, middle, clock, others)
        self._between(spares, middle, last, clock, others)

    def unsettled(self) -> int:
        """How many steps may still need a solve."""
        return sum(low != high for low, high in (self.span(*step) for step in self._steps))

    def rungs(self) -> Iterator[Rung]:
        """Every step for which a plan is known, the one without a spare first."""
        for spares, at in self._steps:
            low, high = self.span(spares, at)
            if high < math.inf:
                yield Rung(spares, self.lengths[at], int(high), int(low))
