"""What is ordered from each shop, and what it charges for that."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from cutplan.job.listing import listed
from cutplan.job.model import Job, Source
from cutplan.plan import wording
from cutplan.plan.model import Plan, ShopOrder
from cutplan.plan.tables.columns import Money, Text


@dataclass(frozen=True, slots=True)
class ShopRow:
    """An order: its bars at their price, what is charged on top as they come to less than the shop's minimum, delivery,
    and what is paid in all. ``says``: the same in words."""

    shop: Text
    bars: Money
    below_minimum: Money
    delivery: Money
    cost: Money
    says: str


def shop_rows(job: Job, orders: Iterable[ShopOrder]) -> Iterator[ShopRow]:
    """A row a shop."""
    for one in orders:
        yield ShopRow(one.shop, one.bars, one.below_minimum, one.delivery, one.cost, _says(job, one))


def _says(job: Job, order: ShopOrder) -> str:
    currency = job.settings.currency
    shop = next(one for one in job.shops if one.name == order.shop)
    parts = [f"bars {wording.money(order.bars, currency)}"]
    if order.below_minimum:
        parts.append(f"{wording.money(order.below_minimum, currency)} more to its minimum")
    if order.delivery:
        parts.append(f"delivery {wording.money(order.delivery, currency)}")
    elif shop.delivery:
        parts.append(f"delivered free, as from {wording.money(shop.free_from, currency)}")
    total = f". Together {wording.money(order.cost, currency)}" if order.charges else ""
    return f"{order.shop}: {', '.join(parts)}{total}."


def charges_said(plan: Plan) -> tuple[str, ...]:
    """The orders in words, and the bars that are bought only for what a shop charges."""
    said = [row.says for row in shop_rows(plan.job, plan.orders)]
    if plan.charged:
        ways = [cut.if_spoilt for tube in plan.tubes for bar in tube.bars for cut in bar.cuts if cut.if_spoilt]
        kept = {name for way in ways for name in (way.bar, *(bar for bar, _ in way.layout))}
        for shop in plan.orders:
            more = [
                bar.name
                for tube in plan.tubes
                for bar in tube.bars
                if bar.source is Source.BUY and bar.shop == shop.shop and not bar.cuts and not bar.spares
                if bar.name not in kept
            ]
            if more and not shop.delivery:
                bars = f"Bar {more[0]} is" if len(more) == 1 else f"Bars {listed(more)} are"
                why = f"with {'it' if len(more) == 1 else 'them'} {shop.shop} delivers free, and everything costs less"
                said.append(f"{bars} not needed for the frame: {why}.")
    return tuple(said)
