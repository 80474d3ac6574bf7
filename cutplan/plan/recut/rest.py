"""The rest of a plan once cutting has begun: what is cut stays cut, what is not is planned from what really remains.

Bars of the plan cost nothing more. Every millimetre of tube is accounted for (see ``inventory``).
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from cutplan.geometry.model import Blank
from cutplan.job.faults import JobError
from cutplan.job.model import Fitted, Job
from cutplan.plan import wording
from cutplan.plan.model import Made, Plan, Spares, TubePlan, together, with_charges
from cutplan.plan.parts import wholes
from cutplan.plan.planner import make_plan, problems
from cutplan.plan.prepare import Prepared
from cutplan.plan.problem import Limits, Problem
from cutplan.plan.recut.for_sale import still_for_sale
from cutplan.plan.recut.inventory import Account, Inventory
from cutplan.plan.recut.reconcile import Reconciled, job_faults, reconcile
from cutplan.plan.recut.reuse import course_as_planned, kept_as_planned
from cutplan.plan.recut.spares import no_longer_needed, spares_in_hand
from cutplan.plan.recut.ticks import BarNote, Tick, faults_of
from cutplan.plan.sequential.course import cheaper
from cutplan.plan.sequential.fitting import early_cuts
from cutplan.plan.shops import bought_together, ordered_together
from cutplan.plan.staging import in_order_of_sawing
from cutplan.plan.wording import measured


@dataclass(frozen=True, slots=True)
class Recut:
    """The plan of the rest. ``plan`` None: nothing is left to cut, nor to be done, because the job changed, to a piece
    that is cut; ``to_fit`` pieces are not ticked as fitted. ``changes``: what became of the old plan, in words, which
    the plan carries too. ``accounts``: one for each tube."""

    plan: Plan | None
    changes: tuple[str, ...]
    accounts: tuple[Account, ...]
    to_fit: int = 0


def recut(
    plan: Plan,
    ticks: Sequence[Tick],
    notes: Sequence[BarNote] = (),
    *,
    got: Sequence[tuple[str, Fraction]] = (),
    spares: int | None = None,
    now: Prepared | None = None,
    limits: Limits | None = None,
) -> Recut:
    """Plan what is not yet cut from what remains, buying as little as can be.

    Bars of the plan count as bought, but for those struck out. ``got``: bars had since, by tube and length (mm).
    ``spares`` None: the most, up to what the job asks for, that needs nothing bought on their account. ``now``: the job
    as it is now, where it is no longer the one of ``plan`` (see `reconcile`).

    Raises JobError where the ticks contradict each other, StockError where what remains and what is for sale cannot
    serve, NoPlanInTimeError where time ran out.
    """
    tubes = [tube.name for tube in (plan.job if now is None else now.job).tubes]
    faults = (*faults_of(plan, ticks, notes, got, tubes), *(job_faults(plan, now) if now is not None else ()))
    if faults:
        raise JobError(faults)
    limits = limits or Limits()
    state = Inventory(plan, ticks, {note.bar: note for note in notes})
    for tube, length in got:
        state.get(tube, length)
    to_go_on = _as_planned(state, plan) if now is None else reconcile(state, plan, now)
    assert all(account.balanced for account in state.accounts.values())
    job, blanks = to_go_on.job, to_go_on.blanks
    accounts = tuple(state.accounts.values())
    if not blanks and not _more_to_do(plan, state):
        not_needed = no_longer_needed(plan, job, (), (), state)
        to_fit = sum(not good.fitted for good in state.good)
        return Recut(None, (*state.said, *not_needed, *_balance(plan.job, accounts)), accounts, to_fit)
    after = _planned(to_go_on, state, _kept(job, blanks, state, spares, limits), limits)
    cuts = len(after.cuts)
    changes = (
        *state.said,
        *_moved(plan, state.ticks, after, to_go_on.names),
        *_means(after, asked=spares),
        *([NUMBERED_ANEW] if any(_NUMBERED.search(text) for text in state.said) else ()),
        *no_longer_needed(plan, job, blanks, after.tubes, state),
        *_balance(plan.job, accounts),
    )
    made = tuple(
        Made(number, good.blank, "" if good.fitted else good.to_do, good.fitted, good.sawn)
        for number, good in enumerate(sorted(state.good, key=lambda good: good.fitted), cuts + 1)
    )
    after = replace(
        after,
        made=made,
        changes=changes,
        rack=to_go_on.rack,
        drawn=plan.drawn,
        origin=plan.origin,
        highest=state.numbers.highest,
        source=plan.source if now is None else now.source,
        remarks=plan.remarks if now is None else now.remarks,
    )
    return Recut(after, changes, accounts)


NUMBERED_ANEW = "Cut numbers here are those of the old list; the new list has its own."
_NUMBERED = re.compile(r"\bCut \d")


def _more_to_do(plan: Plan, state: Inventory) -> bool:
    """Whether something is to be done to a piece already cut that the list of ``plan`` does not say yet."""
    said = Counter((made.blank.mark, made.to_do) for made in plan.made)
    now = Counter((good.blank.mark, good.to_do) for good in state.good if good.to_do and not good.fitted)
    return bool(now - said)


def _as_planned(state: Inventory, plan: Plan) -> Reconciled:
    """The rest of a job that is as it was."""
    return Reconciled(
        replace(plan.job, stock=(*state.rows, *still_for_sale(plan))),
        state.still_to_cut(),
        {name: tuple(cuts) for name, cuts in state.waiting.items()},
        {},
        frozenset(tube.name for tube in plan.job.tubes),
        plan.rack_before,
    )


def _planned(to_go_on: Reconciled, state: Inventory, kept: Mapping[str, tuple[int, Fraction]], limits: Limits) -> Plan:
    """Each tube as it was planned, where that is possible, else planned again."""
    job, blanks, waiting = to_go_on.job, to_go_on.blanks, to_go_on.waiting
    left_alone: dict[str, TubePlan] = {}
    again: list[Blank] = []
    first = 1
    for tube in job.tubes:
        mine = [blank for blank in blanks if blank.tube == tube.name]
        pieces = [(name, row) for name, row in state.named if row.tube == tube.name]
        if not mine and not pieces:
            continue
        alone = None
        before = next((one for one in state.plan.tubes if one.tube == tube.name), None)
        spare = kept.get(tube.name, (0, Fraction(0)))
        if not mine or before is None or before.spares.fitted is Fitted.AFTER_ALL:
            alone = kept_as_planned(job, tube.name, pieces, waiting, mine, spare, first)
        elif tube.name in to_go_on.unchanged and _insures(before.spares, spare) and state.undisturbed(before):
            alone = course_as_planned(job, before, pieces, waiting, mine, first)
        if alone is None:
            again += mine
        else:
            left_alone[tube.name] = alone
            first += len(alone.cuts)
    names = {row.label: name for name, row in state.named}
    numbers = state.numbers
    plan = make_plan(
        job,
        again,
        kept=kept,
        limits=limits,
        namer=lambda row: names.get(row.label) or numbers.next(),
    )
    planned = {tube.tube: _shifted(tube, first - 1) for tube in plan.tubes} | left_alone
    in_hand = [planned[tube.name] for tube in job.tubes if tube.name in planned]
    tubes = in_order_of_sawing(job, in_hand, blanks)
    cost, bound, proven = together(tubes)
    if plan.charged and plan.bound is not None:
        rest = sum((tube.bound for tube in left_alone.values() if tube.priced), Decimal(0))
        cost, bound, proven = with_charges(tubes, plan.orders, plan.bound + rest)
    early = early_cuts(job, tubes)
    return replace(plan, blanks=tuple(blanks), tubes=tubes, cost=cost, bound=bound, proven=proven, early=early)


def _insures(spares: Spares, asked: tuple[int, Fraction]) -> bool:
    """Whether the spares of a plan are those asked for, or longer ones."""
    return spares.wanted == asked[0] and spares.length >= asked[1]


def _shifted(tube: TubePlan, by: int) -> TubePlan:
    """``tube`` with its cuts numbered on from ``by``."""
    bars = (bar.with_cuts(lambda cut: replace(cut, number=cut.number + by)) for bar in tube.bars)
    return replace(tube, bars=tuple(bars))


def _kept(
    job: Job, blanks: Sequence[Blank], state: Inventory, spares: int | None, limits: Limits
) -> dict[str, tuple[int, Fraction]]:
    """For each tube the spares to keep. Those cut already are insured too until they are fitted, where they may yet be
    spoilt in fitting."""
    lengths: defaultdict[str, set[Fraction]] = defaultdict(set)
    to_fit = [good.blank for good in state.good if not good.fitted]
    for blank in (*blanks, *(to_fit if job.settings.fitted is Fitted.AFTER_ALL else ())):
        if blank.insured:
            lengths[blank.tube].add(blank.length)
    wanted = job.settings.spares if spares is None else spares
    kept = {
        tube: spares_in_hand(job, [row for row in state.rows if row.tube == tube], sorted(mine), wanted)
        for tube, mine in lengths.items()
    }
    for problem in problems(job, blanks):
        mine = sorted(lengths[problem.tube])
        if not mine:
            kept[problem.tube] = (0, Fraction(0))
        elif spares is not None:
            kept[problem.tube] = (spares, mine[-1])
        else:
            kept[problem.tube] = _free(problem, mine, job.settings.spares, limits)
    return kept


def _free(problem: Problem, lengths: Sequence[Fraction], wanted: int, limits: Limits) -> tuple[int, Fraction]:
    """The most spares that make the tube no dearer: as many as wanted of the longest, else one, as long as can be."""
    at_once = problem.job.settings.fitted is Fitted.ONE_AT_A_TIME
    charged = bool(ordered_together(problem.job, (problem,)))
    least = _cost(problem, 0, Fraction(0), limits)

    def free(count: int, length: Fraction) -> bool:
        if least is None:
            return False
        cost = _cost(problem, count, length, limits)
        if cost is not None and cost <= least:
            return True
        return (
            not charged and at_once and count == 1 and cheaper(problem, length, int(least) + 1, limits)[0] is not None
        )

    for count in range(wanted, 0, -1):
        if free(count, lengths[-1]):
            return count, lengths[-1]
    if not wanted:
        return 0, Fraction(0)
    fits = bisect_right(lengths[:-1], 0, key=lambda length: 0 if free(1, length) else 1)
    return (1, lengths[fits - 1]) if fits else (0, Fraction(0))


def _cost(problem: Problem, count: int, length: Fraction, limits: Limits) -> Decimal | None:
    """What so many spares of ``length`` mm make the tube cost, with what shops charge for its order; None: they cannot
    be kept."""
    if not ordered_together(problem.job, (problem,)):
        cost = problem.solve(count, length, limits, second_aims=False).cost
        return None if cost is None else Decimal(cost)
    return bought_together(problem.job, (problem,), {problem.tube: (count, length)}, limits).cost


def _moved(before: Plan, ticks: Mapping[int, Tick], after: Plan, names: Mapping[str, str]) -> Iterator[str]:
    """Which blanks, not yet cut, now come from another bar; ``names``: the marks that are called otherwise now."""
    was: defaultdict[str, Counter[str]] = defaultdict(Counter)
    for bar in before.bars:
        for cut in bar.cuts:
            if not ticks[cut.number].made:
                was[names.get(cut.mark, cut.mark)][bar.name] += 1
    now: defaultdict[str, Counter[str]] = defaultdict(Counter)
    for bar in after.bars:
        for cut in bar.cuts:
            now[cut.mark][bar.name] += 1
    for mark, bars in now.items():
        come, gone = bars - was[mark], was[mark] - bars
        if come:
            instead = f" instead of {_bars(gone)}" if gone else ""
            yield f"{mark}: now from {_bars(come)}{instead}."


def _bars(names: Counter[str]) -> str:
    return ", ".join(f"bar {name}" if times == 1 else f"bar {name} ({times} times)" for name, times in names.items())


def _means(plan: Plan, *, asked: int | None) -> Iterator[str]:
    """What is to be bought, and what spare is kept; ``asked``: how many were asked for, None: as many as come free."""
    settings = plan.job.settings
    yield from (f"To buy: {wording.purchase(line, settings)}." for line in plan.buy)
    for order in plan.orders:
        if order.charges:
            yield f"{order.shop} charges {wording.money(order.charges, settings.currency)} for that order."
    yield from (wording.bar_in_parts(parts, settings) for parts in wholes(plan.bars))
    if not plan.buy:
        yield "Nothing needs to be bought."
    for tube in plan.tubes:
        if settings.spares and not tube.spares.wanted and any(bar.cuts for bar in tube.bars):
            if asked == 0:
                yield f"{tube.tube}: no spare is kept, as --spares 0 asks."
            else:
                yield f"{tube.tube}: no spare is left; --spares 1 shows what one would cost."


def _balance(job: Job, accounts: Sequence[Account]) -> Iterator[str]:
    """Where every millimetre of each tube is."""
    for account in accounts:
        had = account.had + account.put_right
        parts = (
            ("cut to blanks", account.made),
            ("kerf", account.kerf),
            ("end trim", account.trim),
            ("in hand", account.in_hand),
            ("lost", account.lost),
        )
        where = ", ".join(f"{measured(length, job.settings)} {what}" for what, length in parts if length)
        yield f"{account.tube}: of {measured(had, job.settings)}, {where}."
