"""What shops charge, proved again from the bars and the sheet ``Shops`` alone."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from cutplan.job.model import Job, Source
from cutplan.plan.model import Plan


def charges_of(plan: Plan) -> dict[str, tuple[Decimal, Decimal, Decimal]]:
    """For each shop of the job that bars are bought from: what they come to, what is missing to its minimum, and its
    delivery."""
    found = {}
    for shop in plan.job.shops:
        prices = [
            bar.price for tube in plan.tubes for bar in tube.bars if bar.source is Source.BUY and bar.shop == shop.name
        ]
        if not prices:
            continue
        goods = sum((price for price in prices if price is not None), Decimal(0))
        delivered = shop.free_from is None or goods < shop.free_from
        found[shop.name] = (
            goods,
            shop.minimum - goods if goods < shop.minimum else Decimal(0),
            shop.delivery if delivered else Decimal(0),
        )
    return found


def some_charge(job: Job) -> bool:
    """Whether any shop of ``job`` charges for an order."""
    return any(shop.delivery > 0 or shop.minimum > 0 for shop in job.shops)


def charge_complaints(plan: Plan) -> Iterator[str]:
    """Where the orders of ``plan`` are not what its bars come to."""
    right = charges_of(plan)
    names = [one.shop for one in plan.orders]
    if len(set(names)) < len(names):
        yield "a shop has two orders"
    for one in plan.orders:
        if one.shop not in right:
            yield f"an order from {one.shop}, but no bar is bought there"
    told = {one.shop: (one.bars, one.below_minimum, one.delivery) for one in plan.orders}
    for shop, amounts in right.items():
        if shop not in told:
            yield f"bars are bought from {shop}, but there is no order"
        elif told[shop] != amounts:
            words = ("bars", "what is missing to the minimum", "delivery")
            word, mine, theirs = next(
                (word, a, b) for word, a, b in zip(words, amounts, told[shop], strict=True) if a != b
            )
            yield f"the order from {shop}: {word} {mine}, not {theirs}"
