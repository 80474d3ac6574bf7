"""What shops charge, proved again from the bars and the sheet ``Shops`` alone."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from cutplan.job.model import Job, Source
from cutplan.plan.model import Plan


def charges_of(plan: Plan) -> dict[str, tuple[Decimal, Decimal, Decimal, Decimal]]:
    """For each shop of the job that bars are bought from: what they come to, what is missing to its minimum, its
    delivery, and its cuts."""
    found = {}
    carried = {one.shop for one in plan.orders if one.carried}
    for shop in plan.job.shops:
        prices = [
            bar.price for tube in plan.tubes for bar in tube.bars if bar.source is Source.BUY and bar.shop == shop.name
        ]
        if not prices:
            continue
        goods = sum((price for price in prices if price is not None), Decimal(0))
        cuts = sum(
            len(bar.parts) - 1
            for tube in plan.tubes
            for bar in tube.bars
            if bar.source is Source.BUY and bar.shop == shop.name and bar.parts and bar.parts[0] == bar.name
        )
        delivered = shop.free_from is None or goods < shop.free_from
        found[shop.name] = (
            goods,
            shop.minimum - goods if goods < shop.minimum else Decimal(0),
            shop.delivery if delivered and shop.name not in carried else Decimal(0),
            cuts * (shop.cut or Decimal(0)),
        )
    return found


def some_charge(job: Job) -> bool:
    """Whether any shop of ``job`` charges for an order."""
    cuts = any(shop.cut is not None and shop.carry is not None for shop in job.shops)
    return cuts or any(shop.delivery > 0 or shop.minimum > 0 for shop in job.shops)


def charge_complaints(plan: Plan) -> Iterator[str]:
    """Where the orders of ``plan`` are not what its bars come to."""
    right = charges_of(plan)
    yield from _carried(plan)
    names = [one.shop for one in plan.orders]
    if len(set(names)) < len(names):
        yield "a shop has two orders"
    for one in plan.orders:
        if one.shop not in right:
            yield f"an order from {one.shop}, but no bar is bought there"
    planned = {one.shop: (one.bars, one.below_minimum, one.delivery, one.cuts) for one in plan.orders}
    for shop, amounts in right.items():
        if shop not in planned:
            yield f"bars are bought from {shop}, but there is no order"
        elif planned[shop] != amounts:
            words = ("bars", "what is charged to reach the minimum", "delivery", "cuts")
            word, mine, theirs = next(
                (word, a, b) for word, a, b in zip(words, amounts, planned[shop], strict=True) if a != b
            )
            yield f"the order from {shop}: {word} {mine}, not {theirs}"


def _carried(plan: Plan) -> Iterator[str]:
    """Bars that must be carried home, though they are too long for that."""
    planned = {one.shop: one.carried for one in plan.orders}
    for shop in plan.job.shops:
        only = shop.carry is not None and not shop.delivery
        carried = planned.get(shop.name, only)
        if only and not carried:
            yield f"the order from {shop.name} is said to be delivered, but that shop does not deliver"
        if carried and shop.carry is None:
            yield f"the order from {shop.name} is said to be carried home, but its carry is blank"
        for bar in (bar for tube in plan.tubes for bar in tube.bars if bar.source is Source.BUY):
            if carried and bar.shop == shop.name and shop.carry is not None and bar.length > shop.carry:
                yield f"bar {bar.name}: is too long to be carried home from {shop.name}"
