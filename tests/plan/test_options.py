"""Buying options: hand-computed ladders, every option of small jobs held against brute force, the words."""

from __future__ import annotations

import itertools
import random
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from small_jobs import bars, blank, job, least_cost, rack
from wording import Worded

from cutplan.geometry.model import Blank
from cutplan.job.model import Job, Settings, StockRow
from cutplan.nesting import Packing, Status
from cutplan.plan import Limits, NoPlanInTimeError, StockError, complaints, make_plan
from cutplan.plan.model import BudgetError, Option, Plan
from cutplan.plan.options import buying_options, in_words, within_budget

F = Fraction
NO_KERF = Settings(kerf=F(0), spares=0)


def test_every_step_of_a_hand_computed_ladder() -> None:
    """One 1000 bar holds 600 and 300 and leaves 100: nothing is insured. A spare of 300, or of 600, needs a second
    bar, and leaves it whole; two of 600 need a third."""
    wanted = [blank("LONG", 600), blank("SHORT", 300)]
    options = buying_options(job([bars(1000, "10")], wanted, NO_KERF), wanted)
    assert [(o.spares, o.cost, o.insured, o.leftover) for o in options] == [
        (0, Decimal(10), (), F(100)),
        (1, Decimal(20), ("LONG", "SHORT"), F(1000)),
        (2, Decimal(30), ("LONG", "SHORT"), F(1000)),
    ]
    assert [o.kept for o in options] == [(("T", 0, F(0)),), (("T", 1, F(600)),), (("T", 2, F(600)),)]
    assert all(o.proven and o.bound == o.cost for o in options)


def test_partial_cover_is_an_option_of_its_own(as_worded: Worded) -> None:
    """A 600 bar at 7 holds 500 + 100 and leaves nothing; a 1000 bar at 10 leaves 400, the 100 twice over; two of 600
    hold 500 and 100 + 500; a 1000 and a 600 hold 500 + 500 and 100 + 500."""
    wanted = [blank("LONG", 500), blank("SHORT", 100)]
    options = buying_options(job([bars(1000, "10"), bars(600, "7")], wanted, NO_KERF), wanted)
    assert [(o.spares, o.cost, o.not_insured) for o in options] == [
        (0, Decimal(7), ("LONG", "SHORT")),
        (2, Decimal(10), ("LONG",)),
        (1, Decimal(14), ()),
        (2, Decimal(17), ()),
    ]
    as_worded(options[1].covers, options[2].covers)
    assert [(line.length, line.count) for line in options[2].buy] == [(F(600), 2)]
    assert [(line.length, line.count) for line in options[3].buy] == [(F(1000), 1), (F(600), 1)]


def test_tubes_add_up(as_worded: Worded) -> None:
    """Tube A's offcut serves its member twice, tube B needs a second bar for each spare: the step from one to two
    spares then covers more of B alone, and no option is beaten by another."""
    wanted = [blank("A1", 300, tube="A"), blank("B1", 600, tube="B")]
    options = buying_options(job([bars(1000, "5", tube="A"), bars(1000, "8", tube="B")], wanted, NO_KERF), wanted)
    assert [(o.spares, o.cost, o.insured) for o in options] == [
        (2, Decimal(13), ("A1",)),
        (1, Decimal(21), ("A1", "B1")),
        (2, Decimal(29), ("A1", "B1")),
    ]
    assert options[1].kept == (("A", 2, F(300)), ("B", 1, F(600)))
    as_worded(options[1].covers)


def test_uninsured_members_buy_nothing(as_worded: Worded) -> None:
    """The hoop is not to be insured, so no option pays for it; it is named as not insured."""
    wanted = [blank("HOOP", 900, insured=False), blank("STAY", 400, 2)]
    options = buying_options(job([bars(1000, "10")], wanted, NO_KERF), wanted, most=1)
    assert [(o.cost, o.insured, o.not_insured) for o in options] == [
        (Decimal(20), (), ("HOOP", "STAY")),
        (Decimal(30), ("STAY",), ("HOOP",)),
    ]
    as_worded(options[-1].covers)


def test_goes_as_far_as_the_job_asks() -> None:
    """A job that asks for three spares is shown three, whatever ``most`` says."""
    wanted = [blank("A", 600)]
    settings = Settings(kerf=F(0), spares=3)
    options = buying_options(job([bars(1000, "10")], wanted, settings), wanted, most=1)
    assert [(o.spares, o.cost) for o in options] == [(n, Decimal(10 * (n + 1))) for n in range(4)]


def test_what_the_stock_cannot_serve_is_left_out() -> None:
    """Two bars are to be had: one for the member, one for one spare, none for a second."""
    wanted = [blank("A", 600)]
    options = buying_options(job([bars(1000, "10", 2)], wanted, NO_KERF), wanted)
    assert [(o.spares, o.cost) for o in options] == [(0, Decimal(10)), (1, Decimal(20))]


def test_stock_that_cannot_serve_at_all() -> None:
    """Without even the members' tube the same error comes as from a plan, with the tube named."""
    wanted = [blank("A", 600, 2), blank("B", 500, tube="U")]
    broken = job([bars(1000, "10", 1), bars(400, "3", tube="U")], wanted, NO_KERF)
    with pytest.raises(StockError) as caught:
        buying_options(broken, wanted)
    assert [short.tube for short in caught.value.shortages] == ["T", "U"]


def test_budget_and_rack() -> None:
    """The best cover for the money, and with no money what the rack alone allows."""
    wanted = [blank("LONG", 600), blank("SHORT", 300)]
    options = buying_options(job([rack(900), rack(350), bars(1000, "10")], wanted, NO_KERF), wanted, most=1)
    in_hand = within_budget(options, Decimal(0))
    assert in_hand is not None
    assert (in_hand.buy, in_hand.insured, in_hand.not_insured) == ((), ("SHORT",), ("LONG",))
    assert within_budget(options, Decimal("9.99")) == in_hand
    assert within_budget(options, Decimal(10)) == options[-1]
    dear = buying_options(job([bars(1000, "10")], wanted, NO_KERF), wanted)
    assert within_budget(dear, Decimal(9)) is None


def test_without_prices_length_is_what_costs() -> None:
    """Where no price is given, an option costs the length it buys."""
    wanted = [blank("A", 600)]
    options = buying_options(job([bars(1000), bars(650)], wanted, NO_KERF), wanted, most=1)
    assert [(o.cost, o.buy[0].cost) for o in options] == [(Decimal(650), None), (Decimal(1300), None)]


def test_a_tube_without_prices_beside_a_priced_one(as_worded: Worded) -> None:
    """No sum leaves the unpriced tube out, and a step that buys more length of it stays a step."""
    wanted = [blank("A", 600, tube="A"), blank("B", 600, tube="B")]
    options = buying_options(job([bars(1000, "9", tube="A"), bars(1000, tube="B")], wanted, NO_KERF), wanted, most=1)
    assert [(o.cost, o.bound, o.proven, o.insured, sum(line.count for line in o.buy)) for o in options] == [
        (None, None, False, (), 2),
        (None, None, False, ("B",), 3),
        (None, None, False, ("A", "B"), 4),
    ]
    with pytest.raises(BudgetError) as caught:
        within_budget(options, Decimal(100))
    as_worded(caught.value)


def test_a_budget_where_the_tube_without_a_price_is_on_the_rack() -> None:
    """What is not bought needs no price: the sum is whole, and so is the answer."""
    wanted = [blank("A", 600, tube="A"), blank("B", 600, tube="B")]
    small = job([bars(1000, "9", tube="A"), rack(700, tube="B"), bars(1000, "0", 0, tube="B")], wanted, NO_KERF)
    stock = tuple(replace(row, price=None) if row.tube == "B" else row for row in small.stock)
    first, *_ = options = buying_options(replace(small, stock=stock), wanted, most=1)
    assert (first.cost, first.proven) == (Decimal(9), True)
    assert within_budget(options, Decimal(10)) is first


def test_a_time_limit_shared_out_still_gives_options() -> None:
    """A limit far above what the solves need changes nothing."""
    wanted = [blank("LONG", 600), blank("SHORT", 300)]
    small = job([bars(1000, "10")], wanted, NO_KERF)
    assert buying_options(small, wanted, limits=Limits(seconds=60)) == buying_options(small, wanted)


def test_no_plan_in_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """Time that runs out before even the members are placed is an error; no option is made up."""
    monkeypatch.setattr("cutplan.plan.problem.pack", lambda *_, **__: Packing(Status.UNKNOWN))
    wanted = [blank("A", 600)]
    with pytest.raises(NoPlanInTimeError):
        buying_options(job([bars(1000, "10")], wanted, NO_KERF), wanted, limits=Limits(seconds=1))


def test_a_step_whose_plan_came_out_dearer_is_not_shown_above_what_it_costs(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where time was too short for the cheapest plan of one spare, its option costs what its own plan does, and goes
    where two spares cost no more."""
    made = make_plan

    def dearer(
        job: Job, blanks: list[Blank], *, kept: dict[str, tuple[int, Fraction]], limits: Limits, **more: object
    ) -> Plan:
        spares = {"T": (2, F(600))} if kept == {"T": (1, F(600))} else kept
        return made(job, blanks, kept=spares, limits=limits, **more)

    monkeypatch.setattr("cutplan.plan.options.make_plan", dearer)
    wanted = [blank("A", 600)]
    options = buying_options(job([bars(1000, "10")], wanted, NO_KERF), wanted)
    assert [(o.spares, o.cost) for o in options] == [(0, Decimal(10)), (2, Decimal(30))]


@pytest.mark.parametrize(
    ("again", "words"),
    [
        ({"A": 0, "B": 0}, "no spare is kept: a spoilt member means buying another bar"),
        ({"A": 1, "B": 1}, "any one member may be spoilt"),
        ({"HOOP": 0, "A": 1, "B": 1}, "any one member may be spoilt, except HOOP"),
        ({"H1": 0, "H2": 0, "A": 1, "B": 1}, "any one of A, B may be spoilt"),
        ({"A": 2, "B": 2}, "any two mistakes, even both on one member"),
        ({"H": 0, "A": 2, "B": 2}, "any two mistakes, even both on one member, except H"),
        ({"H": 0, "A": 1}, "A may be spoilt once"),
        (
            {"A": 1, "B": 2, "C": 2, "D": 1},
            "any one member may be spoilt; any two mistakes on B, C, even both on one of them",
        ),
        ({"A": 7}, "any 7 mistakes, even all 7 on one member"),
    ],
)
def test_the_words(again: dict[str, int], words: str) -> None:
    """What an option buys is said so that nobody takes it for more."""
    assert in_words(again) == words


def small_job(seed: int) -> tuple[Job, list[Blank]]:
    """One or two tubes, up to four marks and six pieces of each, one or two bars and perhaps a rack piece."""
    dice = random.Random(seed)
    stock: list[StockRow] = []
    wanted: list[Blank] = []
    for tube in ("A", "B")[: dice.choice([1, 1, 2])]:
        priced = dice.random() < 0.7
        for _ in range(dice.choice([1, 2])):
            stock.append(
                bars(
                    dice.randint(8, 16) * 50,
                    str(dice.randint(4, 12)) + dice.choice(["", ".50"]) if priced else None,
                    dice.choice([None, None, 1, 2]),
                    tube=tube,
                )
            )
        if dice.random() < 0.4:
            stock.append(rack(dice.randint(2, 10) * 50, dice.choice([1, 2]), tube=tube))
        left = 4
        for number in range(dice.randint(1, 4)):
            count = min(dice.choice([1, 1, 2]), left)
            if count:
                length = dice.randint(3, 15) * 25
                wanted.append(blank(f"{tube}{number}", length, count, tube=tube, insured=dice.random() < 0.8))
            left -= count
    return job(stock, wanted, Settings(kerf=F(dice.choice([0, 2, 5])), spares=1)), wanted


Ranked = tuple[tuple[Fraction, Fraction], tuple[int, ...]]


def ranked(job: Job, wanted: list[Blank], kept: tuple[tuple[str, int, Fraction], ...]) -> Ranked | None:
    """The least cost (money, then unpriced length) and the cover of keeping these spares, by brute force."""
    costs, covers = [F(0), F(0)], [0, 0]
    for tube, count, length in kept:
        stock = [row for row in job.stock if row.tube == tube]
        mine = [one for one in wanted if one.tube == tube]
        least = least_cost(
            stock, [one.length for one in mine for _ in range(one.count)] + [length] * count, job.settings.kerf
        )
        if least is None:
            return None
        costs[all(row.price is None for row in stock)] += least
        for fold in range(count):
            covers[fold] += sum(one.count for one in mine if one.insured and one.length <= length)
    return (costs[0], costs[1]), tuple(covers)


def brute_options(job: Job, wanted: list[Blank]) -> list[Ranked]:
    """The unbeaten (cost, cover) pairs over every choice of spares for every tube."""
    choices = []
    for tube in dict.fromkeys(one.tube for one in wanted):
        lengths = sorted({one.length for one in wanted if one.insured and one.tube == tube})
        choices.append([(tube, 0, F(0)), *((tube, k, length) for k in (1, 2) for length in lengths)])
    every = {found for kept in itertools.product(*choices) if (found := ranked(job, wanted, kept)) is not None}
    return sorted(
        (cost, cover)
        for cost, cover in every
        if not any(c <= cost and v >= cover and (c, v) != (cost, cover) for c, v in every)
    )


@pytest.mark.parametrize("block", range(8))
def test_every_option_is_the_best_there_is(block: int) -> None:
    """On 48 small jobs the options are exactly the unbeaten ones of all choices of spares, and each can be followed:
    its plan costs what the option says, keeps what it promises and passes the check."""
    served = 0
    for seed in range(15 * block, 15 * block + 6):
        small, wanted = small_job(seed)
        expected = brute_options(small, wanted)
        if not expected:
            with pytest.raises(StockError):
                buying_options(small, wanted)
            continue
        options = buying_options(small, wanted)
        assert [ranked(small, wanted, option.kept) for option in options] == expected, seed
        for option in options:
            follows(small, wanted, option)
        served += 1
    assert served > 2


def follows(small: Job, wanted: list[Blank], option: Option) -> None:
    """The plan that follows an option is the one it describes."""
    plan = make_plan(small, wanted, kept={tube: (count, length) for tube, count, length in option.kept})
    assert complaints(plan) == ()
    assert (plan.cost, plan.buy, plan.proven) == (option.cost, option.buy, option.proven)
    assert option.proven == (option.cost is not None)
    assert all(tube.proven for tube in plan.tubes)
    assert {mark for tube in plan.tubes for mark in tube.spares.insured} == set(option.insured)
    assert max(bar.usable for tube in plan.tubes for bar in tube.bars) == option.leftover
