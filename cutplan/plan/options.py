"""Buying options: what one more step of safety costs, from no spare at all to several.

For each tube the least cost with room for k more blanks of each insured length is found (see ``ladder``); across
tubes costs and covers add up. Options are compared by cost and by cover: how many insured pieces could be cut once
again, then how many twice, and so on. An option that another equals or beats in both is left out, so each step up in
money buys more cover.

Where the job is *fitted: one at a time*, one spare costs what ``sequential.course`` finds; two and more are kept as
after all cuts.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from itertools import accumulate
from math import inf

from cutplan.geometry.model import Blank
from cutplan.job.faults import listed
from cutplan.job.model import Fitted, Job
from cutplan.plan.ladder import Clock, Ladder
from cutplan.plan.model import BudgetError, NoPlanInTimeError, Option, Plan, StockError, together
from cutplan.plan.planner import kept_by_default, make_plan, problems
from cutplan.plan.problem import Limits
from cutplan.plan.sequential.course import Searches
from cutplan.plan.shops import ordered_together
from cutplan.plan.shortage import shortage_of
from cutplan.plan.verify.proof import proved

Kept = tuple[str, int, Fraction]
"""A tube, how many spares of it are kept, and of what length (mm)."""


@dataclass(frozen=True, slots=True)
class _Step:
    """What to keep of some tubes, its cost and its cover.

    ``cost``: money over the priced tubes, then the length bought of the others; ``cover``: how many insured pieces
    can be cut again at least once, at least twice, ... Both compare from the first on, and add up across tubes.
    """

    cost: tuple[Decimal, Decimal]
    cover: tuple[int, ...]
    kept: tuple[Kept, ...]

    def __add__(self, other: _Step) -> _Step:
        return _Step(
            (self.cost[0] + other.cost[0], self.cost[1] + other.cost[1]),
            tuple(a + b for a, b in zip(self.cover, other.cover, strict=True)),
            self.kept + other.kept,
        )


def buying_options(
    job: Job, blanks: Sequence[Blank], *, limits: Limits | None = None, most: int = 2
) -> tuple[Option, ...]:
    """Every step at which the money changes, cheapest first, up to ``most`` spares or as many as the job asks for.

    Each option's ``kept`` is for ``make_plan``. Each covers more than the one before it, the last the most that the
    stock can serve. Where ``limits.seconds`` is given it is shared out over all the solves; steps that there was no
    time for are left out.

    Raises StockError where the stock is not enough even without a spare, NoPlanInTimeError where time ran out before
    there was a plan.
    """
    limits = limits or Limits()
    most = max(most, job.settings.spares)
    posed, searches = problems(job, blanks), Searches()
    if ordered_together(job, posed):
        return _by_spares(job, blanks, limits, most)
    ladders = [Ladder(problem, most, searches) for problem in posed]
    # Half the time for the costs, half for the plans that show what to buy and what is left.
    half = limits.part(0.5)
    clock = Clock(half)
    for i, ladder in enumerate(ladders):
        ladder.solve(0, 0, clock.share(sum(later.unsettled() for later in ladders[i:])))
    if short := [ladder.problem for ladder in ladders if ladder.span(0, 0)[0] == inf]:
        raise StockError(job, tuple(shortage_of(problem, 0, Fraction(0), limits) for problem in short))
    for i, ladder in enumerate(ladders):
        ladder.climb(clock, sum(later.unsettled() for later in ladders[i + 1 :]))
    steps = _combined([_steps(ladder) for ladder in ladders], most)
    wanted = sorted({kept for step in steps for kept in step.kept})
    clock = Clock(half)
    plans = {}
    for i, kept in enumerate(wanted):
        tube, count, length = kept
        mine = [blank for blank in blanks if blank.tube == tube]
        share = clock.share(len(wanted) - i)
        plans[kept] = proved(make_plan(job, mine, kept={tube: (count, length)}, limits=share, searches=searches))
    # Where time ran short the secondary objectives may have been left with another cost than the search for the least.
    best = _unbeaten(_paid(step, plans) for step in steps)
    return tuple(_option(blanks, step.kept, [plans[kept] for kept in step.kept]) for step in best)


def _by_spares(job: Job, blanks: Sequence[Blank], limits: Limits, most: int) -> tuple[Option, ...]:
    """Where shops charge for an order, so that the costs of the tubes do not add up: the options of keeping 0, 1, 2 ...
    spares of the longest insured blank of every tube, each planned as a whole; what another beats is left out."""
    share = limits.part(1 / (most + 1))
    found: list[Option] = []
    for spares in range(most + 1):
        wanted = replace(job, settings=replace(job.settings, spares=spares))
        kept = kept_by_default(wanted, blanks)
        try:
            plan = proved(make_plan(job, blanks, kept=kept, limits=share))
        except (StockError, NoPlanInTimeError):
            if not found:
                raise
            break
        option = _option(blanks, tuple((tube, *pair) for tube, pair in kept.items()), [plan])
        if found and option.covers == found[-1].covers:
            continue
        found = [one for one in found if one.cost is None or option.cost is None or one.cost < option.cost]
        found.append(option)
    return tuple(found)


def within_budget(options: Iterable[Option], money: Decimal) -> Option | None:
    """The option that covers most for at most ``money`` (0: what the rack alone allows); None: there is none.

    Raises BudgetError where an option buys tube that has no price: what it costs is not known."""
    within = None
    for option in options:  # cheapest first, each covering more than the one before it
        if unpriced := [line.tube for line in option.buy if line.price is None]:
            raise BudgetError(tuple(dict.fromkeys(unpriced)))
        if option.cost is not None and option.cost <= money:
            within = option
    return within


def _steps(ladder: Ladder) -> list[_Step]:
    """The steps of one tube that no other one beats."""
    problem = ladder.problem
    insured = sorted((blank.length, blank.count) for group in problem.blanks for blank in group if blank.insured)
    lengths, covered = [length for length, _ in insured], [0, *accumulate(count for _, count in insured)]
    steps = []
    for rung in ladder.rungs():
        cost = problem.money(rung.cost)
        pieces = covered[bisect_right(lengths, rung.length)]
        steps.append(
            _Step(
                (cost, Decimal(0)) if problem.priced else (Decimal(0), cost),
                tuple(pieces if fold <= rung.spares else 0 for fold in range(1, ladder.most + 1)),
                ((problem.tube, rung.spares, rung.length),),
            )
        )
    if not steps:
        raise NoPlanInTimeError
    return _unbeaten(steps)


def _combined(tubes: Iterable[Sequence[_Step]], most: int) -> list[_Step]:
    """The unbeaten sums of one step of each tube. Sums of beaten ones are beaten, so those are dropped early."""
    sums = [_Step((Decimal(0), Decimal(0)), (0,) * most, ())]
    for steps in tubes:
        sums = _unbeaten([done + step for done in sums for step in steps])
    return sums


def _unbeaten(steps: Iterable[_Step]) -> list[_Step]:
    """Those for which no other costs as little and covers as much; cheapest first."""
    best: list[_Step] = []
    for step in sorted(steps, key=lambda step: (step.cost, [-pieces for pieces in step.cover])):
        if not best or step.cover > best[-1].cover:
            best.append(step)
    return best


def _paid(step: _Step, plans: Mapping[Kept, Plan]) -> _Step:
    """The step at the cost of the plans that follow it."""
    costs = [(tube.priced, tube.cost) for kept in step.kept for tube in plans[kept].tubes]
    money = sum((cost for priced, cost in costs if priced), Decimal(0))
    return replace(step, cost=(money, sum((cost for priced, cost in costs if not priced), Decimal(0))))


def _option(blanks: Sequence[Blank], kept: tuple[Kept, ...], mine: Sequence[Plan]) -> Option:
    """The option of keeping ``kept``, which the plans ``mine`` together follow."""
    tubes = [tube for plan in mine for tube in plan.tubes]
    whole = mine[0]
    cost, bound, proven = (whole.cost, whole.bound, whole.proven) if len(mine) == 1 else together(tubes)
    lengths = {tube: (count, length) for tube, count, length in kept}
    again = {blank.mark: lengths[blank.tube][0] if blank.length <= lengths[blank.tube][1] else 0 for blank in blanks}
    at_once = any(tube.spares.fitted is Fitted.ONE_AT_A_TIME for tube in tubes)
    return Option(
        spares=min((count for _, count, _ in kept if count), default=0),
        insured=tuple(mark for mark, times in again.items() if times),
        not_insured=tuple(mark for mark, times in again.items() if not times),
        cost=cost,
        bound=bound,
        proven=proven,
        buy=tuple(line for plan in mine for line in plan.buy),
        leftover=max(bar.usable for tube in tubes for bar in tube.bars),
        covers=in_words(again) + (" (each fitted before the next is cut)" if at_once else ""),
        kept=kept,
        priced=any(tube.priced for tube in tubes),
        fitted=Fitted.ONE_AT_A_TIME if at_once else Fitted.AFTER_ALL,
        orders=tuple(order for plan in mine for order in plan.orders),
    )


def in_words(again: Mapping[str, int]) -> str:
    """What is covered, given how many times each mark can be cut again, such as "any one member may be spoilt, except
    HOOP; any two mistakes on BS-L, BS-R, even both on one of them"."""
    said = []
    for times in sorted(set(again.values()) - {0}):
        covered = [mark for mark, most in again.items() if most >= times]
        excepted = [mark for mark, most in again.items() if most < times]
        number, often = _NUMBERS.get(times, (str(times), f"{times} times"))
        every = "both" if times == 2 else f"all {number}"
        if excepted and len(covered) == 1:
            said.append(f"{covered[0]} may be spoilt {often}")
        elif len(excepted) < len(covered):
            but = f", except {listed(excepted)}" if excepted else ""
            what = (
                "any one member may be spoilt" if times == 1 else f"any {number} mistakes, even {every} on one member"
            )
            said.append(f"{what}{but}")
        elif times == 1:
            said.append(f"any one of {listed(covered)} may be spoilt")
        else:
            said.append(f"any {number} mistakes on {listed(covered)}, even {every} on one of them")
    return "; ".join(said) or "no spare is kept: a spoilt member means buying another bar"


_NUMBERS = {1: ("one", "once"), 2: ("two", "twice"), 3: ("three", "three times"), 4: ("four", "four times")}
