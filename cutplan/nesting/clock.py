"""The time given, and who is told of progress."""

from __future__ import annotations

import time
from collections.abc import Callable
from fractions import Fraction

from cutplan.nesting.model import Progress


class Clock:
    """Counts seconds from its making; without a limit it never runs out."""

    def __init__(self, limit: float | None, listener: Callable[[Progress], None] | None = None) -> None:
        self._start = time.perf_counter()
        self._limit = limit
        self._listener = listener

    @property
    def gone(self) -> float:
        """Seconds since the start."""
        return time.perf_counter() - self._start

    @property
    def left(self) -> float:
        """Seconds that may still be used."""
        return float("inf") if self._limit is None else self._limit - self.gone

    @property
    def up(self) -> bool:
        """Whether the time has run out."""
        return self.left <= 0

    def tell(self, stage: str, cost: int | None, bound: int | Fraction) -> None:
        """Report to the listener, if there is one."""
        if self._listener is not None:
            self._listener(Progress(stage, cost, -(-bound // 1), self.gone))
