"""What to order from a shop, tube by tube: section, grade, the bars by their length, how many, and what they weigh."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from cutplan.job.model import Job, Source
from cutplan.plan import wording
from cutplan.plan.model import Plan, Purchase, ShopOrder
from cutplan.plan.tables.shops import shop_rows


@dataclass(frozen=True, slots=True)
class OrderLine:
    """Bars of one length: how many of what length, in words; what they weigh together; price and cost in words; and
    what the shop cuts each into (empty: nothing)."""

    bars: str
    mass: str
    price: str
    cost: str
    cut: str = ""


@dataclass(frozen=True, slots=True)
class OrderRow:
    """A tube to be ordered from one ``shop`` (empty: none is named). ``asked``: its section and its grade, in words.
    ``how``: whether the shop delivers it or it is fetched there, in words (empty: the job does not say)."""

    tube: str
    asked: str
    lines: tuple[OrderLine, ...]
    shop: str = ""
    how: str = ""


@dataclass(frozen=True, slots=True)
class OrderPart:
    """What one ``shop`` is asked for. ``heading``: that shop, and whether it delivers; both are empty where none is
    named. What it weighs and costs, in words."""

    shop: str
    heading: str
    rows: tuple[OrderRow, ...]
    mass: str
    cost: str


@dataclass(frozen=True, slots=True)
class Order:
    """All of it, by shop: what the whole weighs, what it costs with its proof, and the bars in hand already, a sentence
    each."""

    parts: tuple[OrderPart, ...]
    mass: str
    cost: str
    in_hand: tuple[str, ...]


def order(plan: Plan) -> Order:
    """The order of ``plan``."""
    in_hand = tuple(wording.bar_title(bar, plan.job.settings) for bar in plan.bars if bar.source is Source.RACK)
    return bought(plan.job, plan.buy, plan.orders, wording.plan_cost(plan), in_hand)


def bought(
    job: Job, lines: Sequence[Purchase], orders: Iterable[ShopOrder], cost: str, in_hand: tuple[str, ...] = ()
) -> Order:
    """The order of these bars of ``job``. ``orders``: by shop; ``cost``: what all costs together, in words."""
    return Order(tuple(_parts(job, lines, tuple(orders))), _mass(job, lines), cost, in_hand)


def _parts(job: Job, lines: Sequence[Purchase], orders: Sequence[ShopOrder]) -> Iterator[OrderPart]:
    asks = {row.shop: row.asks for row in shop_rows(job, orders)}
    how = {one.shop: "to be fetched" if one.carried else "to be delivered" for one in orders}
    shops = tuple(dict.fromkeys(line.shop for line in lines))
    for shop in shops:
        mine = [line for line in lines if line.shop == shop]
        asked = tuple(_row(job, tube, mine, how.get(shop, "")) for tube in dict.fromkeys(line.tube for line in mine))
        named = f"From {shop or 'any shop'}" if any(shops) else ""
        heading = ", ".join(filter(None, (named, how.get(shop))))
        costs = [line.cost for line in mine]
        total = sum(cost for cost in costs if cost is not None)
        said = "" if None in costs else f"Together {wording.money(Decimal(total), job.settings.currency)}."
        yield OrderPart(shop, heading, asked, _mass(job, mine), asks.get(shop, said))


def _mass(job: Job, lines: Iterable[Purchase]) -> str:
    whole = sum(wording.mass(job, line.tube, line.length) * line.count for line in lines)
    return f"{whole:.1f} {wording.mass_unit(job.settings)}"


def _row(job: Job, tube: str, lines: Sequence[Purchase], how: str) -> OrderRow:
    settings = job.settings
    return OrderRow(
        tube,
        wording.ordered(job, tube),
        tuple(
            OrderLine(
                f"{line.count} x {wording.found(line.length, settings.units)} {settings.units.value}",
                _mass(job, [line]),
                wording.money(line.price, settings.currency),
                wording.money(line.cost, settings.currency),
                _cut(job, line),
            )
            for line in lines
            if line.tube == tube
        ),
        lines[0].shop,
        how,
    )


def _cut(job: Job, line: Purchase) -> str:
    """What a shop is asked to do to each bar of a line."""
    if not line.parts:
        return ""
    settings = job.settings
    kerf = next(shop.kerf_of(settings) for shop in job.shops if shop.name == line.shop)
    each = "each cut" if line.count > 1 else "cut"
    cuts = len(line.parts) - 1
    saw = f"the saw takes {wording.measured(kerf, settings)}" + (" a cut" if cuts > 1 else "")
    return f"{each} square into {wording.cut_into(line.parts, settings)} ({saw})"
