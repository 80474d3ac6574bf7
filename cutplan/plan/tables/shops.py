"""What is ordered from each shop, and what it charges for that."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from cutplan.job.faults import listed
from cutplan.job.model import Job, Source
from cutplan.plan import wording
from cutplan.plan.compared import WayCost
from cutplan.plan.model import Plan, ShopOrder
from cutplan.plan.parts import longest_carried, wholes
from cutplan.plan.tables.columns import Flag, Money, Text

MEASURE_PARTS = (
    "Write its bar's number on each part, and measure it when you get home. Is it shorter or longer than listed? Write "
    "what it is on the sheet Bars in hand, under measured now, and plan again with cutplan recut."
)


@dataclass(frozen=True, slots=True)
class ShopRow:
    """An order: its bars at their price, what is charged on top as they come to less than the shop's minimum, for
    cutting bars and for delivery, and what is paid in all. ``says``: the same in words; ``asks``: in words for the
    shop."""

    shop: Text
    bars: Money
    below_minimum: Money
    cuts: Money
    delivery: Money
    carried: Flag
    cost: Money
    says: str
    asks: str


def shop_rows(job: Job, orders: Iterable[ShopOrder]) -> Iterator[ShopRow]:
    """A row a shop."""
    for one in orders:
        says, asks = (_says(job, one, to_the_shop=to_the_shop) for to_the_shop in (False, True))
        yield ShopRow(one.shop, one.bars, one.below_minimum, one.cuts, one.delivery, one.carried, one.cost, says, asks)


def _says(job: Job, order: ShopOrder, *, to_the_shop: bool) -> str:
    currency = job.settings.currency
    shop = next(one for one in job.shops if one.name == order.shop)
    parts = [f"bars {wording.money(order.bars, currency)}"]
    if order.below_minimum:
        parts.append(f"{wording.money(order.below_minimum, currency)} more to its minimum")
    if order.cuts:
        parts.append(f"cuts {wording.money(order.cuts, currency)}")
    if order.delivery:
        parts.append(f"delivery {wording.money(order.delivery, currency)}")
    elif order.carried and to_the_shop:
        parts.append("to be fetched")
    elif order.carried:
        parts.append(
            "you carry them home" + (f" and save {wording.money(shop.delivery, currency)}" * bool(shop.delivery))
        )
    elif shop.delivery:
        parts.append(f"delivered free, as from {wording.money(shop.free_from, currency)}")
    total = f". Together {wording.money(order.cost, currency)}" if order.charges else ""
    return f"{order.shop}: {', '.join(parts)}{total}."


def ways_said(job: Job, found: Sequence[WayCost]) -> tuple[str, ...]:
    """The ways of buying, a line each, and then why the first is the cheapest."""
    currency = job.settings.currency
    said = [_way_said(one, currency) for one in found]
    if len(found) > 1:
        best, second = found[0], found[1]
        parts = [
            f"{what} {wording.money(abs(more), currency)} {'more' if more > 0 else 'less'}"
            for what, more in (
                ("bars cost", second.bars - best.bars),
                ("cuts cost", second.cuts - best.cuts),
                ("charges are", second.charges - best.charges),
            )
            if more
        ]
        said.append(
            f"Cheapest: {_orders(best)}. Next, {_orders(second)}: {' and '.join(parts) or 'it costs the same'}."
        )
        if len(best.orders) == 1 and all(len(one.orders) == 1 for one in found) and all(one.proven for one in found):
            said.append("Orders from several shops at once cost no less.")
    wanted = {member.tube for member in job.members if not member.made}
    if found and (others := [tube.name for tube in job.tubes if tube.name in wanted - set(found[0].tubes)]):
        said.append(f"Not in these sums: {listed(others)}, which these shops do not sell.")
    return tuple(said)


def _way_said(way: WayCost, currency: str) -> str:
    parts = [f"bars {wording.money(way.bars, currency)}"]
    if way.cuts:
        parts.append(f"cuts {wording.money(way.cuts, currency)}")
    parts.append(f"charges {wording.money(way.charges, currency)}")
    total = f"together {wording.money(way.cost, currency)}{'' if way.proven else ' (not proven the least)'}"
    return f"{_orders(way)}: {', '.join(parts)}; {total}"


def _orders(way: WayCost) -> str:
    return " and ".join(f"{shop}, {'carried' if carried else 'delivered'}" for shop, carried in way.orders)


def charges_said(plan: Plan) -> tuple[str, ...]:
    """The orders in words, and the bars that are bought only for what a shop charges."""
    said = [row.says for row in shop_rows(plan.job, plan.orders)]
    return (*said, *_cuts_said(plan), *_too_long(plan), *_not_needed(plan))


def _cuts_said(plan: Plan) -> Iterator[str]:
    """What each shop cuts bars into, and the names of the parts; and what if one is not as long."""
    settings, cut = plan.job.settings, list(wholes(plan.bars))
    yield from (wording.bar_in_parts(parts, settings) for parts in cut)
    if cut:
        yield MEASURE_PARTS


def _too_long(plan: Plan) -> Iterator[str]:
    """Which blanks are longer than anything that can be carried, where that is why a shop delivers."""
    job = plan.job
    for shop in job.shops:
        if shop.carry is None or not any(one.shop == shop.name and not one.carried for one in plan.orders):
            continue
        bought = [bar for bar in plan.bars if bar.source is Source.BUY and bar.shop == shop.name]
        most = {bar.tube: longest_carried(job, shop, bar.tube) for bar in bought}
        cut = {cut.mark: bar.tube for bar in bought for cut in bar.cuts if cut.blank > most[bar.tube]}
        for tube in dict.fromkeys(cut.values()):
            marks = listed([mark for mark, of in cut.items() if of == tube])
            long = wording.measured(most[tube], job.settings)
            yield f"Delivered because of {marks}: what you can carry of {tube} from {shop.name} gives {long} at most."


def _not_needed(plan: Plan) -> Iterator[str]:
    if plan.charged:
        needed = plan.needed
        for shop in plan.orders:
            mine = [bar.name for bar in plan.bars if bar.source is Source.BUY and bar.shop == shop.shop]
            more = [name for name in mine if name not in needed]
            if more and not shop.delivery and not shop.carried:
                bars = f"Bar {more[0]} is" if len(more) == 1 else f"Bars {listed(more)} are"
                why = f"with {'it' if len(more) == 1 else 'them'} {shop.shop} delivers free, and everything costs less"
                yield f"{bars} not needed for the frame: {why}."
