"""What to ask a shop for, tube by tube: section, grade, the bars by their length, how many, and what they weigh."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from cutplan.job.model import Job, Source
from cutplan.plan import wording
from cutplan.plan.model import Plan, Purchase, ShopOrder


@dataclass(frozen=True, slots=True)
class OrderLine:
    """Bars of one length: how many of what length, in words; what they weigh together; price and cost in words."""

    bars: str
    mass: str
    price: str
    cost: str


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
class Order:
    """All of it: what the whole weighs, what it costs with its proof, and the bars that lie in hand already, a sentence
    each."""

    rows: tuple[OrderRow, ...]
    mass: str
    cost: str
    in_hand: tuple[str, ...]


def order(plan: Plan) -> Order:
    """The order of ``plan``."""
    in_hand = tuple(
        wording.bar_title(bar, plan.job.settings)
        for tube in plan.tubes
        for bar in tube.bars
        if bar.source is Source.RACK
    )
    return bought(plan.job, plan.buy, plan.orders, wording.plan_cost(plan), in_hand)


def bought(
    job: Job, lines: Sequence[Purchase], orders: Iterable[ShopOrder], cost: str, in_hand: tuple[str, ...] = ()
) -> Order:
    """The order of these bars of ``job``. ``orders``: by shop; ``cost``: what all costs together, in words."""
    whole = sum(wording.mass(job, line.tube, line.length) * line.count for line in lines)
    return Order(tuple(_rows(job, lines, orders)), f"{whole:.1f} {wording.mass_unit(job.settings)}", cost, in_hand)


def _rows(job: Job, buy: Sequence[Purchase], orders: Iterable[ShopOrder]) -> Iterator[OrderRow]:
    settings = job.settings
    how = {one.shop: "to be fetched" if one.carried else "to be delivered" for one in orders}
    shops = {shop: at for at, shop in enumerate(dict.fromkeys(line.shop for line in buy))}
    for shop, tube in sorted(dict.fromkeys((line.shop, line.tube) for line in buy), key=lambda one: shops[one[0]]):
        lines = tuple(
            OrderLine(
                f"{line.count} x {wording.found(line.length, settings.units)} {settings.units.value}"
                + (f", cut into {wording.cut_into(line.parts, settings)}" if line.parts else ""),
                f"{wording.mass(job, tube, line.length) * line.count:.1f} {wording.mass_unit(settings)}",
                wording.money(line.price, settings.currency),
                wording.money(line.cost, settings.currency),
            )
            for line in buy
            if (line.shop, line.tube) == (shop, tube)
        )
        yield OrderRow(tube, wording.ordered(job, tube), lines, shop, how.get(shop, ""))
