"""An order of cuts that survives each mistake and puts as few blanks as can be before what they land on.

Cost and bars are settled before (see ``course``). Of all orders of the same cuts on the same bars one is looked for
that breaks no landing, else one that breaks one, and so on: depth first, dead ends remembered, up to a number of cuts
tried (iterative deepening, Korf 1985). Blanks that are one to the spare may change places. What must be measured first
comes after what is known, where no landing is broken for that.
"""

from __future__ import annotations

from collections import ChainMap, Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import replace

from cutplan.job.model import Member
from cutplan.job.stages import pieces_landed_on, reached
from cutplan.plan.sequential.course import Course, by_first_cut
from cutplan.plan.sequential.order import Order
from cutplan.plan.sequential.repack import Repacker

_TRIES, _EFFORT = 3_000, 6_000
"""How many cuts a search may try, and how many pieces all may lay out exactly."""

_Needs = Mapping[str, Collection[str]]
"""By mark, the marks that are best cut before it."""

_Cuts = list[tuple[int, int, str]]
"""Cuts in their order: of which bar, kind and mark."""


def fit_for_fitting(course: Course, members: Sequence[Member], stop: Callable[[], bool] | None = None) -> Course:
    """``course`` with its cuts in the order that is best for fitting; once ``stop`` says so, the best by then."""
    needs = _needs(course, members)
    return _Search(course, needs, stop).best() if any(needs.values()) else course


def _needs(course: Course, members: Sequence[Member]) -> _Needs:
    """What each blank lands on among those of the course, itself or by way of other tube."""
    lands = pieces_landed_on(members)
    marks = {blank.mark for kind in course.blanks for blank in kind}
    tube = {mark: member.tube for member in members for mark in member.marks}
    own = course.blanks[0][0].tube
    # What is of the same tube looks after itself, and is cut already if it is not in the course.
    others: dict[str, Iterable[str]] = {mark: onto for mark, onto in lands.items() if tube[mark] != own}
    return {mark: reached(mark, ChainMap(others, {mark: lands.get(mark, ())})) & marks - {mark} for mark in marks}


class _Search:
    def __init__(self, course: Course, needs: _Needs, stop: Callable[[], bool] | None) -> None:
        self.course, self.needs = course, needs
        self.marks = [tuple(dict.fromkeys(blank.mark for blank in kind)) for kind in course.blanks]
        self.count = Counter(blank.mark for kind in course.blanks for blank in kind)
        self.repacker = Repacker([kind.length for kind in course.kinds], course.kerf, _EFFORT, stop=stop)
        self.order = Order(course.kinds, [len(kind) for kind in course.blanks], course.rooms, self.repacker)
        self.tries = 0

    def best(self) -> Course:
        """The course in its best order."""
        known_first = self._known_first()
        if known_first != self.needs and (found := self._with_early(known_first, 0)):
            return self._course(found)
        cuts, fewest = self._as_it_is()
        for early in range(fewest):
            if found := self._with_early(self.needs, early):
                return self._course(found)
        return self._course(cuts)

    def _known_first(self) -> _Needs:
        """What each blank lands on, and for one that must be measured first all of its stage that does not wait for
        it."""
        blanks = [blank for kind in self.course.blanks for blank in kind]
        waits = {mark: reached(mark, self.needs) for mark in self.needs}
        after = {
            one.mark: {
                other.mark
                for other in blanks
                if not other.estimated and other.stage == one.stage and one.mark not in waits[other.mark]
            }
            for one in blanks
            if one.estimated
        }
        return {mark: {*onto, *after.get(mark, ())} for mark, onto in self.needs.items()}

    def _as_it_is(self) -> tuple[_Cuts, int]:
        """The course in the order it has, of each kind first what waits for the fewest; and how many it breaks."""
        left, early = Counter(self.count), 0
        cuts: _Cuts = []
        for bar, kind in self.course.steps:
            broken, mark = self._choices(kind, left, self.needs)[0]
            left[mark] -= 1
            early += broken
            cuts.append((bar, kind, mark))
        return cuts, early

    def _choices(self, kind: int, left: Counter[str], needs: _Needs) -> list[tuple[int, str]]:
        """The marks that may be cut next as one of ``kind``, and how many landings each breaks, the fewest first."""
        choices = [(self._breaks(mark, left, needs), mark) for mark in self.marks[kind] if left[mark]]
        return sorted(choices, key=lambda choice: choice[0])

    def _breaks(self, mark: str, left: Counter[str], needs: _Needs) -> int:
        return sum(left[onto] > 0 for onto in needs[mark]) if left[mark] == self.count[mark] else 0

    def _with_early(self, needs: _Needs, most: int) -> _Cuts | None:
        """An order that breaks at ``most`` so many landings."""
        rooms, counts = list(self.course.rooms), list(self.order.counts)
        layout = [sorted(kind for at, kind in self.course.steps if at == bar) for bar in range(len(rooms))]
        weights = self.repacker.weights
        spare = max(room - sum(weights[kind] for kind in bar) for room, bar in zip(rooms, layout, strict=True))
        left, cuts = Counter(self.count), list[tuple[int, int, str]]()
        dead: dict[tuple[tuple[int, ...], ...], int] = {}
        insured = [kind.insured for kind in self.course.kinds]
        self.tries = _TRIES

        def go(most: int) -> bool:
            if not any(layout):
                return True
            key = (*map(tuple, layout), tuple(left.values()))
            if dead.get(key, -1) >= most:
                return False
            for bar, kind in self.order.next_cuts(layout, spare, cuts[-1][0] if cuts else -1):
                choices = [choice for choice in self._choices(kind, left, needs) if choice[0] <= most]
                if not choices:
                    continue
                layout[bar].remove(kind)
                rooms[bar] -= weights[kind]
                counts[kind] -= 1
                if weights[kind] <= spare or not insured[kind] or self.order.survives(kind, counts, rooms):
                    for broken, mark in choices:
                        if self.tries <= 0:
                            return False
                        self.tries -= 1
                        left[mark] -= 1
                        cuts.append((bar, kind, mark))
                        if go(most - broken):
                            return True
                        cuts.pop()
                        left[mark] += 1
                counts[kind] += 1
                rooms[bar] += weights[kind]
                layout[bar] = sorted([*layout[bar], kind])
            dead[key] = most
            return False

        return cuts if go(most) else None

    def _course(self, cuts: _Cuts) -> Course:
        blank = {one.mark: one for kind in self.course.blanks for one in kind}
        return by_first_cut(
            replace(
                self.course,
                blanks=tuple(
                    tuple(blank[mark] for _, of, mark in cuts if of == kind) for kind in range(len(self.course.kinds))
                ),
                steps=tuple((bar, kind) for bar, kind, _ in cuts),
            )
        )
