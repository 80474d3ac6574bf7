"""What shops charge, and the bars they cut into parts: proved again from the bars, and from ``Stock`` and ``Shops``."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction

from cutplan.job.model import Job, Source, StockRow
from cutplan.plan.model import Bar, Plan
from cutplan.plan.verify.spares import HAIR


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


def cut_bars(plan: Plan) -> Iterator[tuple[StockRow, tuple[Bar, ...]]]:
    """Each bar of the ``Stock`` sheet that is cut into parts, with these, from end to end: those of which nothing is
    wrong (see `part_complaints`)."""
    every = {bar.name: bar for tube in plan.tubes for bar in tube.bars}
    for bar in every.values():
        whole = _whole(plan.job, bar)
        if bar.parts[:1] == (bar.name,) and whole is not None and not any(_wrong(plan, bar, every)):
            yield whole, tuple(every[name] for name in bar.parts)


def part_row(job: Job, whole: StockRow, part: Bar) -> StockRow:
    """A part as stock: only the mill ends of the whole bar lose their trim."""
    trim = trim_of(job, whole) if part.name in (part.parts[0], part.parts[-1]) else Fraction(0)
    return StockRow(part.tube, part.length, part.price, 1, Source.BUY, part.label, trim, sawn=True, shop=part.shop)


def part_complaints(plan: Plan) -> Iterator[str]:
    """What is wrong with the parts of bars."""
    every = {bar.name: bar for tube in plan.tubes for bar in tube.bars}
    for bar in every.values():
        if bool(bar.parts) != (bar.cut_from is not None):
            yield f"bar {bar.name}: is a part of a bar that has no length, or no parts"
        elif not bar.parts:
            continue
        elif bar.name not in bar.parts:
            yield f"bar {bar.name}: is not among the parts of its own bar"
        elif bar.parts[0] not in every or every[bar.parts[0]].parts != bar.parts:
            yield f"bar {bar.name}: its parts are not those of bar {bar.parts[0]}"
        elif bar.parts[0] == bar.name:
            yield from _wrong(plan, bar, every)


def _wrong(plan: Plan, first: Bar, every: Mapping[str, Bar]) -> Iterator[str]:
    """What is wrong with the bar of which ``first`` is the first part."""
    said = f"bars {', '.join(first.parts)}"
    if len(first.parts) < 2 or len(set(first.parts)) < len(first.parts) or not every.keys() >= set(first.parts):
        yield f"{said}: are not the parts of a bar"
        return
    parts = [every[name] for name in first.parts]
    shop = next((one for one in plan.job.shops if one.name == first.shop), None)
    if shop is None or shop.cut is None or shop.carry is None:
        yield f"{said}: {first.shop or 'nobody'} cuts no bars"
        return
    if len({(one.tube, one.shop, one.label, one.cut_from, one.parts) for one in parts}) > 1:
        yield f"{said}: are not parts of one and the same bar"
    if any(one.source is not Source.BUY for one in parts) or any(one.price is not None for one in parts[1:]):
        yield f"{said}: are not bought at the price of one bar"
    if _whole(plan.job, first) is None:
        yield f"{said}: no such bar in the Stock sheet"
    kerf = plan.job.settings.kerf if shop.kerf is None else shop.kerf
    yield from _long(said, parts, kerf)
    if not any(order.shop == first.shop and order.carried for order in plan.orders):
        yield f"{said}: are cut to be carried, but the order is delivered"


def _long(said: str, parts: Sequence[Bar], kerf: Fraction) -> Iterator[str]:
    """Where the parts with the cuts between them are not as long as their bar."""
    long = sum((one.length for one in parts), (len(parts) - 1) * kerf)
    whole = parts[0].cut_from or Fraction(0)
    if abs(long - whole) > HAIR:
        yield f"{said}: come to {float(long):g} mm with the cuts between them, not to {float(whole):g} mm"


def _whole(job: Job, first: Bar) -> StockRow | None:
    """The row of ``Stock`` that the bar is of which ``first`` is the first part; of rows alike but for their end trims
    the one that leaves as much of it."""
    alike = [
        row
        for row in job.stock
        if (row.tube, row.length, row.source, row.label) == (first.tube, first.cut_from, Source.BUY, first.label)
        if (row.price, row.shop) == (first.price, first.shop)
    ]
    return min(alike, key=lambda row: abs(_left(job, row, first) - first.usable), default=None)


def _left(job: Job, whole: StockRow, part: Bar) -> Fraction:
    settings, trim = job.settings, trim_of(job, whole)
    held = settings.saw_hold + max(settings.kerf - trim, Fraction(0)) if settings.saw_hold else Fraction(0)
    gone = part.cuts[-1].end + settings.kerf if part.cuts else Fraction(0)
    return max(part.length - trim - held - gone, Fraction(0))


def trim_of(job: Job, row: StockRow) -> Fraction:
    """What is lost at a mill end of this bar."""
    if row.end_trim is not None:
        return row.end_trim
    return job.settings.end_trim if row.source is Source.BUY else Fraction(0)
