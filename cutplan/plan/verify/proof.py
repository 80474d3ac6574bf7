"""A plan proved again in plain arithmetic, by code that shares nothing with the solver or the layout.

It works from the job's own rows and the blanks, and trusts nothing in the plan.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields, replace
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

from cutplan.geometry import lay_out
from cutplan.geometry.model import Blank
from cutplan.job.model import Cut, Fitted, Job, Source, StockRow, Units
from cutplan.plan.model import Bar, Plan, TubePlan, WrongPlanError
from cutplan.plan.verify.estimates import estimate_complaints
from cutplan.plan.verify.shops import (
    charge_complaints,
    charges_of,
    cut_bars,
    part_complaints,
    part_row,
    some_charge,
    trim_of,
)
from cutplan.plan.verify.spares import (
    HAIR,
    recovery_complaints,
    room_complaints,
    said,
    survival_complaints,
    two_mistakes_complaints,
)
from cutplan.plan.verify.stages import early_complaints, stage_complaints

Shelf = Mapping[tuple[object, ...], Sequence[StockRow]]
"""The rows of the ``Stock`` sheet by all that distinguishes a bar of one from a bar of another, but for end trims; and
the parts that a shop cuts bars into, by their names."""


def complaints(plan: Plan) -> tuple[str, ...]:
    """Everything that is wrong with ``plan``, in words; empty if it holds."""
    return _all_of(_complaints(plan))


def proved(plan: Plan) -> Plan:
    """``plan`` itself, if it holds. Raises WrongPlanError: such a plan must not be shown or written."""
    if wrong := complaints(plan):
        raise WrongPlanError(plan, wrong)
    return plan


def length_complaints(plan: Plan) -> tuple[str, ...]:
    """Where the plan's blanks, those cut already included, do not follow from the job's measurements."""
    return _all_of(_length_complaints(plan))


def _all_of(said: Iterator[str]) -> tuple[str, ...]:
    """All that is said; a plan from a file may be such that nothing can be calculated with it, which is wrong too."""
    found = []
    try:
        for text in said:
            found.append(text)
    except (LookupError, ValueError, TypeError, AttributeError, ArithmeticError, RuntimeError) as error:
        found.append(f"the plan cannot be checked again: {type(error).__name__} {error}")
    return tuple(found)


def _length_complaints(plan: Plan) -> Iterator[str]:
    follow = {blank.mark: blank for blank in lay_out(plan.job).blanks}
    planned = {made.blank.mark: replace(made.blank, count=0) for made in plan.made}
    planned |= {blank.mark: blank for blank in plan.blanks}
    for made in plan.made:
        planned[made.blank.mark] = replace(planned[made.blank.mark], count=planned[made.blank.mark].count + 1)
    there = {mark for member in plan.job.members if member.made for mark in member.marks}
    yield from (f"{mark}: is made already, and so not to be cut" for mark in planned if mark in there)
    yield from (f"{mark}: is not a member of the job" for mark in planned if mark not in follow and mark not in there)
    yield from (f"{mark}: is a member of the job, but has no blank" for mark in follow if mark not in planned)
    yield from (text for mark in planned if mark in follow for text in _unlike(planned[mark], follow[mark], plan.job))


def _unlike(planned: Blank, follow: Blank, job: Job) -> Iterator[str]:
    if planned.length != follow.length:
        yield f"{planned.mark}: a blank of {said(planned.length, job)}, but the job gives {said(follow.length, job)}"
    if planned.count != follow.count:
        yield f"{planned.mark}: {planned.count} in the plan, {follow.count} in the job"
    if planned.tube != follow.tube:
        yield f"{planned.mark}: of {planned.tube} in the plan, of {follow.tube} in the job"
    for field in fields(Blank):
        known = field.name in ("length", "count", "tube") or not field.compare
        if not known and getattr(planned, field.name) != getattr(follow, field.name):
            yield f"{planned.mark}: {field.name.replace('_', ' ')}: the plan does not match the job"


def _complaints(plan: Plan) -> Iterator[str]:
    yield from _demand(plan)
    yield from estimate_complaints(plan)
    yield from part_complaints(plan)
    shelf = _shelf(plan)
    blanks = {blank.mark: blank for blank in plan.blanks}
    names = Counter(bar.name for tube in plan.tubes for bar in tube.bars)
    yield from (f"bar {name} is listed {times} times" for name, times in names.items() if times > 1)
    yield from (f"{tube.tube}: a bar has no name" for tube in plan.tubes for bar in tube.bars if not bar.name.strip())
    tubes = Counter(tube.tube for tube in plan.tubes)
    yield from (f"{tube} is listed {times} times among the tubes" for tube, times in tubes.items() if times > 1)
    numbers = [cut.number for tube in plan.tubes for bar in tube.bars for cut in bar.cuts]
    if sorted(numbers) != list(range(1, len(numbers) + 1)):
        wrong = next(number for number, given in enumerate(sorted(numbers), 1) if number != given)
        yield f"the cuts are not numbered 1 to the last, each once: see cut {wrong}"
    for tube in plan.tubes:
        yield from _stock(plan, shelf, tube)
        for bar in tube.bars:
            yield from _bar(plan.job, shelf, blanks, bar)
        if tube.spares.fitted is Fitted.ONE_AT_A_TIME:
            goods = {bar.name: _good(plan.job, _row_of(plan.job, shelf, bar), bar) for bar in tube.bars}
            yield from survival_complaints(plan, tube, goods)
        else:
            yield from room_complaints(plan, tube)
            yield from recovery_complaints(plan, tube)
            yield from two_mistakes_complaints(plan, tube)
        yield from _cost(plan.job, tube)
    yield from _money(plan)
    yield from stage_complaints(plan)
    yield from early_complaints(plan)


def _demand(plan: Plan) -> Iterator[str]:
    wanted = {blank.mark: blank for blank in plan.blanks}
    listed = Counter(blank.mark for blank in plan.blanks)
    yield from (f"{mark}: is listed {times} times among the blanks" for mark, times in listed.items() if times > 1)
    cut = Counter(cut.mark for tube in plan.tubes for bar in tube.bars for cut in bar.cuts)
    for mark, blank in wanted.items():
        if cut[mark] != blank.count:
            yield f"{mark}: {blank.count} wanted, {cut[mark]} cut"
    for mark in cut:
        if mark not in wanted:
            yield f"{mark}: is cut, but is not in any member"
    for tube in plan.tubes:
        for bar in tube.bars:
            for one in bar.cuts:
                if one.mark in wanted and wanted[one.mark].tube != bar.tube:
                    yield f"cut {one.number}: {one.mark} is of {wanted[one.mark].tube}, bar {bar.name} of {bar.tube}"
                if one.mark in wanted and not _same(wanted[one.mark].length, one.blank):
                    yield f"cut {one.number}: its length is not that of the blank {one.mark}"


def _shelf(plan: Plan) -> Shelf:
    shelf: dict[tuple[object, ...], list[StockRow]] = {}
    for row in plan.job.stock:
        shelf.setdefault(_key(row), []).append(row)
    for whole, parts in cut_bars(plan):
        shelf |= {(part.name,): [part_row(plan.job, whole, part)] for part in parts}
    return shelf


def _row_of(job: Job, shelf: Shelf, bar: Bar) -> StockRow | None:
    """The stock this bar is of; of rows alike but for their end trims, the one it was squared as."""
    if bar.parts:
        return next(iter(shelf.get((bar.name,), ())), None)
    alike = shelf.get((bar.tube, bar.length, bar.source, bar.label, bar.price, bar.shop), [])
    return next((row for row in alike if _near(job, row) == bar.end_trim), alike[0] if alike else None)


def _key(row: StockRow) -> tuple[object, ...]:
    price = row.price if row.source is Source.BUY else None
    return (row.tube, row.length, row.source, row.label, price, row.shop)


def _kind(job: Job, row: StockRow) -> tuple[object, ...]:
    return (*_key(row), _near(job, row), trim_of(job, row))


def _stock(plan: Plan, shelf: Shelf, tube: TubePlan) -> Iterator[str]:
    job = plan.job
    available: dict[tuple[object, ...], int | None] = {}
    for row in (row for row in job.stock if row.tube == tube.tube):
        had = available.get(_kind(job, row), 0)
        available[_kind(job, row)] = None if had is None or row.available is None else had + row.available
    used: dict[tuple[object, ...], list[Bar]] = {}
    for whole, (first, *_) in cut_bars(replace(plan, tubes=(tube,))):
        used.setdefault(_kind(job, whole), []).append(first)
    for bar in tube.bars:
        if bar.parts:
            continue
        row_of = _row_of(job, shelf, bar)
        if bar.tube != tube.tube or row_of is None:
            yield f"bar {bar.name}: no such bar in the Stock sheet"
        else:
            used.setdefault(_kind(job, row_of), []).append(bar)
    for key, bars in used.items():
        limit = available[key]
        if limit is not None and len(bars) > limit:
            kind = f"{said(bars[0].cut_from or bars[0].length, job)}{f' marked {bars[0].label}' * bool(bars[0].label)}"
            yield f"{tube.tube}: {len(bars)} bars of one kind ({kind}) used, {limit} available"


def _near(job: Job, row: StockRow) -> Fraction:
    """What is lost at the end the first blank is cut from."""
    return Fraction(0) if row.sawn else trim_of(job, row)


def _good(job: Job, row: StockRow | None, bar: Bar) -> Fraction:
    """The tube of this bar, which is of the stock ``row``, that blanks may take, from its squared end."""
    if row is None:
        return Fraction(0)
    trim = trim_of(job, row)
    good = bar.length - _near(job, row) - trim - job.settings.saw_hold
    if job.settings.saw_hold > 0 and trim < job.settings.kerf:
        good -= job.settings.kerf - trim
    return good


def _bar(job: Job, shelf: Shelf, blanks: Mapping[str, Blank], bar: Bar) -> Iterator[str]:
    kerf = job.settings.kerf
    row = _row_of(job, shelf, bar)
    trim = _near(job, row) if row else Fraction(0)
    if bar.end_trim != trim:
        yield f"bar {bar.name}: its end trim is not that of its stock"
    if row is not None and bar.bought != row.bought:
        yield f"bar {bar.name}: is {'not ' if bar.bought else ''}in hand because it was bought for this job"
    if any(one.number >= following.number for one, following in pairwise(bar.cuts)):
        yield f"bar {bar.name}: its cuts are not numbered in the order they are made"
    saved = _saved(job, blanks, bar)
    yield from (
        f"cut {one.number}: shares a cut, but is an estimate"
        for before, one in pairwise(bar.cuts)
        if one.shared and any(each.mark in blanks and blanks[each.mark].estimate for each in (before, one))
    )
    for before, one in zip((None, *bar.cuts), bar.cuts, strict=False):
        if one.shared and (before is None or before.number not in saved):
            yield f"cut {one.number}: said to share its leading mitre with the blank before it, but cannot"
    at = Fraction(0)
    for one in bar.cuts:
        if not _same(one.start, at):
            yield f"cut {one.number}: starts at {said(one.start, job)}, not at {said(at, job)}"
        if not _same(one.end - one.start, one.blank):
            yield f"cut {one.number}: its end minus its start is not the length of its blank"
        after = one.end + kerf - saved.get(one.number, Fraction(0))
        left = max(bar.length - trim - after, Fraction(0))
        if not _same(one.left, left):
            yield f"cut {one.number}: {said(left, job)} must be left, not {said(one.left, job)}"
        at = after
    last = bar.cuts[-1].end if bar.cuts else Fraction(0)
    good = _good(job, row, bar)
    if bar.cuts and last > good + HAIR:
        yield f"bar {bar.name}: its cuts need {said(last, job)}, but only {said(good, job)} can be used"
    offcut = bar.cuts[-1].left if bar.cuts else bar.length
    if not _same(bar.offcut, offcut):
        yield f"bar {bar.name}: its offcut is {said(offcut, job)}, not {said(bar.offcut, job)}"
    rest = max(good - last - (kerf if bar.cuts else 0), Fraction(0))
    if not _same(bar.usable, rest):
        yield f"bar {bar.name}: {said(rest, job)} can still be cut, not {said(bar.usable, job)}"


def _same(one: Fraction, other: Fraction) -> bool:
    return abs(one - other) < HAIR


def _saved(job: Job, blanks: Mapping[str, Blank], bar: Bar) -> dict[int, Fraction]:
    """By cut number, what sharing its far mitre with the next blank saves: OD·tan α less the slant of the blade,
    in whole grid steps (0.1 mm, 1/256 in)."""
    settings = job.settings
    step = Fraction(1, 10) if settings.units is Units.MM else Fraction(254, 2560)
    saved = {}
    for one, following in pairwise(bar.cuts):
        if following.shared and settings.share_mitres and {one.mark, following.mark} <= blanks.keys():
            mine, next_one = blanks[one.mark], blanks[following.mark]
            far = mine.end_a if one.flipped else mine.end_b
            near = next_one.end_b if following.flipped else next_one.end_a
            if far.cut is near.cut is Cut.MITRE and far.angle_deg == near.angle_deg:
                tan = math.tan(math.radians(far.angle_deg))
                slant = math.sqrt(1 + tan * tan) - 1
                saving = float(job.tube(bar.tube).od) * tan - float(settings.kerf) * slant
                saved[one.number] = max(math.floor(Fraction(saving) / step), 0) * step
    return saved


def _cost(job: Job, tube: TubePlan) -> Iterator[str]:
    bought = [bar for bar in tube.bars if bar.source is Source.BUY]
    priced = any(row.tube == tube.tube and row.source is Source.BUY and row.price is not None for row in job.stock)
    if tube.priced != priced:
        yield f"{tube.tube}: said to have {'' if tube.priced else 'no '}prices, which is wrong"
    if tube.priced:
        cost = sum((bar.price or Decimal(0) for bar in bought), Decimal(0))
        fits = cost == tube.cost
    else:
        length = sum((bar.length for bar in bought), Fraction(0)) / job.settings.units.mm
        cost, fits = Decimal(float(length)), abs(length - Fraction(tube.cost)) <= Fraction(len(bought), 100)
    if not fits:
        yield f"{tube.tube}: costs {cost}, not {tube.cost}"
    if tube.bound < 0:
        yield f"{tube.tube}: a bound of {tube.bound} is below zero"
    if tube.bound > tube.cost:
        yield f"{tube.tube}: a bound of {tube.bound} is above its cost {tube.cost}"
    if tube.proven and tube.bound != tube.cost:
        yield f"{tube.tube}: said to be proven, but its bound {tube.bound} is not its cost {tube.cost}"


def _money(plan: Plan) -> Iterator[str]:
    counted = [tube for tube in plan.tubes if tube.priced] or list(plan.tubes)
    whole = all(line.price is not None for line in plan.buy) or not any(tube.priced for tube in plan.tubes)
    cost = sum((tube.cost for tube in counted), Decimal(0)) if whole else None
    bound = sum((tube.bound for tube in counted), Decimal(0)) if whole else None
    yield from charge_complaints(plan)
    if cost is not None:
        cost += sum((sum(charges, Decimal(0)) for _, *charges in charges_of(plan).values()), Decimal(0))
    if plan.cost != cost:
        yield f"the plan's cost {plan.cost} is not the sum of its tubes' and its shops' charges, {cost}"
    if some_charge(plan.job) and whole:
        # The whole has a bound of its own: shops couple the tubes.
        if plan.bound is None or cost is None or not (bound or 0) <= plan.bound <= cost:
            yield f"the plan's bound {plan.bound} is not between its tubes', {bound}, and its cost {cost}"
        if plan.proven != (plan.bound == cost):
            yield "the plan is marked as proven but its bound is not its cost, or the other way round"
    else:
        if plan.bound != bound:
            yield f"the plan's bound {plan.bound} is not the sum of its tubes', {bound}"
        if plan.proven != (whole and all(tube.proven for tube in plan.tubes)):
            yield "the plan is marked as proven but not every tube is, or the other way round"
    bought = Counter(
        _bought(bar.tube, bar.length, bar.price, bar.shop)
        for tube in plan.tubes
        for bar in tube.bars
        if bar.source is Source.BUY and not bar.parts
    )
    bought.update(
        _bought(row.tube, row.length, row.price, row.shop, [part.length for part in parts])
        for row, parts in cut_bars(plan)
    )
    listed = Counter(
        {_bought(line.tube, line.length, line.price, line.shop, line.parts): line.count for line in plan.buy}
    )
    if bought != listed or len(listed) != len(plan.buy) or not all(line.count for line in plan.buy):
        unlike = next((key for key in [*bought, *listed] if bought[key] != listed[key]), None)
        where = f" (see {said(unlike[1], plan.job)} of {unlike[0]})" if unlike else ""
        yield f"the buy list does not match the bars{where}"
    for line in plan.buy:
        if line.cost != (None if line.price is None else line.price * line.count):
            yield f"the buy list: {line.count} × {line.price} is not {line.cost}"


def _bought(
    tube: str, length: Fraction, price: Decimal | None, shop: str, parts: Sequence[Fraction] = ()
) -> tuple[str, Fraction, Decimal | None, str, tuple[Fraction, ...]]:
    """What distinguishes a line of the buy list."""
    return tube, round(length, 3), price, shop, tuple(round(mm, 3) for mm in parts)
