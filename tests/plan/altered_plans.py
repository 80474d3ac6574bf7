"""Plans of jobs built in stages, altered as a slip of pen or program would, and whether each still keeps its promise.

An alteration is whole: positions, rests and ways out are put right, so that only the promise shows it. Whether it is
kept is judged from the rows, by adding up and by the rounds of building; nothing is shared with the check.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from build_judge import judge_order
from small_jobs import packs
from staged_builds import Build, F, JudgedError, Piece, drawn, in_order, lands, prepared, stage_of

from cutplan.job.model import Fitted, Source
from cutplan.plan import Plan, StockError, make_plan
from cutplan.plan.model import Bar, TubePlan
from cutplan.plan.spoilt import with_recoveries

Altered = tuple[str, Plan, bool]
"""What was done, the plan, and whether it still keeps its promise."""


def planned(seed: int) -> tuple[Build, Plan] | None:
    """A job by lot and its plan, whose spares are kept after all cuts; None: it cannot be had, or has no plan such."""
    build = drawn(seed)
    settings = replace(build.job.settings, fitted=Fitted.AFTER_ALL)
    build.job = replace(build.job, settings=settings)
    now = prepared(build.job)
    try:
        return build, make_plan(now.job, now.blanks)
    except StockError:
        return None


def alterations(build: Build, plan: Plan) -> Iterator[Altered]:
    """One of each kind, where the plan has what it takes."""
    for kind in (_swapped, _moved, _widened, _shortened, _without_a_spare, _in_another_stage):
        altered = kind(build.dice, build, plan)
        if altered is not None:
            yield altered


def _bars(plan: Plan) -> list[Bar]:
    return [bar for tube in plan.tubes for bar in tube.bars]


def _with_bars(plan: Plan, bars: dict[str, Bar]) -> Plan:
    """The plan with these bars, all positions, rests and ways out put right."""
    tubes = []
    for tube in plan.tubes:
        laid = [_laid(plan, bars.get(bar.name, bar)) for bar in tube.bars]
        tubes.append(replace(tube, bars=with_recoveries(laid, tube.spares.wanted)))
    return replace(plan, tubes=tuple(tubes))


def _laid(plan: Plan, bar: Bar) -> Bar:
    kerf, at, cuts = plan.job.settings.kerf, F(0), []
    for cut in sorted(bar.cuts, key=lambda cut: cut.number):
        end = at + cut.blank
        left = max(bar.length - bar.end_trim - end - kerf, F(0))
        cuts.append(replace(cut, start=at, end=end, left=left, shared=False, flipped=False))
        at = end + kerf
    usable = max(_room(plan, bar) - at, F(0))
    return replace(bar, cuts=tuple(cuts), offcut=cuts[-1].left if cuts else bar.length, usable=usable)


def _room(plan: Plan, bar: Bar) -> Fraction:
    trim = plan.job.settings.end_trim if bar.source is Source.BUY else F(0)
    return Piece(bar.tube, bar.length, trim, trim).room(plan.job.settings)


def _keeps(build: Build, plan: Plan) -> bool:
    """In order, within its bars, and with room for the spares it promises where it says that they are."""
    try:
        judge_order(build, plan, soft=False)
    except JudgedError:
        return False
    return all(_holds(build, plan, tube) for tube in plan.tubes)


def _holds(build: Build, plan: Plan, tube: TubePlan) -> bool:
    kerf = plan.job.settings.kerf
    rests = []
    for bar in tube.bars:
        rest = _room(plan, bar) + kerf - sum(cut.blank + kerf for cut in bar.cuts)
        if rest < 0 or not packs([tube.spares.length + kerf] * bar.spares, [rest], build.known):
            return False
        rests.append(rest)
    return packs([tube.spares.length + kerf] * tube.spares.wanted, rests, build.known)


def _swapped(dice: random.Random, build: Build, plan: Plan) -> Altered | None:
    """Two cuts change places in the order of sawing."""
    numbers = [cut.number for _, cut in in_order(plan)]
    if len(numbers) < 2:
        return None
    one, other = dice.sample(numbers, 2)
    exchanged = {one: other, other: one}
    bars = {
        bar.name: replace(
            bar, cuts=tuple(replace(cut, number=exchanged.get(cut.number, cut.number)) for cut in bar.cuts)
        )
        for bar in _bars(plan)
    }
    altered = _with_bars(plan, bars)
    return "two cuts swapped", altered, _keeps(build, altered)


def _moved(dice: random.Random, build: Build, plan: Plan) -> Altered | None:
    """A cut goes to another bar."""
    pairs = [
        (bar, other, cut)
        for tube in plan.tubes
        for bar in tube.bars
        for other in tube.bars
        for cut in bar.cuts
        if bar is not other
    ]
    if not pairs:
        return None
    bar, other, cut = dice.choice(pairs)
    left = replace(bar, cuts=tuple(one for one in bar.cuts if one is not cut))
    altered = _with_bars(plan, {bar.name: left, other.name: replace(other, cuts=(*other.cuts, cut))})
    return "a cut moved to another bar", altered, _keeps(build, altered)


def _widened(dice: random.Random, build: Build, plan: Plan) -> Altered | None:
    """The ± of a row is another than the plan was made for: a wider one keeps the promise only as long as the blank
    is known well enough to be sawn, as room is kept for no more than was written."""
    rows = [one for one in build.job.members if one.length is not None and one.tolerance]
    if not rows:
        return None
    one = dice.choice(rows)
    by = max(F(dice.choice([-10, -2, 2, 10]), 2), -one.tolerance)
    members = tuple(replace(each, tolerance=one.tolerance + by) if each is one else each for each in build.job.members)
    altered = replace(plan, job=replace(plan.job, members=members))
    swing = {blank.spread for blank in plan.blanks if blank.member == one.mark}
    keeps = by <= 0 or max(swing) + float(by) <= float(plan.job.settings.sure)
    return "the ± of a row changed", altered, keeps


def _shortened(dice: random.Random, build: Build, plan: Plan) -> Altered | None:
    """A bar, and the stock that it is of, is shorter."""
    bar = dice.choice(_bars(plan))
    by = F(dice.choice([1, 20, 200, 600]))
    if bar.length <= by:
        return None
    rows = tuple(
        replace(row, length=row.length - by)
        if (row.tube, row.length, row.source) == (bar.tube, bar.length, bar.source)
        else row
        for row in plan.job.stock
    )
    like = [one for one in _bars(plan) if (one.tube, one.length, one.source) == (bar.tube, bar.length, bar.source)]
    shorter = {one.name: replace(one, length=one.length - by) for one in like}
    buy = tuple(
        replace(line, length=line.length - by)
        if bar.source is Source.BUY and (line.tube, line.length) == (bar.tube, bar.length)
        else line
        for line in plan.buy
    )
    if any(tube.tube == bar.tube and not tube.priced for tube in plan.tubes):
        return None
    altered = _with_bars(replace(plan, job=replace(plan.job, stock=rows), buy=buy), shorter)
    return "a bar shortened", altered, _keeps(build, altered)


def _without_a_spare(dice: random.Random, build: Build, plan: Plan) -> Altered | None:
    """A spare is kept no longer, though it is promised."""
    keepers = [bar for bar in _bars(plan) if bar.spares]
    if not keepers:
        return None
    bar = dice.choice(keepers)
    return "a spare dropped", _with_bars(plan, {bar.name: replace(bar, spares=bar.spares - 1)}), False


def _in_another_stage(dice: random.Random, build: Build, plan: Plan) -> Altered | None:
    """A row is of another stage, and so is its blank."""
    staged = [one for one in build.job.members if one.stage is not None]
    if not staged:
        return None
    one = dice.choice(staged)
    stage = dice.choice([n for n in (1, 2, 3, 4) if n != one.stage])
    members = tuple(replace(each, stage=stage) if each is one else each for each in build.job.members)
    job = replace(build.job, members=members)
    of = {mark: stage_of(each, members) for each in members for mark in each.marks}
    blanks = tuple(replace(blank, stage=of[blank.mark]) for blank in plan.blanks)
    altered = replace(plan, job=replace(plan.job, members=members), blanks=blanks)
    lands_later = any(of[onto.marks[0]] > of[each.marks[0]] for each in members for onto in lands(each, members))
    return "a stage moved", altered, not lands_later and _keeps(replace(build, job=job), altered)
