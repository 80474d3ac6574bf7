"""From a job and its blanks to a plan, tube by tube.

Bars are numbered through the whole job in the order they go into the saw: those with the longest blanks first,
bars that are only kept last. On a bar long blanks come before short ones, like ones side by side, and of one length
the bent and the coped, which are easier to spoil, come first;
those that must be measured first come last.
Fitted one at a time, the order of cuts is that of ``sequential.course`` instead, and may go back to a bar. In a job
that is built in stages all cuts of one stage, on whichever bars, come before those of the next (``staging``). Fitted
one at a time, a tube comes before what lands on it as far as the spare allows (``sequential.fitting``).
"""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from itertools import count as counting

from cutplan.geometry.model import Blank
from cutplan.job.faults import Remark
from cutplan.job.model import Fitted, Job, Source, StockRow
from cutplan.nesting import Packing, Status
from cutplan.plan.grid import near_trim, usable
from cutplan.plan.model import (
    Bar,
    NoPlanInTimeError,
    Plan,
    Purchase,
    SawCut,
    Shortage,
    Spares,
    StockError,
    TubePlan,
    together,
    with_charges,
)
from cutplan.plan.parts import bought_whole, linked
from cutplan.plan.problem import Limits, Problem, problem_of, shared_saving
from cutplan.plan.sequential.course import Course, Searches, at_once, on_bars, risk
from cutplan.plan.sequential.fitting import early_cuts
from cutplan.plan.sequential.precedence import fit_for_fitting
from cutplan.plan.sequential.recovery import with_course_recoveries
from cutplan.plan.shops import SEARCHED, Together, bought_together, ordered_together, orders_of
from cutplan.plan.shortage import shortage_of
from cutplan.plan.spoilt import with_recoveries
from cutplan.plan.staging import in_order_of_sawing, on_a_bar, turn

Kept = Mapping[str, tuple[int, Fraction]]
"""For each tube, how many spares of what length (mm) to keep."""

Solved = tuple[Problem, Packing, Course | None]
"""A tube with its packing, or the course that it is cut by instead."""

Namer = Callable[[StockRow], str]
"""Gives a name to the next bar, which is of this stock row; no name is given twice."""


def kept_by_default(job: Job, blanks: Sequence[Blank]) -> dict[str, tuple[int, Fraction]]:
    """The spares that the job's settings ask for: ``spares`` of the longest insured blank of each tube."""
    kept: dict[str, tuple[int, Fraction]] = {}
    for blank in blanks:
        longest = kept.get(blank.tube, (0, Fraction(0)))[1]
        if blank.insured:
            longest = max(longest, blank.length)
        kept[blank.tube] = (job.settings.spares if longest else 0, longest)
    return kept


def problems(job: Job, blanks: Sequence[Blank]) -> tuple[Problem, ...]:
    """One packing problem for each tube that has blanks, in the order of the ``Tubes`` sheet."""
    return tuple(
        problem_of(job, tube.name, mine)
        for tube in job.tubes
        if (mine := tuple(blank for blank in blanks if blank.tube == tube.name))
    )


def packed(
    problem: Problem, count: int, length: Fraction, limits: Limits, known: Searches, *, second_aims: bool = True
) -> tuple[Packing, Course | None]:
    """The best packing that keeps ``count`` spares of ``length`` mm; for one spare fitted one at a time, the course if
    that is cheaper, with its cost and bound. ``known``: what came of searches for courses before."""
    packing = problem.solve(count, length, limits, second_aims=second_aims)
    if count == 1 and problem.one_at_a_time:
        return at_once(problem, length, packing, limits, known)
    return packing, None


def make_plan(
    job: Job,
    blanks: Sequence[Blank],
    *,
    kept: Kept | None = None,
    limits: Limits | None = None,
    remarks: Sequence[Remark] = (),
    namer: Namer | None = None,
    searches: Searches | None = None,
) -> Plan:
    """The plan of least cost that cuts every blank and keeps the spares (``kept``; None: as the job says).
    ``namer``: where bars have names already (None: they are numbered from 1). ``limits.seconds`` is for all tubes.
    ``searches``: those for courses that were made already with the same job and blanks.

    Raises StockError where the stock cannot serve, NoPlanInTimeError where time ran out with no plan in hand.
    """
    kept = kept_by_default(job, blanks) if kept is None else kept
    limits = limits or Limits()
    posed = problems(job, blanks)
    coupled = ordered_together(job, posed)
    solved, bought = _solved(posed, coupled, kept, limits, {} if searches is None else searches)
    couple = {one.tube for one in coupled}
    tubes = []
    numbers, names = 0, counting(1)
    for problem, packing, course in (solved[problem.tube] for problem in posed):
        rows: dict[str, StockRow] = {}
        name = _noting(namer or (lambda _: str(next(names))), rows)
        course = course and fit_for_fitting(course, job.members, limits.stop)
        bars = _course_bars(problem, course, name, numbers) if course else _bars(problem, packing, name, numbers)
        bars = linked(bars, rows)
        numbers += sum(len(bar.cuts) for bar in bars)
        money = _bars_cost(bought, problem, bars) if bought and problem.tube in couple else _money(problem, packing)
        tubes.append(_tube_plan(problem, money, bars, kept[problem.tube], at_once=course is not None))
    orders = orders_of(job, (bar for tube in tubes for bar in tube.bars), bought.carried if bought else ())
    cost, bound, proven = together(tubes)
    if bought is not None:
        others = [tube.bound for tube in tubes if tube.priced and tube.tube not in couple]
        cost, bound, proven = with_charges(tubes, orders, bought.bound + sum(others, Decimal(0)))
    in_order = in_order_of_sawing(job, tubes, blanks)
    return Plan(
        job=job,
        blanks=tuple(blanks),
        tubes=in_order,
        buy=tuple(line for tube in tubes for line in purchases(job, tube.tube, tube.bars)),
        cost=cost,
        bound=bound,
        proven=proven,
        remarks=tuple(remarks),
        orders=orders,
        early=early_cuts(job, in_order),
    )


def _solved(
    posed: Sequence[Problem], coupled: Sequence[Problem], kept: Kept, limits: Limits, searches: Searches
) -> tuple[dict[str, Solved], Together | None]:
    """What each tube is cut from, and what is bought for the ``coupled`` ones together."""
    alone = [one for one in posed if one not in coupled]
    each = limits.part(1 / max(len(posed), 1))
    solved: dict[str, Solved] = {}
    shortages: dict[str, Shortage] = {}
    for problem, share in _shared_out(alone, each.part(len(alone))):
        packing, course = packed(problem, *kept[problem.tube], share, searches)
        if packing.status is Status.IMPOSSIBLE:
            shortages[problem.tube] = shortage_of(problem, *kept[problem.tube], share)
        elif packing.status is Status.UNKNOWN:
            raise NoPlanInTimeError
        solved[problem.tube] = problem, packing, course
    bought, later = None, each.part(len(coupled))
    if coupled:
        bought = bought_together(coupled[0].job, coupled, kept, later)
        if bought.bars is not None:
            solved |= _laid_out(bought, kept, later)
        elif bought.status is Status.UNKNOWN:
            raise NoPlanInTimeError
        else:
            shortages |= _shortages(bought, kept, later)
    if shortages:
        raise StockError(posed[0].job, tuple(shortages[one.tube] for one in posed if one.tube in shortages))
    return solved, bought


def _noting(namer: Namer, rows: dict[str, StockRow]) -> Namer:
    """``namer``, which also notes in ``rows`` which stock each name was given to."""

    def name(row: StockRow) -> str:
        given = namer(row)
        rows[given] = row
        return given

    return name


def _laid_out(bought: Together, kept: Kept, limits: Limits) -> dict[str, Solved]:
    """The tubes laid out on the bars that are bought for them: what these cost is settled."""
    limits = limits.part((1 - SEARCHED) / len(bought.posed))
    solved: dict[str, Solved] = {}
    for one in bought.posed:
        problem, counts, _ = bought.of(one.tube)
        count, length = kept[one.tube]
        packing, course = problem.solve(count, length, limits), None
        if packing.cost is None:
            course, _ = on_bars(one, length, counts, limits)
            if course is None:
                raise NoPlanInTimeError
        solved[one.tube] = problem, packing, course
    return solved


def _shortages(bought: Together, kept: Kept, limits: Limits) -> dict[str, Shortage]:
    """What is missing for the tubes that no purchase can serve."""
    return {
        one.tube: shortage_of(one, *kept[one.tube], limits)
        for at, one in enumerate(bought.posed)
        if not bought.short or at in bought.short
    }


def _shared_out(posed: Sequence[Problem], limits: Limits) -> Iterator[tuple[Problem, Limits]]:
    """The tubes, and how long the search for each may take: those with few lengths first, which seldom need all of
    their share, and each of what is then left in proportion to its lengths and bars."""
    if limits.seconds is None:
        yield from ((problem, limits) for problem in posed)
        return
    end = time.perf_counter() + limits.seconds
    sizes = [len(problem.pieces) * len(problem.stocks) for problem in posed]
    order = sorted(range(len(posed)), key=sizes.__getitem__)
    for done, at in enumerate(order):
        share = sizes[at] / max(sum(sizes[later] for later in order[done:]), 1)
        yield posed[at], replace(limits, seconds=max(end - time.perf_counter(), 0.0) * share)


def purchases(job: Job, tube: str, bars: Sequence[Bar]) -> tuple[Purchase, ...]:
    """The lines of the buy list for these bars, longest first."""
    counts = Counter((long, bar.price, bar.shop, parts) for bar, long, parts in bought_whole(bars))
    return tuple(
        Purchase(tube, length, count, price, None if price is None else price * count, shop, parts)
        for (length, price, shop, parts), count in sorted(
            counts.items(), key=lambda item: (-item[0][0], item[0][1] or Decimal(0), item[0][2], item[0][3])
        )
    )


def spares_of(blanks: Sequence[Blank], count: int, length: Fraction, lost: Collection[str] | None = None) -> Spares:
    """Whom ``count`` spares of ``length`` insure among one tube's blanks. ``lost``: where they are fitted one at a
    time, the marks that could not be replaced; all others are insured."""
    fitted = Fitted.AFTER_ALL if lost is None else Fitted.ONE_AT_A_TIME
    if lost is None:
        lost = {blank.mark for blank in blanks if not count or blank.length > length}
    return Spares(
        wanted=count,
        length=length if count else Fraction(0),
        insured=tuple(blank.mark for blank in blanks if blank.mark not in lost),
        not_insured=tuple(blank.mark for blank in blanks if blank.mark in lost),
        fitted=fitted,
    )


def _money(problem: Problem, packing: Packing) -> tuple[Decimal, Decimal, bool]:
    """Cost, bound and proof of a tube that is planned alone."""
    assert packing.cost is not None  # proven or found: there is a plan
    return problem.money(packing.cost), problem.money(packing.bound), packing.proven


def _bars_cost(bought: Together, problem: Problem, bars: Sequence[Bar]) -> tuple[Decimal, Decimal, bool]:
    """What a tube's bars cost, the least that they can cost alone, and whether that is the same."""
    cost = sum((bar.price or Decimal(0) for bar in bars), Decimal(0))
    _, _, floor = bought.of(problem.tube)
    return cost, min(floor, cost), floor >= cost


def _tube_plan(
    problem: Problem,
    money: tuple[Decimal, Decimal, bool],
    bars: tuple[Bar, ...],
    kept: tuple[int, Fraction],
    *,
    at_once: bool,
) -> TubePlan:
    mine = [blank for group in problem.blanks for blank in group]
    lost = {cut.mark for bar in bars for cut in bar.cuts if cut.if_spoilt is None} if at_once else None
    bars = bars if at_once else with_recoveries(bars, kept[0])
    return TubePlan(problem.tube, problem.priced, *money, bars, spares_of(mine, *kept, lost))


def _bars(problem: Problem, packing: Packing, namer: Namer, numbers: int) -> tuple[Bar, ...]:
    """The packed bars as bars of tube, cuts numbered from ``numbers`` + 1."""
    marks = [
        [blank for blank in sorted(sorted(group, key=risk, reverse=True), key=turn) for _ in range(blank.count)]
        for group in problem.blanks
    ]
    longest = [max((problem.pieces[i].length for i in bar.pieces), default=0) for bar in packing.bars]
    order = sorted(
        range(len(packing.bars)),
        key=lambda b: (-longest[b], not packing.bars[b].pieces, packing.bars[b].pieces, packing.bars[b].stock),
    )
    bars: list[Bar] = []
    filled = [(position, [marks[piece].pop(0) for piece in packing.bars[position].pieces]) for position in order]
    for position, blanks in sorted(filled, key=lambda bar: min((one.stage for one in bar[1]), default=math.inf)):
        packed = packing.bars[position]
        row = problem.rows[packed.stock]
        turned = list(zip(packed.flipped, packed.shared, strict=True)) or [(False, False)] * len(blanks)
        laid, flags = on_a_bar(blanks, turned)
        bars.append(
            lay_on(problem.job, row, laid, name=namer(row), first=numbers + 1, spares=packed.spares, turned=flags)
        )
        numbers += len(laid)
    untouched = _untouched(problem, packing)
    return tuple(bars + [lay_on(problem.job, row, [], name=namer(row), first=numbers + 1) for row in untouched])


def _course_bars(problem: Problem, course: Course, namer: Namer, numbers: int) -> tuple[Bar, ...]:
    """The bars of a course, cuts numbered from ``numbers`` + 1, each with its recovery."""
    blanks = [list(kind) for kind in course.blanks]
    sawn: list[list[tuple[int, Blank]]] = [[] for _ in course.stocks]
    for number, (at, kind) in enumerate(course.steps, numbers + 1):
        sawn[at].append((number, blanks[kind].pop(0)))
    bars = []
    for stock, cuts in zip(course.stocks, sawn, strict=True):
        row = problem.rows[stock]
        bar = lay_on(problem.job, row, [blank for _, blank in cuts], name=namer(row), first=1)
        numbered = (replace(cut, number=number) for cut, (number, _) in zip(bar.cuts, cuts, strict=True))
        bars.append(replace(bar, cuts=tuple(numbered)))
    return with_course_recoveries(course, bars)


def _untouched(problem: Problem, packing: Packing) -> list[StockRow]:
    """What is on the rack and is not needed, or is bought only for what the shop charges on an order: it may still
    replace a spoilt blank, so the plan names it."""
    left = {i: stock.count or 0 for i, stock in enumerate(problem.stocks) if stock.owned}
    for bar in packing.bars:
        if bar.stock in left:
            left[bar.stock] -= 1
    return [problem.rows[i] for i, count in left.items() for _ in range(count)]


def lay_on(
    job: Job,
    row: StockRow,
    blanks: Sequence[Blank],
    *,
    name: str,
    first: int,
    spares: int = 0,
    turned: Sequence[tuple[bool, bool]] = (),
) -> Bar:
    """One bar of stock ``row`` with ``blanks`` laid on it in this order; cuts numbered from ``first``.

    ``turned``: for each blank whether end b comes first, and whether its leading mitre shares the cut before it
    (empty: none does). What a tape finds left after a shared cut runs from the next blank's tip.
    """
    settings = job.settings
    trim = near_trim(row, settings)
    squared = row.length - trim if blanks else row.length
    cuts = []
    start = Fraction(0)
    for i, blank in enumerate(blanks):
        flipped, shared = turned[i] if turned else (False, False)
        end = start + blank.length
        after = end + settings.kerf
        if turned and i + 1 < len(blanks) and turned[i + 1][1]:
            facing = blank.end_a if flipped else blank.end_b
            after -= shared_saving(job.tube(blank.tube).od, facing.angle_deg, settings)
        left = max(squared - after, Fraction(0))
        cuts.append(SawCut(first + i, blank.mark, blank.length, start, end, left, None, shared, flipped))
        start = after
    return Bar(
        name=name,
        tube=row.tube,
        source=row.source,
        label=row.label,
        length=row.length,
        price=row.price if row.source is Source.BUY else None,
        shop=row.shop,
        bought=row.bought,
        end_trim=trim,
        cuts=tuple(cuts),
        spares=spares,
        offcut=cuts[-1].left if cuts else row.length,
        usable=max(usable(row, settings) - start, Fraction(0)),
    )
