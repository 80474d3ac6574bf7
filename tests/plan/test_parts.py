"""Guards plans with bars that a shop cuts into parts: against every purchase tried, by their check, and by rules."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from parts_judge import drawn, least_total
from small_jobs import bars, blank, costs, job

from cutplan.job.model import Fitted, Settings, Shop
from cutplan.plan import complaints, make_plan
from cutplan.plan.compared import ways_compared
from cutplan.plan.model import StockError
from cutplan.plan.options import buying_options
from cutplan.plan.recut.rest import recut
from cutplan.plan.recut.ticks import Tick

YARD = Shop("Yard", carry=Fraction(3000), cut=Decimal("1.50"), kerf=Fraction(3))


def of_yard(length, price, available=None):
    """Bars of the yard."""
    return replace(bars(length, price, available), shop="Yard")


def planned(blanks, *stock, shop=YARD, **settings):
    """The plan of ``blanks`` from a shop that cuts."""
    rules = Settings(kerf=Fraction(2), **{"spares": 0} | settings)
    return make_plan(replace(job(stock, blanks, rules), shops=(shop,)), blanks)


def lengths(plan):
    """The bars of each length and into what they are cut."""
    return [(line.length, line.count, line.parts) for line in plan.buy]


@pytest.mark.parametrize("seed", range(16))
def test_no_plan_costs_less(seed):
    """The total is the least there is, is proven, and the check from scratch finds nothing wrong."""
    wanted, blanks = drawn(seed)
    costs(least_total(wanted, blanks), wanted, blanks)


def test_the_place_of_the_cut_follows_the_plan():
    """Not the middle: the longer part takes two blanks, and neither is longer than can be carried."""
    plan = planned(
        [blank("A", 1750, 2), blank("B", 2400)], of_yard(6000, "40"), shop=replace(YARD, carry=Fraction(3600))
    )
    assert complaints(plan) == ()
    ((length, count, parts),) = lengths(plan)
    assert (length, count, sum(parts) + 3) == (6000, 1, 6000)
    assert 3502 <= max(parts) <= 3600
    (order,) = plan.orders
    assert (order.carried, order.cuts, order.cost, plan.cost) == (True, Decimal("1.50"), Decimal("41.50"), order.cost)


def test_two_halves_may_leave_a_sliver():
    """What can be carried is a hair less than half a bar: two cuts are needed, and both are charged."""
    plan = planned([blank("A", 2990, 2)], of_yard(6000, "40"), shop=replace(YARD, carry=Fraction(2998)))
    ((_, _, parts),) = lengths(plan)
    assert len(parts) == 3
    assert plan.cost == Decimal("43.00")
    assert complaints(plan) == ()


def test_a_third_part_is_cut_where_it_saves_a_bar():
    """Three blanks that go two to a bar in two parts go three to one in three parts, if a cut costs less than a bar."""
    blanks = [blank("A", 1900, 3)]
    assert planned(blanks, of_yard(6000, "40")).cost == Decimal("43.00")
    dear = planned(blanks, of_yard(6000, "40"), shop=replace(YARD, cut=Decimal(39)))
    assert (dear.cost, [line.count for line in dear.buy]) == (Decimal("118.00"), [1])
    dearer = planned(blanks, of_yard(6000, "40"), of_yard(3000, "21"), shop=replace(YARD, cut=Decimal(39)))
    assert dearer.cost == Decimal("63.00")


def test_ends_of_parts_are_counted():
    """A mill end loses its trim, a shop's cut nothing, and the vice holds every part: more does not fit."""
    rules = {"end_trim": Fraction(5), "saw_hold": Fraction(40)}
    fits = planned([blank("A", 2955), blank("B", 2952)], of_yard(6000, "40"), **rules)
    assert fits.cost == Decimal("41.50")
    with pytest.raises(StockError, match="A needs one piece of 2959 mm; the longest bar you can get gives 2958 mm"):
        planned([blank("A", 2959)], of_yard(6000, "40"), **rules)


def test_a_blank_too_long_for_any_part_names_what_would_do():
    """With the least to buy, if the shop delivered."""
    with pytest.raises(StockError) as error:
        planned([blank("A", 3400), blank("B", 900)], of_yard(6000, "40"))
    (short,) = error.value.shortages
    assert "Yard has bars of 6000 mm, too long to be carried: fill in its delivery" in short.why
    assert [(line.length, line.count, line.shop) for line in short.least] == [(6000, 1, "Yard")]
    plan = planned([blank("A", 3400), blank("B", 900)], of_yard(6000, "40"), shop=replace(YARD, delivery=Decimal(9)))
    assert (plan.cost, plan.orders[0].carried) == (Decimal(49), False)


def test_no_more_bars_than_there_are():
    """However they are cut, the parts come from as many bars as there are."""
    with pytest.raises(StockError):
        planned([blank("A", 2900, 3)], of_yard(6000, "40", 1))
    plan = planned([blank("A", 2900, 3)], of_yard(6000, "40", 2))
    assert sum(line.count for line in plan.buy) == 2


def test_spares_and_one_at_a_time():
    """The spare has room in one piece on a part; fitted one at a time no more is needed than with room after all."""
    blanks = [blank("LONG", 2600), blank("MID", 1400, 2), blank("SHORT", 700, 2)]
    costs = []
    for fitted in Fitted:
        plan = planned(blanks, of_yard(6000, "40"), of_yard(3000, "22"), spares=1, fitted=fitted)
        assert complaints(plan) == ()
        costs.append(plan.cost)
    assert costs[1] <= costs[0]


def altered(plan, name, **changes):
    """``plan`` with another bar."""
    tubes = [
        replace(tube, bars=tuple(replace(bar, **changes) if bar.name == name else bar for bar in tube.bars))
        for tube in plan.tubes
    ]
    return replace(plan, tubes=tuple(tubes))


def test_the_check_finds_what_is_wrong_with_parts():
    """Parts too long for their bar, of another, not listed, of a shop that cuts nothing; cuts not charged."""
    plan = planned([blank("A", 2500, 2)], of_yard(6000, "40"))
    first, second = (bar.name for bar in plan.tubes[0].bars)
    bar = plan.tubes[0].bars[1]
    long = altered(plan, second, length=bar.length + 1, offcut=bar.offcut + 1, usable=bar.usable + 1)
    cases = {
        "come to": long,
        "its parts are not those of": altered(plan, second, parts=(first, second, "9")),
        "no length, or no parts": altered(plan, second, parts=()),
        "not among the parts of its own bar": altered(plan, second, parts=(first, "9")),
        "not bought at the price of one bar": altered(plan, second, price=Decimal(1)),
        "cuts no bars": replace(plan, job=replace(plan.job, shops=(replace(YARD, cut=None),))),
        "too long to be carried": replace(plan, job=replace(plan.job, shops=(replace(YARD, carry=Fraction(2600)),))),
        "but the order is delivered": replace(plan, orders=(replace(plan.orders[0], carried=False),)),
        "cuts 1.50, not 0": replace(plan, orders=(replace(plan.orders[0], cuts=Decimal(0)),)),
        "the buy list does not match the bars": replace(plan, buy=(replace(plan.buy[0], parts=()),)),
        "1 available": replace(plan, job=replace(plan.job, stock=(replace(plan.job.stock[0], available=1),))),
    }
    two = planned([blank("A", 2500, 4)], of_yard(6000, "40"))
    cases["1 available"] = replace(two, job=replace(two.job, stock=(replace(two.job.stock[0], available=1),)))
    for said, wrong in cases.items():
        assert any(said in text for text in complaints(wrong)), (said, complaints(wrong))


def test_parts_are_bars_in_hand_once_cutting_began():
    """After a mistake a part is a bar of its length, sawn at one end, and cannot go back to the shop."""
    blanks = [blank("A", 2500, 2), blank("B", 400)]
    plan = planned(blanks, of_yard(6000, "40"), spares=1)
    numbers = [cut.number for tube in plan.tubes for bar in tube.bars for cut in bar.cuts]
    ticks = [Tick(number, done=False, spoilt=number == 1) for number in numbers]
    rest = recut(plan, ticks)
    assert rest.plan is not None
    assert complaints(rest.plan) == ()
    assert rest.plan.buy == ()
    assert all(account.balanced for account in rest.accounts)
    done = recut(plan, [Tick(number, done=True, spoilt=False, fitted=True) for number in numbers])
    assert not any("can go back" in text for text in done.changes)


def test_options_and_ways_count_the_cuts():
    """Each option costs what the plan that follows it does; carried, cut and delivered are compared."""
    blanks = [blank("A", 1900, 3), blank("B", 1100, 2)]
    shop = replace(YARD, delivery=Decimal(12))
    wanted = replace(job([of_yard(6000, "40")], blanks, Settings(kerf=Fraction(2), spares=1)), shops=(shop,))
    for option in buying_options(wanted, blanks):
        kept = {tube: (count, length) for tube, count, length in option.kept}
        assert make_plan(wanted, blanks, kept=kept).cost == option.cost
    ways = ways_compared(wanted, blanks)
    assert {one.orders: (one.bars, one.cuts, one.charges) for one in ways} == {
        (("Yard", True),): (Decimal(80), Decimal("4.50"), Decimal(0)),
        (("Yard", False),): (Decimal(80), Decimal(0), Decimal(12)),
    }
