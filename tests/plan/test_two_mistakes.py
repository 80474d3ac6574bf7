"""Several spares after all cuts: mistakes are shown not to fight over one offcut."""

from __future__ import annotations

import itertools
import random
from dataclasses import replace
from fractions import Fraction

from small_jobs import bars, blank, job, rack

from cutplan.job.model import Settings
from cutplan.plan import complaints, make_plan
from cutplan.plan.model import Plan, SawCut

F = Fraction


def served(mistakes: tuple[SawCut, ...], left: dict[str, Fraction], kerf: Fraction) -> bool:
    """Whether each mistake in turn finds room on the bar it names, or on the next that it names."""
    left = dict(left)
    for cut in mistakes:
        assert cut.if_spoilt is not None
        for bar in (cut.if_spoilt.bar, *cut.if_spoilt.following):
            if left[bar] >= cut.blank:
                left[bar] -= cut.blank + kerf
                break
        else:
            return False
    return True


def cuts_of(plan: Plan) -> list[SawCut]:
    """Every cut that the spares insure."""
    return [
        cut for tube in plan.tubes for bar in tube.bars for cut in bar.cuts if cut.mark in plan.tubes[0].spares.insured
    ]


def test_any_two_or_three_mistakes_find_their_tube() -> None:
    """80 seeded jobs, every choice of as many mistakes as spares, the same cut again too: followed by the letter, the
    list never sends two mistakes to tube that only serves one."""
    elsewhere = 0
    for seed in range(80):
        dice = random.Random(seed)
        wanted = [blank(f"P{i}", 10 * dice.randint(8, 60), dice.choice([1, 2])) for i in range(dice.randint(2, 4))]
        stock = [bars(10 * dice.randint(60, 140), "10"), rack(10 * dice.randint(10, 70), dice.choice([1, 2, 3]))]
        settings = Settings(kerf=F(dice.choice([0, 3])), spares=dice.choice([2, 3]))
        plan = make_plan(job(stock, wanted, settings), wanted)
        assert complaints(plan) == (), seed
        left = {bar.name: bar.usable for tube in plan.tubes for bar in tube.bars}
        for mistakes in itertools.product(cuts_of(plan), repeat=settings.spares):
            assert served(mistakes, left, settings.kerf), (seed, [cut.number for cut in mistakes])
            bare = tuple(replace(cut, if_spoilt=replace(cut.if_spoilt, following=())) for cut in mistakes)  # type: ignore[type-var]
            elsewhere += not served(bare, left, settings.kerf)
    assert elsewhere > 100


def test_the_second_offcut_is_named_in_words() -> None:
    """Two bars of 1000 hold 600 each and leave 400; two more are kept whole for two mistakes in a 600: cut again from
    the first, and from the second if the first is used."""
    wanted = [blank("A", 600, 2)]
    plan = make_plan(job([bars(1000, "10")], wanted, Settings(kerf=F(0), spares=2)), wanted)
    first = cuts_of(plan)[0].if_spoilt
    assert first is not None
    assert (first.bar, first.following) == ("3", ("4",))
    assert first.how == "from bar 3, kept whole; if too little is left there by then, from bar 4"


def test_the_check_finds_two_mistakes_that_fight() -> None:
    """Without the second bar the two mistakes both go to one bar that serves one: the check says so."""
    wanted = [blank("A", 600, 2)]
    plan = make_plan(job([bars(1000, "10")], wanted, Settings(kerf=F(0), spares=2)), wanted)
    tube = plan.tubes[0]
    altered = tuple(
        replace(
            bar,
            cuts=tuple(replace(cut, if_spoilt=replace(cut.if_spoilt, following=())) for cut in bar.cuts),  # type: ignore[type-var]
        )
        for bar in tube.bars
    )
    said = complaints(replace(plan, tubes=(replace(tube, bars=altered),)))
    assert any("if both are spoilt, they need the same offcut" in one for one in said)
