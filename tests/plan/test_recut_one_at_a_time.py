"""Planning the rest of a job whose members are fitted one at a time."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest
from small_jobs import bars, blank, job
from test_recut import EXAMPLES, F, ticked, wanted

from cutplan.job.model import Fitted, Settings
from cutplan.plan import Plan, StockError, complaints, make_plan, prepare
from cutplan.plan.recut.rest import recut


def test_what_spare_is_left_is_the_most_that_costs_nothing() -> None:
    """1300 holds 600 and 300 and leaves 400, which serves no second 600. One at a time it survives a mistake in either
    all the same, and so it does once more when the plan is made again before the first cut."""
    setting = Settings(kerf=F(0), spares=1, fitted=Fitted.ONE_AT_A_TIME, salvage=F(50), keep=F(0))
    both = [blank("LONG", 600), blank("SHORT", 300)]
    plan = make_plan(job([bars(1300, "12"), bars(600, "7")], both, setting), both)
    again = recut(plan, ticked(plan)).plan
    assert again is not None
    assert (again.buy, again.tubes[0].spares) == ((), plan.tubes[0].spares)
    spoilt = recut(plan, ticked(plan, set(), {1})).plan
    assert spoilt is not None
    # 700 of the bar and 550 of the spoilt piece are left for 600 and 300: 250 of the piece and 100 of the bar over.
    assert (spoilt.buy, spoilt.tubes[0].spares.insured) == ((), ())


def test_the_course_goes_on_while_all_goes_by_it() -> None:
    """With nothing spoilt and no cut skipped, the same cuts follow in the same order with the same ways out, at every
    stage; a skipped cut or a bar put right makes a new order of them."""
    job_read = prepare(EXAMPLES / "sand-rail-bay")
    one = replace(job_read.job, settings=replace(job_read.job.settings, fitted=Fitted.ONE_AT_A_TIME))
    plan = make_plan(one, job_read.blanks)
    courses = [tube for tube in plan.tubes if tube.spares.fitted is Fitted.ONE_AT_A_TIME]
    (course,) = courses

    def shown(plan: Plan) -> list[tuple[str, str, object]]:
        tube = next(tube for tube in plan.tubes if tube.tube == course.tube)
        cuts = [(cut, bar.name) for bar in tube.bars for cut in bar.cuts]
        return [(cut.mark, name, cut.if_spoilt) for cut, name in sorted(cuts, key=lambda pair: pair[0].number)]

    numbers = sorted(cut.number for bar in course.bars for cut in bar.cuts)
    for done in range(len(numbers)):
        result = recut(plan, ticked(plan, set(numbers[:done])))
        assert result.plan is not None
        assert shown(result.plan) == shown(plan)[done:]
        assert complaints(result.plan) == ()
    skipped = recut(plan, ticked(plan, {numbers[1]})).plan
    assert skipped is not None
    assert complaints(skipped) == ()
    assert len(shown(skipped)) == len(numbers) - 1


@pytest.mark.parametrize("spares", [0, 1, 2, 3])
def test_the_spares_asked_for_are_kept_or_refused(spares: int) -> None:
    """However well all went so far: as many as are asked for, of the longest, or no plan at all."""
    job_read = prepare(EXAMPLES / "sand-rail-bay")
    one = replace(job_read.job, settings=replace(job_read.job.settings, fitted=Fitted.ONE_AT_A_TIME))
    plan = make_plan(one, job_read.blanks)
    assert any(tube.spares.fitted is Fitted.ONE_AT_A_TIME for tube in plan.tubes)
    result = recut(plan, ticked(plan, {1}), spares=spares)
    assert result.plan is not None
    assert complaints(result.plan) == ()
    left = [blank for blank in result.plan.blanks if blank.insured]
    for tube in result.plan.tubes:
        longest = max((blank.length for blank in left if blank.tube == tube.tube), default=F(0))
        assert tube.spares.wanted == (spares if longest else 0)
        assert not spares or tube.spares.length >= longest
    if spares == 3:
        bought = Counter((line.tube, line.length) for line in plan.buy for _ in range(line.count))
        sold_out = [
            replace(row, available=bought[row.tube, row.length]) if row.price else row for row in plan.job.stock
        ]
        nothing_for_sale = replace(plan, job=replace(plan.job, stock=tuple(sold_out)))
        with pytest.raises(StockError, match="no room is left"):
            recut(nothing_for_sale, ticked(plan, {1}), spares=spares)


def test_a_mistake_is_planned_again() -> None:
    """There the order of cuts carries the promise, so no old order is patched."""
    one = blank("A", 500, 4)
    setting = Settings(kerf=F(2), spares=1, fitted=Fitted.ONE_AT_A_TIME)
    plan = make_plan(job([bars(2000)], [one], setting), [one])
    result = recut(plan, ticked(plan, {1}, {2}))
    assert result.plan is not None
    assert complaints(result.plan) == ()
    assert wanted(result.plan) == Counter({"A": 4})
