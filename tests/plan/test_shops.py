"""Guards plans of bars from shops that charge for an order: against every purchase tried, and by their own check."""

from __future__ import annotations

import random
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from itertools import product

import pytest

from cutplan.job.model import Fitted, Settings, Shop, Source
from cutplan.nesting import Piece, Spare, Stock
from cutplan.nesting.orders import Seller, Wanted
from cutplan.plan import complaints, make_plan
from cutplan.plan.compared import ways_compared
from cutplan.plan.model import StockError
from cutplan.plan.options import buying_options
from cutplan.plan.recut.rest import recut
from cutplan.plan.recut.ticks import Tick
from tests.nesting.orders_judge import least_by_trying
from tests.plan.small_jobs import bars, blank, costs, job, rack

NORTH, HILL = Shop("North", Decimal("18.50"), Decimal(150), Decimal(0)), Shop("Hill", Decimal(9), None, Decimal("62.5"))


def sold(length, price, shop, available=None, tube="T"):
    """Bars of a shop."""
    return replace(bars(length, price, available, tube=tube), shop=shop)


def seeded(seed: int):
    """A job of one or two tubes from two shops, one of which may have no charges."""
    draw = random.Random(seed)
    blanks, stock = [], []
    for tube in ("T", "U")[: draw.randint(1, 2)]:
        blanks += [
            blank(f"{tube}{n}", draw.randint(900, 2900), draw.randint(1, 2), tube=tube)
            for n in range(draw.randint(1, 2))
        ]
        for shop in ("North", "Hill"):
            stock.append(sold(6000, f"{draw.randint(5000, 6200) / 100}", shop, 2, tube))
            stock.append(sold(3000, f"{draw.randint(2600, 3300) / 100}", shop, 2, tube))
        if draw.random() < 0.3:
            stock.append(rack(draw.randint(1000, 2500), tube=tube))
    carry = {"carry": draw.choice((None, Fraction(3000), Fraction(3000)))}
    shops = (
        Shop(
            "North", Decimal(draw.choice(("0", "18.5", "30"))), draw.choice((None, Decimal(60), Decimal(120))), **carry
        ),
        Shop("Hill", Decimal(draw.choice(("9", "12.25"))), None, Decimal(draw.choice(("0", "62.5", "130")))),
    )
    settings = Settings(kerf=Fraction(2), spares=draw.randint(0, 1))
    return replace(job(stock, blanks, settings), shops=shops), blanks


def judged(wanted, blanks) -> Decimal | None:
    """The least total, every purchase tried in every way of getting it home."""
    totals = [
        least
        for carried in product((False, True), repeat=len(wanted.shops))
        if all(shop.carry is not None or not way for shop, way in zip(wanted.shops, carried, strict=True))
        if all(shop.carry is None or shop.delivery or way for shop, way in zip(wanted.shops, carried, strict=True))
        if (least := least_in(wanted, blanks, carried)) is not None
    ]
    return min(totals, default=None)


def least_in(wanted, blanks, carried) -> Decimal | None:
    """The least total where the bars of each shop are ``carried`` home, or delivered."""
    names, every = [shop.name for shop in wanted.shops], []
    for tube in wanted.tubes:
        mine = [one for one in blanks if one.tube == tube.name]
        rows = [
            row
            for row in wanted.stock
            if row.tube == tube.name
            if not row.shop
            or not carried[names.index(row.shop)]
            or row.length <= wanted.shops[names.index(row.shop)].carry
        ]
        pieces = [Piece(int(one.length * 10), one.count) for one in mine]
        spare = Spare(max(piece.length for piece in pieces), 1) if wanted.settings.spares else None
        stocks = [
            Stock(int(row.length * 10), int((row.price or 0) * 100), row.available, row.source is Source.RACK)
            for row in rows
        ]
        every.append(Wanted(pieces, stocks, [names.index(row.shop) if row.shop else None for row in rows], 20, spare))
    sellers = [
        Seller(
            0 if way else int(shop.delivery * 100),
            None if shop.free_from is None else int(shop.free_from * 100),
            int(shop.minimum * 100),
        )
        for shop, way in zip(wanted.shops, carried, strict=True)
    ]
    least = least_by_trying(every, sellers)
    return None if least is None else Decimal(least) / 100


@pytest.mark.parametrize("seed", range(12))
def test_no_plan_costs_less(seed):
    """The plan's total is the least there is, is proven, and its check from scratch finds nothing wrong."""
    wanted, blanks = seeded(seed)
    costs(judged(wanted, blanks), wanted, blanks)


def ordered():
    """A plan with an order from each of two shops."""
    blanks = [blank("A", 2800, 2), blank("B", 2500, 3, tube="U")]
    stock = [sold(6000, "58.2", "North"), sold(6000, "40", "Hill", tube="U")]
    return make_plan(replace(job(stock, blanks), shops=(NORTH, HILL)), blanks)


def test_orders_are_added_up():
    """Bars, what is charged to reach the minimum and delivery make the total."""
    plan = ordered()
    assert [(one.shop, one.bars, one.below_minimum, one.delivery) for one in plan.orders] == [
        ("North", Decimal("58.2"), Decimal(0), Decimal("18.50")),
        ("Hill", Decimal(80), Decimal(0), Decimal(9)),
    ]
    assert plan.cost == plan.bound == Decimal("165.70")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"delivery": Decimal(0)}, "delivery 18.50, not 0"),
        ({"bars": Decimal(60)}, "bars 58.2, not 60"),
        ({"below_minimum": Decimal(1)}, "what is charged to reach the minimum 0, not 1"),
        ({"shop": "Mill"}, "an order from Mill, but no bar is bought there"),
    ],
)
def test_the_check_finds_wrong_charges(change, said):
    """An order that is not what its bars come to is refused."""
    plan = ordered()
    wrong = replace(plan, orders=(replace(plan.orders[0], **change), *plan.orders[1:]))
    assert any(said in text for text in complaints(wrong))


def test_the_check_finds_a_total_without_its_charges(as_worded):
    """A total that leaves deliveries out, a bound above it, a proof without one, and a missing order are refused."""
    plan = ordered()
    as_worded(*complaints(replace(plan, cost=plan.cost - 18)))
    assert any("bound" in text for text in complaints(replace(plan, bound=plan.cost + 1)))
    assert any("proven" in text for text in complaints(replace(plan, bound=plan.cost - 1)))
    as_worded(*complaints(replace(plan, orders=plan.orders[:1])))


def test_what_can_be_carried_is_not_delivered(as_worded):
    """Bars short enough are fetched where that is cheaper than a delivery; longer ones are delivered, or not to be had,
    and the check refuses an order that is carried though it is too long."""
    blanks = [blank("A", 1400, 4)]
    stock = [sold(6000, "58.2", "North"), sold(3000, "33.4", "North")]
    totals = {}
    for delivery, carry in (("18", None), ("18", 3000), ("3", 3000), ("0", 3000), ("0", 6000)):
        shop = Shop("North", Decimal(delivery), carry=None if carry is None else Fraction(carry))
        plan = make_plan(replace(job(stock, blanks), shops=(shop,)), blanks)
        assert complaints(plan) == ()
        totals[delivery, carry] = (plan.cost, [one.carried for one in plan.orders], plan.proven)
        if carry == 3000 and delivery == "3":
            wrong = replace(plan, orders=(replace(plan.orders[0], carried=True, delivery=Decimal(0)),))
            as_worded(*complaints(wrong))
    assert totals == {
        ("18", None): (Decimal("76.2"), [False], True),
        ("18", 3000): (Decimal("66.8"), [True], True),
        ("3", 3000): (Decimal("61.2"), [False], True),
        ("0", 3000): (Decimal("66.8"), [True], True),
        ("0", 6000): (Decimal("58.2"), [True], True),
    }


def test_a_blank_too_long_to_be_carried_says_so(as_worded):
    """Where only bars that cannot be carried are long enough, the cure is named."""
    blanks = [blank("A", 4400)]
    stock = [sold(6000, "58.2", "North"), sold(3000, "33.4", "North")]
    shops = (Shop("North", carry=Fraction(3000)),)
    with pytest.raises(StockError) as caught:
        make_plan(replace(job(stock, blanks), shops=shops), blanks)
    as_worded(caught.value)


def test_bars_of_a_shop_that_is_not_described_cost_what_they_cost():
    """Without a row in Shops a shop is a name on the bars, and the plan as it would be without."""
    blanks = [blank("A", 2800, 2)]
    plain, named = bars(6000, "58.2"), sold(6000, "58.2", "North")
    one, other = (make_plan(job([row], blanks), blanks) for row in (plain, named))
    assert (one.cost, one.proven, other.cost, other.proven) == (Decimal("58.2"), True, Decimal("58.2"), True)
    assert other.orders == ()
    assert other.buy[0].shop == "North"


def test_one_mistake_at_a_time_needs_no_more():
    """Fitted one at a time, less tube does than with room after all cuts, and the charges are in the proof."""
    blanks = [blank("LONG", 2800), blank("MID", 1500, 2), blank("SHORT", 700, 3)]
    stock = [sold(6000, "58.2", "North"), sold(3000, "33.4", "North"), sold(6000, "57", "Hill")]
    totals = []
    for fitted in Fitted:
        settings = Settings(kerf=Fraction(2), spares=1, fitted=fitted)
        plan = make_plan(replace(job(stock, blanks, settings), shops=(NORTH, HILL)), blanks)
        assert complaints(plan) == ()
        totals.append(plan.cost)
    assert totals[1] <= totals[0]


def test_options_count_the_charges():
    """Each option's total is that of the plan which follows it, and costs rise with what is covered."""
    blanks = [blank("A", 2800, 2), blank("B", 2500, 3, tube="U")]
    stock = [sold(6000, "58.2", "North"), sold(6000, "40", "Hill", tube="U")]
    wanted = replace(job(stock, blanks), shops=(NORTH, HILL))
    options = buying_options(wanted, blanks)
    assert len(options) > 1
    for option in options:
        kept = {tube: (count, length) for tube, count, length in option.kept}
        assert make_plan(wanted, blanks, kept=kept).cost == option.cost
    costs = [option.cost for option in options]
    assert costs == sorted(set(costs))


def test_ways_of_buying_are_compared():
    """Each way costs what a plan with that way alone does; the cheapest comes first and is the plan's own."""
    blanks = [blank("A", 1400, 4), blank("B", 2500, 3, tube="U")]
    stock = [
        sold(6000, "58.2", "North"),
        sold(3000, "31.4", "North"),
        sold(6000, "39", "North", tube="U"),
        sold(6000, "30", "Hill", tube="U"),
        sold(3000, "16", "Hill", tube="U"),
    ]
    north, hill = replace(NORTH, carry=Fraction(3000)), replace(HILL, carry=Fraction(3000))
    wanted = replace(job(stock, blanks), shops=(north, hill))
    found = ways_compared(wanted, blanks)
    assert [(one.orders, one.cost, one.proven) for one in found][:3] == [
        ((("North", True), ("Hill", True)), Decimal("125.3"), True),
        ((("North", True), ("Hill", False)), Decimal("134.3"), True),
        ((("North", False), ("Hill", True)), Decimal("139.2"), True),
    ]
    assert [one.cost for one in found] == sorted(one.cost for one in found)
    assert found[0].cost == make_plan(wanted, blanks).cost
    assert ways_compared(replace(wanted, shops=(HILL,)), blanks) == ()


@pytest.mark.parametrize(
    ("goods", "charged"),
    [("59.99", "18.50"), ("60", "0"), ("60.01", "0")],
)
def test_free_from_at_its_threshold(goods, charged):
    """An order of just that much is delivered free, one of a hundredth less is not; two tubes make the sum together."""
    blanks = [blank("A", 2800), blank("B", 2500, tube="U")]
    first = Decimal("25.05")
    stock = [sold(3000, str(first), "North", 1), sold(3000, str(Decimal(goods) - first), "North", 1, "U")]
    shop = Shop("North", Decimal("18.50"), Decimal(60))
    plan = make_plan(replace(job(stock, blanks), shops=(shop,)), blanks)
    assert complaints(plan) == ()
    (order,) = plan.orders
    assert (order.delivery, plan.cost, plan.proven) == (Decimal(charged), Decimal(goods) + Decimal(charged), True)


@pytest.mark.parametrize(("goods", "missing"), [("49.99", "0.01"), ("50", "0"), ("50.01", "0")])
def test_a_minimum_at_its_threshold(goods, missing):
    """An order of just that much is charged as it is, one of a hundredth less by a hundredth more."""
    blanks = [blank("A", 2800)]
    shop = Shop("North", minimum=Decimal(50))
    plan = make_plan(replace(job([sold(3000, goods, "North", 1)], blanks), shops=(shop,)), blanks)
    assert complaints(plan) == ()
    (order,) = plan.orders
    assert (order.below_minimum, plan.cost) == (Decimal(missing), Decimal(goods) + Decimal(missing))


def test_a_bar_more_is_bought_only_where_it_costs_less():
    """Just below free delivery a second bar is bought if it costs less than the delivery, and not if it costs as much
    or more."""
    blanks = [blank("A", 2800)]
    totals = {}
    for delivery in ("19.99", "20", "20.01"):
        stock = [sold(3000, "59.99", "North", 1), sold(1000, "20", "North", 1)]
        shop = Shop("North", Decimal(delivery), Decimal(60))
        plan = make_plan(replace(job(stock, blanks), shops=(shop,)), blanks)
        assert complaints(plan) == ()
        totals[delivery] = (plan.cost, sum(line.count for line in plan.buy))
    assert totals == {"19.99": (Decimal("79.98"), 1), "20": (Decimal("79.99"), 1), "20.01": (Decimal("79.99"), 2)}


def test_no_option_costs_more_and_covers_no_more():
    """Where no member is insured, spares are kept of nothing: one option is shown, not three."""
    blanks = [replace(blank("A", 2800), insured=False)]
    wanted = replace(job([sold(6000, "58.2", "North")], blanks), shops=(NORTH,))
    assert [option.spares for option in buying_options(wanted, blanks)] == [0]


def test_a_bar_bought_for_free_delivery_can_go_back(as_worded):
    """It was never needed; once everything is cut and fitted it is said where it can go back to, and not before."""
    blanks = [blank("A", 2800), blank("B", 500)]
    stock = [sold(3000, "59.99", "North", 1), sold(1000, "5", "North", 2)]
    wanted = replace(job(stock, blanks), shops=(Shop("North", Decimal(20), Decimal(69)),))
    plan = make_plan(wanted, blanks)
    assert sum(line.count for line in plan.buy) == 3
    numbers = [cut.number for tube in plan.tubes for bar in tube.bars for cut in bar.cuts]
    started = recut(plan, [Tick(number, done=number == 1, spoilt=False) for number in numbers])
    as_worded(*started.changes)
    done = recut(plan, [Tick(number, done=True, spoilt=False, fitted=True) for number in numbers])
    as_worded(*done.changes)
