"""Built in stages: no cut before its stage, at the cost of any order after all cuts, and at the least that any order
within the stages allows one at a time, by brute force; and the check of all this."""

from __future__ import annotations

import itertools
import random
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import pytest
from small_jobs import bars, blank, job, rack
from test_one_at_a_time import least, small
from wording import Worded

from cutplan.geometry import lay_out
from cutplan.geometry.model import Blank, EndShape
from cutplan.job.model import Cut, End, Fitted, Job, Member, Onto, Saddle, Settings, StockRow, Tube
from cutplan.plan import StockError, complaints, make_plan
from cutplan.plan.model import Bar, Plan
from cutplan.plan.recut.rest import recut
from cutplan.plan.recut.ticks import Tick

F = Fraction


def in_order(plan: Plan) -> list[int]:
    """The stages of the cuts in the order of sawing."""
    stages = {one.mark: one.stage for one in plan.blanks}
    cuts = sorted((cut.number, cut.mark) for tube in plan.tubes for bar in tube.bars for cut in bar.cuts)
    return [stages[mark] for _, mark in cuts]


def staged(blanks: Sequence[Blank], dice: random.Random) -> list[Blank]:
    return [replace(one, stage=dice.randint(1, 3)) for one in blanks]


def test_one_at_a_time_costs_the_least_that_any_order_within_the_stages_does() -> None:
    """36 seeded jobs against brute force, proven every time; in some the stages cost a bar that any order saves."""
    seen: Counter[str] = Counter()
    for seed in range(36):
        stock, plain, settings = small(seed)
        blanks = staged(plain, random.Random(f"stages {seed}"))
        if not any(one.insured for one in blanks):
            continue
        want = least(stock, blanks, settings)
        try:
            plan = make_plan(job(stock, blanks, settings), blanks)
        except StockError:
            assert want is None, seed
            seen["cannot"] += 1
            continue
        assert (plan.cost, plan.bound, plan.proven) == (want, want, True), seed
        assert complaints(plan) == (), seed
        assert in_order(plan) == sorted(in_order(plan)), seed
        free = make_plan(job(stock, plain, settings), plain)
        seen["dearer" if plan.cost > free.cost else plan.tubes[0].spares.fitted.value] += 1
        if in_order(moved := replace(free, blanks=tuple(blanks), job=plan.job)) != sorted(in_order(moved)):
            assert any("comes before it" in text for text in complaints(moved)), seed
    assert min(seen["dearer"], seen["cannot"]) >= 1, seen
    assert min(seen[Fitted.ONE_AT_A_TIME.value], seen[Fitted.AFTER_ALL.value]) > 3, seen


def two_tubes(seed: int) -> tuple[list[StockRow], list[Blank], Settings]:
    """A job of two tubes whose blanks are of three stages, some with mitres that may share cuts."""
    dice = random.Random(f"two tubes {seed}")
    mitre = EndShape(Cut.MITRE, 40.0, 45.0)
    blanks = []
    for number in range(dice.randint(4, 9)):
        ends = (mitre, mitre) if dice.random() < 0.5 else (EndShape(Cut.SQUARE, 40.0),) * 2
        tube = dice.choice("TU")
        blanks.append(blank(f"P{number}", 5 * dice.randint(30, 300), dice.choice([1, 1, 2, 3]), tube=tube, ends=ends))
    blanks = staged(blanks, dice)
    stock = [bars(3000, "20", tube=tube) for tube in "TU"] + [bars(1800, "13", tube=tube) for tube in "TU"]
    stock.append(rack(1600, 1, "R", tube="T"))
    settings = Settings(kerf=F(2), spares=dice.choice([0, 1, 1, 2]), share_mitres=dice.random() < 0.6)
    return stock, blanks, settings


def test_after_all_cuts_the_order_costs_nothing_and_no_cut_comes_before_its_stage() -> None:
    """8 seeded jobs of two tubes: the cost is that of the job without stages (sharing mitres apart), bars are gone
    back to, and what the tape shows of a bar after each cut adds up in the order of sawing."""
    back = 0
    for seed in range(8):
        stock, blanks, settings = two_tubes(seed)
        plan = make_plan(job(stock, blanks, settings), blanks)
        assert complaints(plan) == (), seed
        stages = in_order(plan)
        assert stages == sorted(stages), seed
        if not settings.share_mitres:
            plain = [replace(one, stage=0) for one in blanks]
            assert plan.cost == make_plan(job(stock, plain, settings), plain).cost, seed
            left = {bar.name: bar.length for tube in plan.tubes for bar in tube.bars}
            order = sorted(
                ((cut, bar) for tube in plan.tubes for bar in tube.bars for cut in bar.cuts),
                key=lambda pair: pair[0].number,
            )
            for cut, bar in order:
                left[bar.name] = max(left[bar.name] - cut.blank - settings.kerf, F(0))
                assert cut.left == left[bar.name], (seed, cut)
        names = [
            bar.name for _, bar in itertools.groupby(_bars_sawn(plan), key=lambda bar: bar.name) for bar in [*bar][:1]
        ]
        back += len(names) > len(set(names))
    assert back > 2, back


def _bars_sawn(plan: Plan) -> list[Bar]:
    pairs = [(cut.number, bar) for tube in plan.tubes for bar in tube.bars for cut in bar.cuts]
    return [bar for _, bar in sorted(pairs, key=lambda pair: pair[0])]


def rest_of(seed: int) -> tuple[Plan | None, bool]:
    """The plan of the rest of a seeded job of two tubes, cut in order up to somewhere with up to two mistakes; and
    whether there were any."""
    stock, blanks, settings = two_tubes(seed)
    dice = random.Random(f"rest {seed}")
    if dice.random() < 0.4:
        settings = replace(settings, fitted=Fitted.ONE_AT_A_TIME, spares=1)
    plan = make_plan(job(stock, blanks, settings), blanks)
    count = len(in_order(plan))
    upto = dice.randint(1, count)
    spoilt = {dice.randint(1, upto) for _ in range(dice.choice([0, 1, 2]))}
    ticks = [Tick(n, n <= upto and n not in spoilt, n in spoilt) for n in range(1, count + 1)]
    return recut(plan, ticks).plan, bool(spoilt)


def test_the_rest_after_cuts_and_mistakes_keeps_the_stages() -> None:
    """12 seeded jobs, cut in order up to somewhere with a mistake or two, planned again: what is left follows the
    stages, a spoilt early blank first, and the new plan holds."""
    again = 0
    for seed in range(12):
        after, spoilt = rest_of(seed)
        if after is None:
            continue
        assert complaints(after) == (), seed
        assert in_order(after) == sorted(in_order(after)), seed
        again += spoilt
    assert again > 3, again


def swapped(plan: Plan, one: int, other: int) -> Plan:
    """The plan with the numbers of two cuts exchanged."""
    number = {one: other, other: one}
    return replace(
        plan,
        tubes=tuple(
            replace(
                tube,
                bars=tuple(
                    replace(
                        bar, cuts=tuple(replace(cut, number=number.get(cut.number, cut.number)) for cut in bar.cuts)
                    )
                    for bar in tube.bars
                ),
            )
            for tube in plan.tubes
        ),
    )


@pytest.fixture
def hoop_and_stay() -> Plan:
    wanted = [
        replace(blank("STAY", 900), stage=2),
        replace(blank("HOOP", 800), stage=1),
        replace(blank("TAB", 90), stage=2),
    ]
    return make_plan(job([bars(1000, "9")], wanted), wanted)


def test_an_altered_order_or_stage_fails_the_check(hoop_and_stay: Plan, as_worded: Worded) -> None:
    """A cut moved before its stage, a blank of another stage, and a job whose rows say otherwise are each found."""
    assert complaints(hoop_and_stay) == ()
    early = swapped(hoop_and_stay, 1, 2)
    as_worded(*complaints(early))
    first = hoop_and_stay.blanks[1]
    blanks = (hoop_and_stay.blanks[0], replace(first, stage=3), *hoop_and_stay.blanks[2:])
    as_worded(*complaints(replace(hoop_and_stay, blanks=blanks)))
    members = tuple(replace(one, stage=5 if one.mark == "HOOP" else one.stage) for one in hoop_and_stay.job.members)
    assert complaints(replace(hoop_and_stay, job=replace(hoop_and_stay.job, members=members)))
    plain = tuple(replace(one, stage=0) for one in hoop_and_stay.blanks)
    assert complaints(replace(hoop_and_stay, blanks=plain))


@pytest.mark.parametrize("fitted", list(Fitted))
def test_within_a_stage_a_tube_comes_before_what_lands_on_it(fitted: Fitted) -> None:
    """All of one stage, as its rows say: the stay is longer and would come first on its bar, and the brace, an estimate
    on the stay, comes last of all, after the tab on the other bar."""
    onto = {mark: End(Cut.COPE, saddles=(Saddle(Onto(F(40), mark, mark)),)) for mark in ("HOOP", "STAY")}
    members = [
        Member("STAY", "T", length=F(900), stage=1, end_a=onto["HOOP"]),
        Member("BRACE", "T", length=F(500), tolerance=F(30), stage=1, end_a=onto["STAY"]),
        Member("HOOP", "T", length=F(700), stage=1),
        Member("TAB", "S", length=F(200), stage=1),
    ]
    tubes = tuple(Tube(name, F(40), F(2)) for name in "TS")
    made = Job(Settings(fitted=fitted), tubes, (bars(3300, "20"), bars(3000, "9", tube="S")), tuple(members))
    plan = make_plan(made, lay_out(made).blanks)
    assert complaints(plan) == ()
    order = sorted((cut.number, cut.mark) for tube in plan.tubes for bar in tube.bars for cut in bar.cuts)
    assert [mark for _, mark in order if mark != "TAB"] == ["HOOP", "STAY", "BRACE"]
    assert order[-1][1] == "BRACE"


def test_blanks_that_share_a_mitre_stay_together_within_a_stage() -> None:
    """One of the two lands on a tube of another bar: the pair waits for that, and still shares its cut."""
    mitre, cope = End(Cut.MITRE, 45.0), End(Cut.COPE, saddles=(Saddle(Onto(F(40), "POST", "POST")),))
    members = [
        Member("RAIL", "T", length=F(900), stage=1, end_a=mitre),
        Member("STAY", "T", length=F(900), stage=1, end_a=cope, end_b=mitre),
        Member("POST", "S", length=F(700), stage=1),
    ]
    tubes = tuple(Tube(name, F(40), F(2)) for name in "TS")
    rules = Settings(share_mitres=True, spares=0)
    made = Job(rules, tubes, (bars(2000, "20"), bars(3000, "9", tube="S")), tuple(members))
    plan = make_plan(made, lay_out(made).blanks)
    assert complaints(plan) == ()
    cuts = sorted((cut.number, cut.mark, cut.shared) for tube in plan.tubes for bar in tube.bars for cut in bar.cuts)
    assert cuts[0][1] == "POST"
    assert cuts[2][2]
