"""Fitted, the third tick: what is tacked in needs no spare any more, and stays whatever its job says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import pytest
from small_jobs import bars, blank, job, rack
from wording import Worded

from cutplan.geometry.model import Blank
from cutplan.job.model import Fitted, Settings, Source, StockRow
from cutplan.plan import Plan, Prepared, complaints, make_plan
from cutplan.plan.rack import left_over
from cutplan.plan.recut.rest import Recut, recut
from cutplan.plan.recut.ticks import Tick
from cutplan.plan.tables import Tables

F = Fraction
SETTINGS = Settings(kerf=F(2), spares=1, keep=F(300))


def ticks(plan: Plan, **marks: str) -> list[Tick]:
    """A whole list with every cut of these marks ticked so."""
    cuts = [(cut.number, cut.mark) for tube in plan.tubes for bar in tube.bars for cut in bar.cuts]
    cuts += [(made.number, made.blank.mark) for made in plan.made]
    return [
        Tick(number, marks.get(mark) == "done", marks.get(mark) == "spoilt", fitted=marks.get(mark) == "fitted")
        for number, mark in cuts
    ]


def gone_on(plan: Plan, now: Prepared | None = None, **marks: str) -> tuple[Recut, Plan]:
    """The rest, which must hold, and lose nothing."""
    result = recut(plan, ticks(plan, **marks), now=now)
    assert all(account.balanced for account in result.accounts)
    assert result.plan is not None
    assert complaints(result.plan) == ()
    return result, result.plan


def made_of(stock: Sequence[StockRow], blanks: Sequence[Blank], settings: Settings = SETTINGS) -> Plan:
    """The plan of a small job."""
    return make_plan(job(stock, blanks, settings), blanks)


@pytest.mark.parametrize("tick", ["done", "fitted"])
def test_what_is_fitted_needs_no_spare(tick: str) -> None:
    """A long piece cut is owed a spare as long as itself; once it is fitted only the short ones are."""
    plan = made_of([bars(2500)], [blank("LONG", 2000), blank("SHORT", 400, 2)])
    assert [tube.spares.length for tube in plan.tubes] == [2000]
    _, after = gone_on(plan, LONG=tick)
    assert [tube.spares.length for tube in after.tubes] == [2000 if tick == "done" else 400]


def test_fitted_is_cut(as_worded: Worded) -> None:
    """Who ticks fitted need not tick done."""
    plan = made_of([bars(2500)], [blank("LONG", 2000), blank("SHORT", 400, 2)])
    result, after = gone_on(plan, LONG="fitted")
    as_worded(*result.changes)
    assert [(made.blank.mark, made.fitted) for made in after.made] == [("LONG", True)]


def test_a_whole_bar_kept_for_what_is_fitted_is_no_longer_needed() -> None:
    """The second bar was kept for LONG alone; it is said once, when LONG is fitted."""
    plan = made_of([bars(2500)], [blank("LONG", 2000), blank("SHORT", 100, 2)])
    spare = next(bar.name for tube in plan.tubes for bar in tube.bars if not bar.cuts)
    says = f"Bar {spare}, 2500 mm of T, is whole and no longer needed: it can go back to where it was bought."
    result, after = gone_on(plan, LONG="done")
    assert says not in result.changes
    result, after = gone_on(after, LONG="fitted")
    assert says in result.changes
    result, _ = gone_on(after)
    assert says not in result.changes


def test_reported_too_when_all_is_cut(as_worded: Worded) -> None:
    """Everything cut and fitted: the whole bar may go back to the shop."""
    plan = made_of([bars(2500)], [blank("LONG", 2000)])
    result = recut(plan, ticks(plan, LONG="done"))
    assert (result.plan, result.to_fit) == (None, 1)
    as_worded(*result.changes)
    result = recut(plan, ticks(plan, LONG="fitted"))
    assert (result.plan, result.to_fit) == (None, 0)
    as_worded(*result.changes)


def test_a_tube_all_cut_keeps_its_spare_until_it_is_fitted(as_worded: Worded) -> None:
    """Another tube is still to be cut: the bar kept for the pieces of the first one is a spare on every list."""
    blanks = [blank("LONG", 2000), blank("OTHER", 500, tube="S")]
    plan = made_of([bars(2500), bars(1200, tube="S")], blanks)
    _, after = gone_on(plan, LONG="done")
    (tube,) = [tube for tube in after.tubes if tube.tube == "T"]
    assert (tube.spares.wanted, tube.spares.length) == (1, 2000)
    assert sum(bar.spares for bar in tube.bars) == 1
    result, after = gone_on(after, LONG="fitted")
    (tube,) = [tube for tube in after.tubes if tube.tube == "T"]
    assert tube.spares.wanted == 0
    as_worded(*result.changes)


def test_a_fitted_one_can_be_spoilt_yet(as_worded: Worded) -> None:
    """Cut out of the frame again: it is planned again, and what is good of it is in hand."""
    plan = made_of([bars(2500)], [blank("LONG", 2000), blank("SHORT", 400, 2)])
    _, after = gone_on(plan, LONG="fitted")
    result, last = gone_on(after, LONG="spoilt")
    as_worded(*result.changes)
    assert [cut.mark for tube in last.tubes for bar in tube.bars for cut in bar.cuts].count("LONG") == 1


def test_until_it_is_fitted_a_piece_is_on_the_sheets_for_making_it() -> None:
    """To be marked, shaped and bent: what is to be cut, and what is cut and not fitted, each mark once."""
    plan = made_of([bars(6000)], [blank("A", 500, 2), blank("B", 400), blank("C", 300)])
    _, after = gone_on(plan, B="done", A="done")
    assert [one.mark for one in after.to_make] == ["C", "A", "B"]
    _, after = gone_on(after, A="fitted")
    assert [one.mark for one in after.to_make] == ["C", "B"]


@pytest.mark.parametrize("to", [470, 530])
@pytest.mark.parametrize("earlier", [False, True])
def test_fitted_and_measured_again(to: int, earlier: bool, as_worded: Worded) -> None:
    """What is in the frame stays as it is; spoilt later, it counts by its own length."""
    blanks = [blank("A", 500), blank("B", 400)]
    plan = made_of([bars(3000)], blanks)
    if earlier:
        _, plan = gone_on(plan, A="fitted")
    changed = [blank("A", to), blank("B", 400)]
    now = Prepared(job([bars(3000)], changed, SETTINGS), tuple(changed), ())
    result, after = gone_on(plan, now, A="fitted") if not earlier else gone_on(plan, now)
    as_worded(*result.changes)
    assert [(made.blank.length, made.sawn) for made in after.made] == [(to, 500)]
    (listed,) = Tables(after).made
    assert (listed.blank, listed.see) == (500, f"fitted as it was cut; the job now gives {to}.0")
    result, _ = gone_on(after, A="spoilt")
    as_worded(*result.changes)


@pytest.mark.parametrize("tick", ["done", "fitted"])
def test_fitted_and_dropped(tick: str, as_worded: Worded) -> None:
    """What is sawn is a piece in hand; what is fitted has to come out first, and is not counted on."""
    blanks = [blank("A", 500), blank("B", 400)]
    now = Prepared(job([bars(3000)], blanks[1:], SETTINGS), tuple(blanks[1:]), ())
    result, after = gone_on(made_of([bars(3000)], blanks), now, A=tick)
    in_hand = [bar.length for tube in after.tubes for bar in tube.bars if bar.source is Source.RACK]
    assert (500 in in_hand) == (tick == "done")
    as_worded(*result.changes)


def test_one_at_a_time_a_cut_piece_is_owed_nothing() -> None:
    """Each is fitted before the next is cut: ticking so changes nothing."""
    setting = replace(SETTINGS, fitted=Fitted.ONE_AT_A_TIME)
    plan = made_of([bars(2500)], [blank("LONG", 2000), blank("SHORT", 400, 2)], setting)
    first = min((cut for tube in plan.tubes for bar in tube.bars for cut in bar.cuts), key=lambda cut: cut.number)
    one, other = (gone_on(plan, **{first.mark: tick})[1] for tick in ("done", "fitted"))
    assert one.tubes == other.tubes


def test_a_job_broken_off_leaves_what_really_remains() -> None:
    """Two cuts made, one of them spoilt, the rest never: bars cut into, bars whole, and what is good of the spoilt."""
    stock = [rack(1500, label="R1"), bars(2000)]
    plan = made_of(stock, [blank("A", 1400), blank("B", 900, 2), blank("C", 600)], replace(SETTINGS, spares=0))
    plan = replace(plan, drawn=(stock[0],))
    marked = ticks(plan, A="done", C="spoilt")
    lengths = {bar.name: bar.length for tube in plan.tubes for bar in tube.bars}
    cut_from = {cut.mark: bar.name for tube in plan.tubes for bar in tube.bars for cut in bar.cuts}
    lengths[cut_from["A"]] -= 1400 + 2
    lengths[cut_from["C"]] -= 600 + 2
    left = left_over(plan, marked, broken_off=True)
    assert sorted(row.length for row in left.back) == sorted([*(one for one in lengths.values() if one >= 300), F(550)])
    assert [row.label for row in left.used] == ["R1"]


def test_broken_off_before_the_first_cut() -> None:
    """Nothing is ticked, and so nothing was cut: the rack keeps its piece, and what was bought is racked whole."""
    stock = [rack(1500, label="R1"), bars(2000)]
    plan = made_of(stock, [blank("A", 1400), blank("B", 900)], replace(SETTINGS, spares=0))
    plan = replace(plan, drawn=(stock[0],))
    left = left_over(plan, ticks(plan), broken_off=True)
    assert left.used == ()
    assert [row.length for row in left.back] == [2000]
