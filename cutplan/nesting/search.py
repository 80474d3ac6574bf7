"""The search for the least cost: bound, mix of bars, packing of that mix, proof that it cannot be packed.

The cheapest mix that no rule forbids is taken up first, so that the first mix that can be packed is the best
plan there is; what is learnt from each mix (a new rule, or that it is too little) sharpens the bound. A mix of which
neither was shown is left open, and taken up again at the end.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from fractions import Fraction
from itertools import count

from cutplan.nesting.bars import Mix, cheapest
from cutplan.nesting.classes import by_class, by_halves, guided
from cutplan.nesting.clock import Clock, TimeUpError
from cutplan.nesting.enumeration import Effort, settle
from cutplan.nesting.greedy import at_once, best_fit, filled, fullest, take
from cutplan.nesting.instance import Instance
from cutplan.nesting.master import Column, Duals, Master, Relaxed, by_length

_LARGE = 4_000_000  # entries of a table
_LAST = 40  # pieces that are left for a search where all others are cut at once
_LITTLE = Effort(dives=2, patterns=5_000, duals=0, again=False)
_END = Effort(dives=1, patterns=20_000, duals=4, again=False)
_FEW = 40  # pieces that are left for the end of a dive at least
_Step = tuple[Sequence[int], list[int], list[Column]]


class Search:
    """Least cost for one instance. After `run`: ``plan`` (None without one), ``bound``, ``proven``.

    With ``below``, only whether there is a plan of less cost: any such plan is enough."""

    def __init__(
        self, instance: Instance, clock: Clock, below: int | None = None, effort: Effort | None = None
    ) -> None:
        self.instance, self.clock, self.below = instance, clock, below
        self.effort = effort or Effort()
        self.pool: dict[Column, None] = {}
        self.rules: list[Duals] = []
        self.too_little: list[Mix] = []
        self.plan: list[Column] | None = None
        self.cost: int | None = None
        self.bound = 0
        self.proven = False
        self.lp_bound: Fraction | None = None
        self.open_limits = [None if n >= sum(instance.demand) else n for n in instance.limits]

    def run(self) -> None:
        """Search until the bound is met, or the time is up: then with what can be had without a search."""
        with suppress(TimeUpError):
            self._run()
        if not self.proven and self.clock.up:
            plan, over = at_once(self.instance, self.instance.demand, self.instance.limits)
            if not any(over):
                self._offer(plan)
            for duals in by_length(self.instance):
                self._raise(duals.bound(self.instance.demand, self.instance.prices, self.open_limits))

    def _raise(self, bound: Fraction) -> None:
        """Take up a bound; every cost is a multiple of the prices' common step."""
        step = self.instance.price_step
        self.bound = max(self.bound, -(-bound // step) * step)

    def _at_once(self) -> bool:
        """Where a table would be very large, or any plan of less cost is enough: bars filled to the end, and the last
        few pieces by search, against the bound by length. Whether there is nothing left to do."""
        instance = self.instance
        entries = len(instance.weights) * len(instance.machine.lost) * instance.grid.size
        if (self.below is None and entries < _LARGE) or sum(instance.demand) < 4 * _LAST:
            return False
        for duals in by_length(instance):
            self._raise(duals.bound(instance.demand, instance.prices, self.open_limits))
        large = entries >= _LARGE
        for how in ("mixed", "by class", "longest first") if large else ("mixed", "longest first"):
            self._fill_up(how)
            if self.cost is not None and (self.below is not None or self.cost <= self.bound):
                break
        else:
            for bounds in (by_halves, by_class) if large and not instance.joints else ():
                for duals in bounds(instance, self.clock):
                    self._raise(duals.bound(instance.demand, instance.prices, self.open_limits))
        self.proven = self.cost is not None and self.cost <= self.bound
        return self.proven or (self.below is not None and self.cost is not None)

    def _fill_up(self, how: str) -> None:
        instance = self.instance
        if how == "by class":
            plan, left, free = guided(instance, instance.demand, instance.limits, 3 * _LAST, self.clock)
        else:
            plan, left, free = filled(instance, instance.demand, instance.limits, _LAST, how == "longest first")
        if 2 * sum(left) > sum(instance.demand):
            return  # the search for the rest would be one for nearly the same
        rest: list[Column] | None = []
        if any(left):
            rest, _ = self._rest(left, free, _LITTLE)
        if rest is not None:
            self._offer(plan + rest)

    def _rest(
        self, left: Sequence[int], limits: Sequence[int], effort: Effort, *, any_plan: bool = False
    ) -> tuple[list[Column] | None, bool]:
        """A plan for the pieces ``left`` on bars within ``limits``, or None, and whether that is proven. ``any_plan``:
        whatever it costs."""
        kinds = [item for item, count in enumerate(left) if count]
        part = self.instance.part(kinds, [left[item] for item in kinds], limits)
        below = 1 + sum(price * limit for price, limit in zip(part.prices, limits, strict=True)) if any_plan else None
        rest = Search(part, self.clock, below, effort)
        rest.run()
        if rest.plan is None:
            return None, rest.proven
        columns = [(stock, tuple((kinds[item], count) for item, count in counts)) for stock, counts in rest.plan]
        return columns, rest.proven

    def _run(self) -> None:
        if self._at_once():
            return
        instance = self.instance
        for bend in (1.0, 1.3) if self.below is None else ():
            self._offer(fullest(instance, instance.demand, instance.limits, bend, self.clock))
        # A bound beyond what is asked for ends the pricing: there is no such plan.
        enough = None if self.below is None else Fraction(1000 * self.below - 999, 1000)
        root = self._relax(instance.demand, self.open_limits, 2000, enough)
        self.lp_bound = root.bound
        self.rules.append(root.duals)
        self._raise(root.bound)
        unsure: list[int] = []
        skipped: list[Mix] = []
        while True:
            self.clock.report("mix of bars", self.cost, self.bound)
            if self.below is not None and self.cost is not None:
                return
            cap = self.below if self.cost is None else self.cost
            found = cheapest(
                instance.prices,
                instance.limits,
                instance.demand,
                self.rules,
                self.too_little + skipped,
                cap,
                self.clock,
            )
            if isinstance(found, bool):
                return
            floor = self.cost if found is None else found[0]
            if floor is not None:
                self.bound = max(self.bound, min([floor, *unsure]))
            if found is None:
                self.proven = not unsure
                if unsure and self.effort.again:
                    self._again(sorted(zip(unsure, skipped, strict=True)))
                return
            if self.clock.up:
                return
            answer = self._fill(found[1])
            if answer is None:
                skipped.append(found[1])
                unsure.append(found[0])

    def _offer(self, plan: list[Column] | None) -> None:
        if plan is None:
            return
        for column in plan:
            self.pool[column] = None
        cost = sum(self.instance.prices[stock] for stock, _ in plan)
        if self.below is not None and cost >= self.below:
            return
        if self.cost is None or cost < self.cost:
            self.plan, self.cost = plan, cost

    def _relax(
        self, demand: Sequence[int], limits: Sequence[int | None], rounds: int, enough: Fraction | None = None
    ) -> Relaxed:
        instance = self.instance
        master = Master(instance, demand, limits, instance.prices)
        for column in list(self.pool):
            master.add(column)
        relaxed = master.generate(rounds, self.clock, enough)
        for column in master.columns:
            self.pool[column] = None
        return relaxed

    def _fill(self, mix: Mix) -> bool | None:
        """Whether all can be packed into this mix; None where that stays open."""
        instance = self.instance
        cost = sum(p * n for p, n in zip(instance.prices, mix, strict=True))
        self._offer(best_fit(instance, instance.demand, mix))
        if self.cost is not None and self.cost <= cost:
            return True
        relaxed = self._relax(instance.demand, mix, 1000)
        if self._too_little(relaxed, mix):
            return False
        for attempt in range(self.effort.dives):
            self._offer(self._dive(mix, attempt))
            if self.cost is not None and self.cost <= cost:
                return True
            if self.clock.up:
                return None
        answer = settle(instance, mix, relaxed.duals, list(self.pool), self.clock, self.effort)
        if isinstance(answer, list):
            self._offer(answer)
            return True
        if answer is False:
            self.too_little.append(mix)
        return answer

    def _too_little(self, relaxed: Relaxed, mix: Mix) -> bool:
        """Whether the linear program alone shows that the mix cannot do; then there is a rule that says so."""
        duals, demand = relaxed.duals, self.instance.demand
        if relaxed.short > 1e-7 and duals.slack(mix, demand) >= 0:
            short = Master(self.instance, demand, mix, [0] * len(mix), self.instance.weights)
            for column in list(self.pool):
                short.add(column)
            duals = short.generate(1000, self.clock).duals
        if duals.slack(mix, demand) >= 0:
            return False
        self.rules.append(duals)
        return True

    def _again(self, unsure: Sequence[tuple[int, Mix]]) -> None:
        """More dives, each with an exact end, for the mixes that stayed open, in turn: as long as there is time, and
        where no time was set, for as much work again as was done."""
        most = None if self.clock.limited else 2 * self.clock.steps
        for attempt in count():
            still = [mix for cost, mix in unsure if self.cost is None or cost < self.cost]
            if not still or (most is not None and self.clock.steps >= most):
                break
            self.clock.check()
            self._offer(self._dive_to_the_end(still[attempt % len(still)], attempt // len(still)))
            self.clock.report("mix of bars", self.cost, self.bound)
        self.proven = self.cost is not None and self.cost <= self.bound

    def _dive_to_the_end(self, mix: Mix, attempt: int) -> list[Column] | None:
        """A dive, and where it ends short, a search that takes back its last steps: ever more of them, as long as it is
        settled that what was fixed before leaves no plan."""
        trail: list[_Step] = []
        plan = self._dive(mix, attempt, trail)
        size = 0.0
        for left, limits, done in reversed(trail):
            if plan is not None or sum(left) < max(_FEW, 1.5 * size):
                continue
            size = sum(left)
            rest, proven = self._rest(left, limits, _END, any_plan=True)
            if rest is not None:
                plan = done + rest
            elif not proven:
                break
        return plan

    def _dive(self, mix: Mix, attempt: int, trail: list[_Step] | None = None) -> list[Column] | None:
        """Fix the patterns the linear program uses most, price again, and so on down. Each step is put into ``trail``:
        the pieces left before it, the bars left and what is fixed."""
        left: Sequence[int] = self.instance.demand
        limits = list(mix)
        done: list[Column] = []
        while any(left):
            relaxed = self._relax(left, limits, 12)
            self.clock.check()
            if trail is not None:
                trail.append((left, list(limits), list(done)))
            if relaxed.short > 1e-6:
                rest = best_fit(self.instance, left, limits)
                return None if rest is None else done + rest
            ranked = sorted(enumerate(relaxed.use), key=lambda e: (-(e[1][0] + self._noise(attempt, e[0])), e[0]))
            quota = max(1, sum(left) // 40)
            whole = [(int(share + 1e-6), column) for _, (share, column) in ranked if share >= 1 - 1e-6]
            picks = [column for times, column in whole for _ in range(times)]
            if not picks:
                picks = [column for _, (share, column) in ranked if share > 0.6][:quota] or [ranked[0][1][1]]
            for stock, counts in picks:
                if limits[stock] and all(left[i] >= n for i, n in counts):
                    left = take(left, (stock, counts))
                    limits[stock] -= 1
                    done.append((stock, counts))
        return done

    @staticmethod
    def _noise(attempt: int, place: int) -> float:
        """A small fixed disturbance, so that every dive goes another way, the same one each time."""
        return 0.0 if not attempt else ((place * 7919 + attempt * 104729) % 101) / 101 * 0.3
