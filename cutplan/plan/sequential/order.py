"""An order of cuts in which one mistake can be made good at every insured cut.

A *mistake* at a cut leaves the bars as they are after it, the pieces not yet cut and the spoilt one to cut again;
a spoilt straight blank still is a short bar. The cut survives it where all of these pieces fit on all of these bars.
Both searches are depth first over what is left to cut, remember dead ends, and give up after ``most`` tried
cuts or where the effort of ``repack`` is spent.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from cutplan.plan.sequential.repack import Layout, Repacker

Steps = tuple[tuple[int, int], ...]
"""The cuts in their order: of which bar, and of which kind."""


@dataclass(frozen=True, slots=True)
class Kind:
    """Blanks that are one to the search. ``length`` in grid steps; ``salvage``: what a spoilt one still yields as a
    bar (0: nothing). ``insured``: a mistake in it must be survived. ``stage``: nothing of a later one is cut before."""

    length: int
    salvage: int
    insured: bool
    stage: int = 0


class Order:
    """Orders of cuts for ``counts`` pieces of each of these ``kinds``, longest first, on bars with these ``rooms``.

    ``exhausted``: the last search tried everything, so its None is a proof (of its layout, or of these bars).
    """

    def __init__(self, kinds: Sequence[Kind], counts: Sequence[int], rooms: Sequence[int], repacker: Repacker) -> None:
        self.kinds, self.counts, self.rooms, self.repacker = tuple(kinds), tuple(counts), tuple(rooms), repacker
        self.exhausted = False
        self._tries = 0

    def along(self, layout: Layout, most: int) -> Steps | None:
        """An order for this layout: what cannot be survived first, then what can only early on, then bar by bar,
        long before short."""
        left = [sorted(bar) for bar in layout]
        weights = self.repacker.weights
        spare = max(room - sum(weights[k] for k in bar) for room, bar in zip(self.rooms, left, strict=True))
        rooms, counts = list(self.rooms), list(self.counts)
        steps: list[tuple[int, int]] = []
        dead: set[tuple[tuple[int, ...], ...]] = set()
        self._tries = most

        def go() -> bool:
            if not any(left):
                return True
            key = tuple(map(tuple, left))
            if key in dead:
                return False
            for bar, kind in self.next_cuts(left, spare, steps[-1][0] if steps else -1):
                if self._spent():
                    return False
                left[bar].remove(kind)
                rooms[bar] -= weights[kind]
                counts[kind] -= 1
                if weights[kind] <= spare or not self.kinds[kind].insured or self.survives(kind, counts, rooms):
                    steps.append((bar, kind))
                    if go():
                        return True
                    steps.pop()
                counts[kind] += 1
                rooms[bar] += weights[kind]
                left[bar] = sorted([*left[bar], kind])
            dead.add(key)
            return False

        return self._ended(steps, found=go())

    def any(self, most: int) -> Steps | None:
        """An order on any layout, long before short and in the tightest room first."""
        weights = self.repacker.weights
        rooms, counts = list(self.rooms), list(self.counts)
        steps: list[tuple[int, int]] = []
        dead: set[tuple[tuple[int, ...], tuple[int, ...]]] = set()
        self._tries = most

        def go() -> bool:
            if not any(counts):
                return True
            key = (tuple(counts), tuple(sorted(rooms)))
            if key in dead:
                return False
            for kind in self._due(kind for kind, count in enumerate(counts) if count):
                for room in sorted({room for room in rooms if room >= weights[kind]}):
                    if self._spent():
                        return False
                    bar = rooms.index(room)
                    rooms[bar] -= weights[kind]
                    counts[kind] -= 1
                    insured = self.kinds[kind].insured
                    if self.survives(kind, counts, rooms) if insured else self.repacker.fits(counts, rooms):
                        steps.append((bar, kind))
                        if go():
                            return True
                        steps.pop()
                    counts[kind] += 1
                    rooms[bar] += weights[kind]
            dead.add(key)
            return False

        return self._ended(steps, found=go())

    def _spent(self) -> bool:
        """Whether the search must stop here; else one more try is counted."""
        if self._tries <= 0 or self.repacker.effort <= 0:
            return True
        self._tries -= 1
        return False

    def _ended(self, steps: Sequence[tuple[int, int]], *, found: bool) -> Steps | None:
        self.exhausted = self._tries > 0 and self.repacker.effort > 0 and not self.repacker.open
        return tuple(steps) if found else None

    def next_cuts(self, left: Sequence[Sequence[int]], spare: int, last: int) -> Iterator[tuple[int, int]]:
        """What may be cut next of what is ``left`` on each bar, and of which bar, what is hardest to survive first.
        ``spare``: the most that is over on a bar; ``last``: the bar cut last."""
        weights = self.repacker.weights

        def rank(cut: tuple[int, int]) -> tuple[int, ...]:
            bar, kind = cut
            if weights[kind] > spare:
                return (int(self.kinds[kind].insured), -weights[kind], int(bar != last), bar)
            return (2, int(bar != last), left[bar][0], bar, kind)

        seen = set()
        due = self._due({kind for kinds in left for kind in kinds})
        cuts = {(bar, kind) for bar, kinds in enumerate(left) for kind in kinds if kind in due}
        for bar, kind in sorted(cuts, key=rank):
            like = (kind, tuple(left[bar]), self.rooms[bar], bar == last)
            if like not in seen:
                seen.add(like)
                yield bar, kind

    def _due(self, kinds: Iterable[int]) -> list[int]:
        """Those of ``kinds`` that come first among them."""
        every = list(kinds)
        first = min((self.kinds[kind].stage for kind in every), default=0)
        return [kind for kind in every if self.kinds[kind].stage == first]

    def survives(self, kind: int, counts: Sequence[int], rooms: Sequence[int]) -> bool:
        """Whether a mistake in a piece of ``kind`` just cut, leaving ``counts`` and ``rooms``, can be made good."""
        again = [count + (at == kind) for at, count in enumerate(counts)]
        salvage = self.kinds[kind].salvage
        return self.repacker.fits(again, [*rooms, *([salvage + self.repacker.kerf] if salvage else [])])
