"""Fitted one at a time: the cheapest bars, layout and order of cuts that survive one mistake at every insured cut.

A mistake is noticed before the next cut, what is not yet cut can be laid out again, and a spoilt straight blank
still yields shorter ones. That needs less tube than room for the longest blank after all cuts, which always survives
and so is the most that need be paid.

The least: whenever a blank is spoilt, what was cut before and what is cut after are together the whole job and that
blank once more, on the bars bought and on what the spoilt blank yields. The cheapest bars that hold these, by the
exact search of ``nesting``, bound every plan from below; the dearest such bound of all insured blanks holds. From
there up every purchase is tried in the order of its cost. One is ruled out only where those pieces do not fit on it or
where every order of cuts was tried; the first that is neither ruled out nor solved stays as the bound.

In a job built in stages only orders that follow the stages count, so what is proven is proven under them. Which of the
orders on the same bars is best for fitting is for ``precedence``.

With two spares or more the room is kept as after all cuts: that is enough, and nothing less is promised.
"""

from __future__ import annotations

import heapq
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from cutplan.geometry.model import Blank
from cutplan.job.model import Cut, Settings, Source, StockRow
from cutplan.nesting import Packing, Status, Stock, pack
from cutplan.plan.grid import GRID, grid_down, grid_up, usable
from cutplan.plan.problem import Limits, Problem
from cutplan.plan.sequential.order import Kind, Order, Steps
from cutplan.plan.sequential.repack import Layout, Repacker
from cutplan.plan.staging import latest

_PURCHASES, _LOOKED_AT, _TRIES, _EFFORT = 60, 20_000, 400, 6_000
"""How many purchases are searched, how many are looked at to find these, how many cuts a search may try, and how many
pieces all searches may lay out exactly: counts and not seconds, so that the same job has the same plan every time."""

_NO_TIME = 0.001
"""Seconds left when none are."""


@dataclass(frozen=True, slots=True)
class Course:
    """Cuts in their order, and the bars in the order they are first cut, those kept whole last. ``stocks``: for each
    bar its stock in the problem; ``rooms``: what it yields and a kerf. ``steps``: of which bar and which kind each
    cut is. ``blanks``: those of each kind, one by one, in the order they are cut."""

    stocks: tuple[int, ...]
    rooms: tuple[int, ...]
    kerf: int
    kinds: tuple[Kind, ...]
    blanks: tuple[tuple[Blank, ...], ...]
    steps: Steps
    cost: int


Searches = dict[tuple[str, Fraction, int | None], tuple[Course | None, int]]
"""What came of looking for a course: by tube, insured length (mm) and ceiling, the course and the bound."""


def salvaged(blank: Blank, settings: Settings) -> Fraction:
    """What a spoilt blank still yields, mm: nothing where it is bent, else its length less ``salvage`` (at the very
    least a kerf and a step of the grid: it was spoilt), used like a piece from the rack. An estimated blank may have
    come out at its least."""
    if blank.bends:
        return Fraction(0)
    lost = max(settings.salvage, settings.kerf + GRID[settings.units])
    if blank.least <= lost:
        return Fraction(0)
    return usable(StockRow(blank.tube, blank.least - lost, source=Source.RACK), settings)


def cheaper(problem: Problem, length: Fraction, ceiling: int | None, limits: Limits) -> tuple[Course | None, int]:
    """The cheapest course found that survives a mistake in every insured blank of up to ``length`` mm, and the bound
    on the cost of any, up to ``ceiling``. None: none was found that costs less than ``ceiling`` (None: at any cost)."""
    return _Search(problem, length, limits).run(ceiling)


def on_bars(problem: Problem, length: Fraction, bought: tuple[int, ...], limits: Limits) -> tuple[Course | None, bool]:
    """A course on these bars (``bought``: how many of each stock) that survives a mistake in every insured blank of up
    to ``length`` mm; where none was found, whether there is none."""
    search = _Search(problem, length, limits)
    steps, ruled_out = search._on(bought)
    cost = sum(stock.price * count for stock, count in zip(problem.stocks, bought, strict=True) if not stock.owned)
    return (None, ruled_out) if steps is None else (search._course(bought, steps, cost), False)


def at_once(
    problem: Problem, length: Fraction, after_all: Packing, limits: Limits, known: Searches
) -> tuple[Packing, Course | None]:
    """For one spare of ``length`` mm, the course that is cheaper than ``after_all``, if any, with its cost and bound;
    else ``after_all``, which survives too, with the bound of any course. ``known``: what came of searches before; this
    one's outcome is added."""
    if limits.seconds is not None:
        limits = replace(limits, seconds=max(limits.seconds - after_all.seconds, 0.0))
    key = problem.tube, length, after_all.cost
    if key not in known:
        known[key] = cheaper(problem, length, after_all.cost, limits)
    course, bound = known[key]
    cost = course.cost if course else after_all.cost
    if cost is None:
        return after_all, None
    status = Status.PROVEN if bound == cost else Status.FOUND
    return replace(after_all, status=status, cost=cost, bound=bound), course


class _Search:
    def __init__(self, problem: Problem, length: Fraction, limits: Limits) -> None:
        self.problem = problem
        self.settings = problem.job.settings
        self.length = length
        self.cut_short = False
        self._limits, self._stop = limits, limits.stop
        self._best_shown: tuple[int | None, int] = (None, 0)
        self._end = None if limits.seconds is None else time.perf_counter() + limits.seconds
        every = [blank for group in problem.blanks for blank in group]
        stages = sorted({latest(blank) for blank in every})
        groups: dict[tuple[Fraction, int, bool, int], list[Blank]] = {}
        for blank in every:
            insured = blank.insured and blank.length <= length
            key = (blank.length, self._salvage(blank), insured, stages.index(latest(blank)))
            groups.setdefault(key, []).extend([blank] * blank.count)
        ordered = sorted(groups, key=lambda key: (-key[0], key[1], not key[2], key[3]))
        self.kinds = tuple(Kind(grid_up(key[0], self.settings.units), *key[1:]) for key in ordered)
        self.blanks = tuple(tuple(sorted(groups[key], key=risk, reverse=True)) for key in ordered)
        self.counts = tuple(len(blanks) for blanks in self.blanks)
        self.repacker = Repacker([kind.length for kind in self.kinds], problem.kerf, _EFFORT, self._seconds, self._stop)

    def _seconds(self) -> float | None:
        if self._stop is not None and self._stop():
            return _NO_TIME
        return None if self._end is None else max(self._end - time.perf_counter(), _NO_TIME)

    def _look(self) -> bool:
        """Whether there is time left; on the way, how far the search has got is reported."""
        self.problem.tell(self._limits, *self._best_shown)
        return self._seconds() != _NO_TIME

    def run(self, ceiling: int | None) -> tuple[Course | None, int]:
        self._best_shown = (ceiling, 0)
        floor = self._floor(ceiling)
        if floor is None or not any(kind.insured for kind in self.kinds):
            return None, floor or 0
        bound: int | None = None
        for searched, (cost, bought) in enumerate(self._purchases(floor, ceiling)):
            self._best_shown = (ceiling, cost if bound is None else bound)
            if searched == _PURCHASES or not self._look():
                return None, cost if bound is None else bound
            steps, ruled_out = self._on(bought)
            if steps is not None:
                course = self._course(bought, steps, cost)
                return course, cost if bound is None else bound
            if not ruled_out and bound is None:
                bound = cost
        if bound is None:
            bound = floor if ceiling is None or self.cut_short else ceiling
        return None, bound

    def _floor(self, ceiling: int | None) -> int | None:
        """A bound on the cost of every course, up to ``ceiling``; None: there is none at any cost."""
        floor = 0
        for packing in self._once_more(self.problem.stocks):
            if packing.status is Status.IMPOSSIBLE:
                return None
            floor = max(floor, packing.bound)
            if ceiling is not None and floor >= ceiling:
                break
        return floor

    def _once_more(self, stocks: Sequence[Stock]) -> Iterator[Packing]:
        """For each insured blank, longest first: the whole job and it once more, on ``stocks`` and what it yields. Not
        for those that there is no time left for."""
        for at, group in enumerate(self.problem.blanks):
            pieces = list(self.problem.pieces)
            pieces[at] = replace(pieces[at], count=pieces[at].count + 1)
            for salvage in sorted({self._salvage(one) for one in group if one.insured and one.length <= self.length}):
                yield pack(
                    pieces,
                    [*stocks, Stock(salvage, 0, 1 if salvage else 0, True)],
                    kerf=self.problem.kerf,
                    joints=self.problem.joints or None,
                    second_aims=False,
                    time_limit=self._seconds(),
                    stop=self._stop,
                )
                if not self._look():
                    return

    def _salvage(self, blank: Blank) -> int:
        return grid_down(salvaged(blank, self.settings), self.settings.units)

    def _purchases(self, floor: int, ceiling: int | None) -> Iterator[tuple[int, tuple[int, ...]]]:
        """Every number of bars to buy of each stock, at least ``floor`` and less than ``ceiling`` in cost, by cost."""
        most = sum(self.counts) + 1
        stocks = self.problem.stocks
        limits = [0 if s.owned else most if s.count is None else min(s.count, most) for s in stocks]
        heap = [(0, (0,) * len(stocks))]
        for _ in range(_LOOKED_AT):
            if not heap:
                return
            cost, bought = heapq.heappop(heap)
            if ceiling is not None and cost >= ceiling:
                return
            last = max((at for at, count in enumerate(bought) if count), default=0)
            for at in range(last, len(stocks)):
                if bought[at] < limits[at]:
                    more = (*bought[:at], bought[at] + 1, *bought[at + 1 :])
                    heapq.heappush(heap, (cost + stocks[at].price, more))
            if cost >= floor:
                yield cost, bought
        self.cut_short = True

    def _bars(self, bought: Sequence[int]) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """The bars in hand after this purchase, by their stocks, and their rooms."""
        counts = [s.count or 0 if s.owned else count for s, count in zip(self.problem.stocks, bought, strict=True)]
        stocks = tuple(at for at, count in enumerate(counts) for _ in range(count))
        return stocks, tuple(self.problem.stocks[at].length + self.problem.kerf for at in stocks)

    def _on(self, bought: tuple[int, ...]) -> tuple[Steps | None, bool]:
        """An order of cuts that survives on these bars, and, where none was found, whether there is none.

        Courses share no mitre, but a plan that does might fit: where mitres may be shared, only that rules out.
        """
        _, rooms = self._bars(bought)
        layouts: list[Layout] = []
        for kind, one in enumerate(self.kinds):
            if one.insured:
                if not self._look():
                    return None, False
                again = [count + (at == kind) for at, count in enumerate(self.counts)]
                layout = self.repacker.lay(again, [*rooms, *([one.salvage + self.problem.kerf] if one.salvage else [])])
                if layout is None:
                    return None, self._too_small(bought) if self.problem.joints else not self.repacker.open
                layouts.append(_without(layout, kind, salvaging=bool(one.salvage)))
        order = Order(self.kinds, self.counts, rooms, self.repacker)
        for layout in dict.fromkeys([*self._roomy(rooms), *layouts]):
            if steps := order.along(layout, _TRIES):
                return steps, False
        return order.any(_TRIES), order.exhausted and not self.problem.joints

    def _too_small(self, bought: Sequence[int]) -> bool:
        stocks = [
            stock if stock.owned else replace(stock, price=0, count=count, owned=True)
            for stock, count in zip(self.problem.stocks, bought, strict=True)
        ]
        return any(packing.status is Status.IMPOSSIBLE for packing in self._once_more(stocks))

    def _roomy(self, rooms: tuple[int, ...]) -> Iterator[Layout]:
        """The layout that leaves room for the longest insured blank that it can; at worst one that leaves none."""
        for kind, one in enumerate(self.kinds):
            again = [count + (at == kind) for at, count in enumerate(self.counts)]
            if one.insured and (layout := self.repacker.lay(again, rooms)):
                yield _without(layout, kind, salvaging=False)
                return
        if layout := self.repacker.lay(self.counts, rooms):
            yield layout

    def _course(self, bought: Sequence[int], steps: Steps, cost: int) -> Course:
        stocks, rooms = self._bars(bought)
        return by_first_cut(Course(stocks, rooms, self.problem.kerf, self.kinds, self.blanks, steps, cost))


def by_first_cut(course: Course) -> Course:
    """``course`` with its bars in the order they are first cut, those kept whole last."""
    first = {bar: number for number, (bar, _) in reversed(list(enumerate(course.steps)))}
    bars = range(len(course.stocks))
    order = sorted(bars, key=lambda bar: (first.get(bar, len(course.steps)), course.stocks[bar]))
    return replace(
        course,
        stocks=tuple(course.stocks[bar] for bar in order),
        rooms=tuple(course.rooms[bar] for bar in order),
        steps=tuple((order.index(bar), kind) for bar, kind in course.steps),
    )


def _without(layout: Layout, kind: int, *, salvaging: bool) -> Layout:
    """The layout less one piece of ``kind``, what the spoilt piece was to yield cut in its place."""
    bars = [list(bar) for bar in layout]
    extra = bars.pop() if salvaging else []
    bar = next(bar for bar in bars if kind in bar)
    bar.remove(kind)
    bar.extend(extra)
    return tuple(tuple(sorted(bar)) for bar in bars)


def risk(blank: Blank) -> tuple[bool, int]:
    """How easily it is spoilt: whether it is bent, then how many ends are coped."""
    return bool(blank.bends), (blank.end_a.cut is Cut.COPE) + (blank.end_b.cut is Cut.COPE)
