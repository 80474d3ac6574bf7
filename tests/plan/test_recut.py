"""Planning the rest after cutting began: nothing lost, nothing cut twice, as little bought as can be."""

from __future__ import annotations

import math
import re
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small_jobs import bars, blank, job, least_cost, rack
from wording import Worded

from cutplan.geometry.model import BendMark, EndShape
from cutplan.job.faults import JobError
from cutplan.job.model import Cut, Fitted, Settings, Source, StockRow
from cutplan.plan import Plan, StockError, complaints, length_complaints, make_plan, prepare
from cutplan.plan.recut.rest import recut
from cutplan.plan.recut.ticks import BarNote, Tick

F = Fraction
EXAMPLES = Path(__file__).parents[2] / "examples"
TRIMMED = Settings(kerf=F(5, 2), end_trim=F(10), saw_hold=F(60), keep=F(0), spares=1)


def ticked(plan: Plan, done: set[int] = frozenset(), spoilt: set[int] = frozenset()) -> list[Tick]:
    """A whole list with these cuts ticked."""
    numbers = [cut.number for tube in plan.tubes for bar in tube.bars for cut in bar.cuts]
    numbers += [made.number for made in plan.made]
    return [Tick(number, number in done, number in spoilt) for number in numbers]


def wanted(plan: Plan) -> Counter[str]:
    """What is still to be cut by the plan's cuts themselves, and what was cut well before it."""
    cuts = Counter(cut.mark for tube in plan.tubes for bar in tube.bars for cut in bar.cuts)
    return cuts + Counter(made.blank.mark for made in plan.made)


def in_hand(plan: Plan) -> Counter[tuple[str, Fraction]]:
    """The plan's bars that need not be bought."""
    return Counter((bar.name, bar.length) for tube in plan.tubes for bar in tube.bars if bar.source is Source.RACK)


@settings(max_examples=25, deadline=None)
@given(st.randoms(use_true_random=False))
def test_a_walk_through_a_whole_job_loses_nothing_and_cuts_nothing_twice(rng: Random) -> None:
    """Random ticks, mistakes, struck-out and measured bars, planned again until all is cut: each millimetre of each
    bar is followed by hand, every member comes out once, and what is bought is the least there is."""
    kerf, trim = rng.choice([F(0), F(2), F(5, 2)]), rng.choice([F(0), F(1), F(10)])
    hold = rng.choice([F(0), F(60)])
    setting = Settings(kerf=kerf, end_trim=trim, saw_hold=hold, keep=F(0), spares=rng.randrange(3), salvage=F(50))
    setting = replace(setting, fitted=rng.choice(list(Fitted)))
    blanks = [
        blank(f"M{i}", rng.randrange(200, 1800) / F(2), rng.randrange(1, 4), insured=rng.random() < 0.8)
        for i in range(rng.randrange(1, 5))
    ]
    stock = [bars(2000), bars(1200), *(rack(rng.randrange(300, 1500), label=f"R{i}") for i in range(rng.randrange(3)))]
    whole = job(stock, blanks, setting)
    plan: Plan | None = make_plan(whole, blanks)
    want = Counter({one.mark: one.count for one in blanks})
    good: Counter[str] = Counter()
    mistakes = 6
    highest = 0
    while plan is not None:
        highest = max([highest, *(int(bar.name) for tube in plan.tubes for bar in tube.bars)])
        assert complaints(plan) == ()
        assert wanted(plan) == want
        assert Counter(made.blank.mark for made in plan.made) == good
        done: set[int] = set()
        spoilt: set[int] = set()
        notes = []
        expected: Counter[Fraction] = Counter()
        rests: Counter[Fraction] = Counter()
        for made in plan.made:
            if mistakes and rng.random() < 0.1:
                mistakes -= 1
                spoilt.add(made.number)
                good[made.blank.mark] -= 1
                rests[max(made.blank.length - 50, F(0))] += 1
        for bar in (bar for tube in plan.tubes for bar in tube.bars):
            length, cut_here = bar.length, False
            for cut in bar.cuts:
                luck = rng.random()
                if luck < 0.45:
                    done.add(cut.number)
                    good[cut.mark] += 1
                elif luck < 0.6 and mistakes:
                    mistakes -= 1
                    spoilt.add(cut.number)
                    rests[max(cut.blank - 50, F(0))] += 1
                else:
                    continue
                length -= cut.blank + kerf + (0 if cut_here else bar.end_trim)
                cut_here = True
            length = max(length, F(0))
            if mistakes and rng.random() < 0.05:
                mistakes -= 1
                notes.append(BarNote(bar.name, gone=True))
                length = F(0)
            elif mistakes and length > 20 and rng.random() < 0.1:
                mistakes -= 1
                length -= rng.randrange(1, 20)
                notes.append(BarNote(bar.name, measured=length))
            expected[length] += 1
        good = +good
        result = recut(plan, ticked(plan, done, spoilt), notes)
        assert all(account.balanced for account in result.accounts)
        pieces = expected + rests
        del pieces[F(0)]
        assert sum(account.in_hand for account in result.accounts) == sum(pieces.elements())
        if result.plan is None:
            assert good == want
            return
        assert Counter(length for _, length in in_hand(result.plan).elements()) == pieces
        if not (trim or hold):
            left = [one.length for one in result.plan.blanks for _ in range(one.count)]
            assert result.plan.cost == least_cost(result.plan.job.stock, left, kerf)
        # A number stays with its piece, or is never heard of again.
        tubes = {bar.name: bar.tube for tube in plan.tubes for bar in tube.bars}
        written = [int(found) for found in re.findall(r"is bar (\d+); write that on it", " ".join(result.changes))]
        for bar in (bar for tube in result.plan.tubes for bar in tube.bars):
            assert bar.tube == tubes[bar.name] if bar.name in tubes else int(bar.name) > highest
        assert len(written) == len(set(written))
        assert all(number > highest for number in written)
        highest = max([highest, *written])
        plan = result.plan


def test_the_example_goes_on_where_it_was_planned() -> None:
    """One spoilt stay: it comes from the tube that the plan kept for it, nothing is bought, nothing else moves."""
    prepared = prepare(EXAMPLES / "sand-rail-bay.xlsx")
    plan = make_plan(prepared.job, prepared.blanks)
    stay = next(cut for tube in plan.tubes for bar in tube.bars for cut in bar.cuts if cut.mark == "BS-R")
    result = recut(plan, ticked(plan, set(range(1, stay.number)), {stay.number}))
    assert result.plan is not None
    assert complaints(result.plan) == length_complaints(result.plan) == ()
    assert result.plan.buy == ()
    assert not [text for text in result.changes if "instead of" in text]
    assert stay.if_spoilt is not None
    again = [bar.name for tube in result.plan.tubes for bar in tube.bars for cut in bar.cuts if cut.mark == "BS-R"]
    assert again == [stay.if_spoilt.bar]
    assert "BS-R: now from bar " + again[0] + "." in result.changes


def test_a_bar_cut_into_yields_what_its_plan_promised() -> None:
    """End trims, saw hold and kerf: after each cut the rest of a bar holds exactly the blanks it held before."""
    one = blank("A", 700, 4)
    plan = make_plan(job([bars(3000, end_trim=10)], [one], TRIMMED), [one], kept={"T": (0, F(0))})
    (bar,) = plan.tubes[0].bars
    for made in range(1, 4):
        result = recut(plan, ticked(plan, set(range(1, made + 1))), spares=0)
        assert result.plan is not None
        (rest,) = result.plan.tubes[0].bars
        assert rest.length == bar.cuts[made - 1].left
        assert [cut.left for cut in rest.cuts] == [cut.left for cut in bar.cuts[made:]]
        assert (rest.end_trim, rest.usable) == (0, bar.usable)


def test_a_skipped_cut_leaves_no_gap() -> None:
    """The third blank cut and the first two not: the bar has lost one blank, and they are still to cut."""
    blanks = [blank("A", 900), blank("B", 500), blank("C", 300)]
    plan = make_plan(job([rack(2000)], blanks), blanks)
    assert [cut.mark for cut in plan.tubes[0].bars[0].cuts] == ["A", "B", "C"]
    result = recut(plan, ticked(plan, {3}))
    assert result.plan is not None
    (bar,) = result.plan.tubes[0].bars
    assert (bar.length, [cut.mark for cut in bar.cuts]) == (2000 - 302, ["A", "B"])


def test_a_spoilt_blank_yields_what_is_left_of_it() -> None:
    """As it was measured; else a straight blank less the salvage; of a bent one nothing."""
    bend = BendMark(1, 100, 100, 100, 50, 90.0, 32.0, 0.0)
    straight, bent = blank("A", 900), replace(blank("B", 800), bends=(bend,))
    plan = make_plan(job([rack(4000)], [straight, bent]), [straight, bent])
    for shown, lengths in ((None, {850}), (F(333), {333})):
        first, second = ticked(plan, spoilt={1, 2})
        result = recut(plan, [replace(first, left=shown), second])
        assert result.plan is not None
        rest = {bar.length for tube in result.plan.tubes for bar in tube.bars if bar.name != "1"}
        assert rest == lengths


def test_a_mitre_once_shared_is_squared_before_the_bar_serves_again(as_worded: Worded) -> None:
    """Of a bar left slanting only what is behind the slant counts: blank, kerf over the cosine, and no saving."""
    mitred = EndShape(Cut.MITRE, 40.0, angle_deg=45.0)
    one = blank("A", 1000, 3, ends=(mitred, mitred))
    setting = Settings(kerf=F(2), spares=0, share_mitres=True)
    plan = make_plan(job([rack(4000)], [one], setting), [one])
    assert [cut.shared for cut in plan.tubes[0].bars[0].cuts] == [False, True, True]
    result = recut(plan, ticked(plan, {1}))
    assert result.plan is not None
    (bar,) = result.plan.tubes[0].bars
    assert bar.length == 4000 - 1000 - F(math.ceil(10 * 2 * math.sqrt(2)), 10)
    assert [cut.shared for cut in bar.cuts] == [False, True]
    as_worded(*result.changes)
    assert complaints(result.plan) == ()


def test_bars_bought_cost_nothing_more_and_fewer_are_left_for_sale() -> None:
    """A spoilt blank that nothing serves is bought for, from the bars still to be had, and only the least."""
    one = blank("A", 900, 2)
    plan = make_plan(job([bars(1000, "9", 3), bars(3000, "30")], [one]), [one])
    assert plan.cost == 18
    result = recut(plan, ticked(plan, {1}, {2}))
    assert result.plan is not None
    assert [(line.length, line.count) for line in result.plan.buy] == [(1000, 1)]
    assert result.plan.cost == 9
    with pytest.raises(StockError):
        recut(make_plan(job([bars(1000, "9", 2)], [one]), [one]), ticked(plan, {1}, {2}))


def test_a_bar_got_since_serves_and_is_named(as_worded: Worded) -> None:
    """What was fetched in a hurry and is not for sale on any sheet."""
    one = blank("A", 900, 2)
    plan = make_plan(job([bars(1000, "9", 2)], [one]), [one])
    result = recut(plan, ticked(plan, {1}, {2}), got=[("T", F(1500))])
    assert result.plan is not None
    cut_from = [bar.name for bar in result.plan.tubes[0].bars if bar.cuts]
    assert cut_from == ["4"]
    assert result.plan.cost == 0
    as_worded(*result.changes)


def test_what_is_cut_already_stays_insured() -> None:
    """The long one is cut and may yet be spoilt in fitting: its spare is not cut up, and serves when it is."""
    blanks = [blank("LONG", 900), blank("A", 300), blank("B", 300)]
    setting = Settings(kerf=F(2), spares=1)
    plan = make_plan(job([rack(2600), rack(300), rack(290)], blanks, setting), blanks)
    first = recut(plan, ticked(plan, {1}))
    assert first.plan is not None
    assert first.plan.tubes[0].spares.length == 900
    (made,) = first.plan.made
    second = recut(first.plan, ticked(first.plan, spoilt={made.number}))
    assert second.plan is not None
    assert second.plan.buy == ()
    assert wanted(second.plan) == Counter(["LONG", "A", "B"])


def test_a_tube_that_is_done_keeps_its_offcuts() -> None:
    """Of two tubes one is cut: what is left of it stays in hand for a member spoilt in fitting."""
    blanks = [blank("A", 500, tube="T"), blank("B", 500, tube="U")]
    plan = make_plan(job([bars(2000, "9", tube="T"), bars(2000, "9", tube="U")], blanks), blanks)
    first = recut(plan, ticked(plan, {1}))
    assert first.plan is not None
    assert complaints(first.plan) == ()
    assert set(in_hand(first.plan)) == {("1", F(1498)), ("2", F(2000))}
    second = recut(first.plan, ticked(first.plan, {1}, {first.plan.made[0].number}))
    assert second.plan is not None
    assert [bar.name for tube in second.plan.tubes for bar in tube.bars if bar.cuts] == ["1"]


def test_when_all_is_cut_there_is_nothing_to_plan(as_worded: Worded) -> None:
    """The last tick ends the job, with every millimetre accounted for."""
    one = blank("A", 500, 2)
    plan = make_plan(job([bars(2000)], [one]), [one])
    result = recut(plan, ticked(plan, {1, 2}))
    assert result.plan is None
    assert re.findall(r"\d+", result.changes[-1]) == ["2000", "1000", "4", "996"]
    as_worded(*result.changes)


@pytest.mark.parametrize("fitted", list(Fitted))
def test_one_mistake_at_any_cut_buys_nothing(fitted: Fitted) -> None:
    """The promise of the saw list, kept by the next plan: at every cut that has a way out, spoilt when all before it
    are done, the rest is cut from what is in hand, and the plan of it holds."""
    mistakes = 0
    for seed in range(16):
        dice = Random(seed)
        kerf = F(dice.choice([0, 2, 5]))
        rules = Settings(kerf=kerf, spares=1, fitted=fitted, salvage=F(dice.choice([10, 50])), keep=F(0))
        blanks = [blank(f"P{i}", 10 * dice.randint(8, 60), dice.choice([1, 1, 2])) for i in range(dice.randint(2, 4))]
        top = int(max(one.length for one in blanks))
        stock = [bars(top + 10 * dice.randint(0, 60), str(dice.randint(8, 20))), bars(1300, "14"), rack(400)]
        plan = make_plan(job(stock, blanks, rules), blanks)
        cuts = sorted((cut for tube in plan.tubes for bar in tube.bars for cut in bar.cuts), key=lambda cut: cut.number)
        for cut in cuts:
            if cut.if_spoilt is None:
                continue
            result = recut(plan, ticked(plan, set(range(1, cut.number)), {cut.number}))
            assert result.plan is not None
            assert (result.plan.buy, complaints(result.plan)) == ((), ()), (seed, cut.number)
            assert wanted(result.plan) == Counter({one.mark: one.count for one in blanks})
            mistakes += 1
    assert mistakes > 40


def test_done_and_spoilt_later_is_spoilt_and_reported(as_worded: Worded) -> None:
    """The natural order of a mistake found later: both ticks stand, the later one counts, and it is reported."""
    one = blank("A", 500, 2)
    plan = make_plan(job([bars(2000)], [one], Settings(kerf=F(2))), [one])
    both = [replace(tick, done=True, spoilt=tick.cut == 1) for tick in ticked(plan)]
    result = recut(plan, both)
    assert result.plan is not None
    assert wanted(result.plan) == Counter({"A": 2})
    assert len(result.plan.made) == 1
    as_worded(*result.changes)


def test_a_number_is_never_given_twice() -> None:
    """A bar struck out and gone, of one tube, does not lend its number to a bar of another bought after it."""
    blanks = [blank("A", 500, 3, tube="T"), blank("B", 500, 3, tube="U")]
    small = job([bars(2000, tube="T"), bars(2000, tube="U"), rack(700, tube="U")], blanks, Settings(kerf=F(2)))
    plan: Plan | None = make_plan(small, blanks)
    seen: dict[str, str] = {}
    for _ in range(4):
        assert plan is not None
        names = {bar.name: bar.tube for tube in plan.tubes for bar in tube.bars}
        gone = max(names, key=int)
        seen |= names
        known = set(names) - {gone}
        result = recut(plan, ticked(plan), [BarNote(gone, gone=True)], got=[("T", F(2000))])
        plan = result.plan
        assert plan is not None
        after = {bar.name: bar.tube for tube in plan.tubes for bar in tube.bars}
        assert all(seen.get(name, tube) == tube for name, tube in after.items())
        assert not set(after) & (set(seen) - known)


@pytest.mark.parametrize(
    ("changed", "notes", "says"),
    [
        ({0: {"left": F(10)}}, [], "cut 1 has a length under still good but is not ticked spoilt"),
        ({0: {"spoilt": True, "left": F(501)}}, [], '"501 mm": still good for cut 1 is more than its blank, 500 mm'),
        ({0: {"cut": 9}}, [], '"9": is not a cut on this list'),
        ({0: {"cut": 9}}, [], "cut 1 is missing"),
        ({0: {"cut": 2}}, [], '"2": the cut is on the list twice'),
        ({}, [BarNote("7", gone=True)], '"7": is not a bar on this list'),
        ({}, [BarNote("1", gone=True), BarNote("1")], '"1": the bar is on the list twice'),
        ({}, [BarNote("1", True, F(10))], "bar 1 is both struck out and measured"),
    ],
)
def test_ticks_that_cannot_be_are_refused(changed: dict, notes: list[BarNote], says: str) -> None:
    """Nothing is planned on a contradiction; each is reported."""
    one = blank("A", 500, 2)
    plan = make_plan(job([bars(2000)], [one]), [one])
    ticks = ticked(plan)
    for at, fields in changed.items():
        ticks[at] = replace(ticks[at], **fields)
    with pytest.raises(JobError) as caught:
        recut(plan, ticks, notes)
    assert says in str(caught.value)


def test_a_bar_got_since_must_be_of_the_job(as_worded: Worded) -> None:
    """A misspelt tube and a bar of no length are reported, not ignored."""
    one = blank("A", 500)
    plan = make_plan(job([bars(2000)], [one]), [one])
    with pytest.raises(JobError) as caught:
        recut(plan, ticked(plan, {1}), got=[("X", F(0))])
    as_worded(caught.value)


def test_a_sawn_end_loses_no_trim() -> None:
    """A piece sawn at one end yields one end trim more than one with two mill ends, and begins at its end."""
    one = blank("A", 960)
    piece = StockRow("T", F(1000), None, 1, Source.RACK, "S", F(20), sawn=True)
    setting = Settings(kerf=F(2), saw_hold=F(20), spares=0)
    plan = make_plan(job([piece], [one], setting), [one])
    assert complaints(plan) == ()
    assert plan.tubes[0].bars[0].cuts[0].left == 1000 - 962
    with pytest.raises(StockError):
        make_plan(job([replace(piece, sawn=False)], [one], setting), [one])
