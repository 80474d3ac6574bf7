"""What is not yet cut, laid out again over what is left: whole numbers, exact.

Bars are given by their *room*, the usable length left plus one kerf, so that each piece takes its length and a kerf.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from cutplan.nesting import Piece, Status, Stock, pack

Layout = tuple[tuple[int, ...], ...]
"""For each bar the kinds of piece cut from it, longest first."""


class Repacker:
    """Layouts of pieces of these ``lengths`` (falling, one a kind); ``seconds`` left is asked before each search, and
    ``stop`` all the time.

    ``effort``: how many pieces ``fits`` may still put into exact searches before it says no to all that the best fit
    does not hold. ``open``: time or effort ran out, so that some no was no proof.
    """

    def __init__(
        self,
        lengths: Sequence[int],
        kerf: int,
        effort: int = 0,
        seconds: Callable[[], float | None] = lambda: None,
        stop: Callable[[], bool] | None = None,
    ) -> None:
        self.lengths = tuple(lengths)
        self.weights = tuple(length + kerf for length in lengths)
        self.kerf = kerf
        self.effort = effort
        self.open = False
        self._seconds = seconds
        self._stop = stop
        self._known: dict[tuple[tuple[int, ...], tuple[int, ...]], bool] = {}

    def fits(self, counts: Sequence[int], rooms: Sequence[int]) -> bool:
        """Whether ``counts`` pieces of each kind fit on bars with these rooms."""
        key = (tuple(counts), tuple(sorted(rooms)))
        if key not in self._known:
            self._known[key] = self._hopeful(counts, rooms) and self._fits(counts, rooms)
        return self._known[key]

    def _fits(self, counts: Sequence[int], rooms: Sequence[int]) -> bool:
        if self._best_fit(counts, rooms) is not None:
            return True
        if self.effort <= 0:
            self.open = True
            return False
        self.effort -= sum(counts)
        return self._exact(counts, rooms) is not None

    def lay(self, counts: Sequence[int], rooms: Sequence[int]) -> Layout | None:
        """``counts`` pieces of each kind on bars with these rooms; None: they do not fit."""
        if not self._hopeful(counts, rooms):
            return None
        return self._best_fit(counts, rooms) or self._exact(counts, rooms)

    def _hopeful(self, counts: Sequence[int], rooms: Sequence[int]) -> bool:
        """Whether there is enough tube in all."""
        wanted = [weight for count, weight in zip(counts, self.weights, strict=True) for _ in range(count)]
        least = min(wanted, default=0)
        return sum(wanted) <= sum(room for room in rooms if room >= least)

    def _best_fit(self, counts: Sequence[int], rooms: Sequence[int]) -> Layout | None:
        left = list(rooms)
        bars: list[list[int]] = [[] for _ in rooms]
        for kind, count in enumerate(counts):
            for _ in range(count):
                serving = [(room, bar) for bar, room in enumerate(left) if room >= self.weights[kind]]
                if not serving:
                    return None
                bar = min(serving)[1]
                left[bar] -= self.weights[kind]
                bars[bar].append(kind)
        return tuple(tuple(bar) for bar in bars)

    def _exact(self, counts: Sequence[int], rooms: Sequence[int]) -> Layout | None:
        kinds = [kind for kind, count in enumerate(counts) if count]
        pieces = [Piece(self.lengths[kind], counts[kind]) for kind in kinds]
        alike: dict[int, list[int]] = {}
        for bar, room in enumerate(rooms):
            if room >= self.kerf:
                alike.setdefault(room, []).append(bar)
        stocks = [Stock(room - self.kerf, 0, len(bars), True) for room, bars in alike.items()]
        packing = pack(pieces, stocks, kerf=self.kerf, second_aims=False, time_limit=self._seconds(), stop=self._stop)
        if packing.cost is None:
            self.open = self.open or packing.status is Status.UNKNOWN
            return None
        free = list(alike.values())
        layout: list[tuple[int, ...]] = [()] * len(rooms)
        for packed in packing.bars:
            layout[free[packed.stock].pop(0)] = tuple(sorted(kinds[piece] for piece in packed.pieces))
        return tuple(layout)
