"""Bars from shops that charge for an order: the least total of bars and charges, over all tubes together.

What couples the tubes is settled in :mod:`cutplan.nesting.orders`; here a job's shops and prices become whole numbers
for it, and what is bought becomes orders.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from itertools import chain

from cutplan.job.model import Job, Shop, Source
from cutplan.nesting.orders import Purchase, Seller, Wanted, buy_together
from cutplan.plan.grid import money_scale
from cutplan.plan.model import Bar, ShopOrder
from cutplan.plan.problem import Limits, Problem
from cutplan.plan.sequential.course import on_bars

ALL_TUBES = "all tubes"
"""What the progress of a search over several tubes is told under."""

SEARCHED = 0.8
"""How much of the time given goes into finding what to buy; the rest is for laying it out."""


@dataclass(frozen=True, slots=True)
class Together:
    """What is bought for the tubes ``posed`` together. ``cost``: of bars and charges (None: no purchase was found),
    with its ``bound``; ``floors``: the least that the bars of each tube can cost alone."""

    posed: tuple[Problem, ...]
    purchase: Purchase
    scale: int

    @property
    def cost(self) -> Decimal | None:
        """In money."""
        return None if self.purchase.cost is None else Decimal(self.purchase.cost) / self.scale

    @property
    def bound(self) -> Decimal:
        """In money."""
        return Decimal(self.purchase.bound) / self.scale

    def of(self, tube: str) -> tuple[Problem, tuple[int, ...], Decimal]:
        """One tube: its bars as bought already, how many of each stock, and the least that its bars can cost alone."""
        at = next(at for at, problem in enumerate(self.posed) if problem.tube == tube)
        assert self.purchase.bars is not None
        counts, problem = self.purchase.bars[at], self.posed[at]
        owned = tuple(
            replace(stock, price=0, count=count, owned=True)
            for stock, count in zip(problem.stocks, counts, strict=True)
        )
        return replace(problem, stocks=owned), counts, Decimal(self.purchase.floors[at]) / self.scale


def ordered_together(job: Job, posed: Sequence[Problem]) -> tuple[Problem, ...]:
    """Those of the tubes whose bars a shop sells that charges for an order."""
    charging = {shop.name for shop in job.shops if shop.charges}
    return tuple(one for one in posed if any(row.shop in charging for row in one.rows))


def bought_together(
    job: Job,
    posed: Sequence[Problem],
    kept: Mapping[str, tuple[int, Fraction]],
    at_once: Iterable[str],
    limits: Limits,
) -> Together:
    """What to buy for the tubes ``posed``, with the spares of ``kept``. ``at_once``: those of which one mistake is made
    good before the next cut."""
    shops = [shop for shop in job.shops if shop.charges]
    prices = [row.price for one in posed for row in one.rows if row.price is not None]
    amounts = chain.from_iterable((shop.delivery, shop.free_from or Decimal(0), shop.minimum) for shop in shops)
    scale = money_scale([*prices, *amounts])
    numbers = {shop.name: number for number, shop in enumerate(shops)}
    wanted = []
    for one in posed:
        count, length = kept[one.tube]
        stocks = tuple(replace(stock, price=stock.price * (scale // one.scale)) for stock in one.stocks)
        sellers = tuple(None if row.source is Source.RACK else numbers.get(row.shop) for row in one.rows)
        survives = None
        if one.tube in at_once:
            survives = lambda mix, one=one, length=length: _survives(one, length, mix, limits)  # noqa: E731
        wanted.append(
            Wanted(one.pieces, stocks, sellers, one.kerf, one.spare(count, length), one.joints or None, survives)
        )

    def tell(cost: int | None, bound: int) -> None:
        if limits.progress is not None:
            limits.progress(ALL_TUBES, None if cost is None else Decimal(cost) / scale, Decimal(bound) / scale)

    purchase = buy_together(
        wanted,
        [_seller(shop, scale) for shop in shops],
        time_limit=None if limits.seconds is None else limits.seconds * SEARCHED,
        stop=limits.stop,
        progress=tell,
    )
    return Together(tuple(posed), purchase, scale)


def _survives(problem: Problem, length: Fraction, bought: tuple[int, ...], limits: Limits) -> bool | None:
    course, ruled_out = on_bars(problem, length, bought, limits)
    return True if course is not None else False if ruled_out else None


def _seller(shop: Shop, scale: int) -> Seller:
    free = None if shop.free_from is None else int(shop.free_from * scale)
    return Seller(int(shop.delivery * scale), free, int(shop.minimum * scale))


def orders_of(job: Job, bars: Iterable[Bar]) -> tuple[ShopOrder, ...]:
    """What is ordered from each shop of the sheet ``Shops``, and what it charges for that."""
    goods: dict[str, Decimal] = {}
    for bar in bars:
        if bar.source is Source.BUY and bar.shop:
            goods[bar.shop] = goods.get(bar.shop, Decimal(0)) + (bar.price or Decimal(0))
    return tuple(_order(shop, goods[shop.name]) for shop in job.shops if shop.name in goods)


def _order(shop: Shop, goods: Decimal) -> ShopOrder:
    free = shop.free_from is not None and goods >= shop.free_from
    return ShopOrder(
        shop=shop.name,
        bars=goods,
        below_minimum=max(shop.minimum - goods, Decimal(0)),
        delivery=Decimal(0) if free else shop.delivery,
    )
