"""Bars from shops that charge for an order: the least total of bars and charges, over all tubes together.

What couples the tubes is settled in :mod:`cutplan.nesting.orders`; here a job's shops and prices become whole numbers
for it, and what is bought becomes orders.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from functools import partial
from itertools import chain

from cutplan.job.model import Job, Shop, Source, StockRow
from cutplan.nesting import Status
from cutplan.nesting.orders import Seller, Wanted, buy_together
from cutplan.plan.grid import money_scale
from cutplan.plan.model import Bar, ShopOrder
from cutplan.plan.problem import Limits, Problem
from cutplan.plan.sequential.course import on_bars

ALL_TUBES = "all tubes"
"""What the progress of a search over several tubes is told under."""

SEARCHED = 0.8
"""How much of the time given goes into finding what to buy; the rest is for laying it out."""


@dataclass(frozen=True, slots=True)
class _Way:
    """A way of buying from a shop: delivered, or ``carried`` home."""

    shop: Shop
    carried: bool

    def takes(self, row: StockRow) -> bool:
        """Whether the bars of ``row`` can be had in this way."""
        return row.shop == self.shop.name and (not self.carried or self.shop.carries(row.length))


@dataclass(frozen=True, slots=True)
class Together:
    """What is bought for the tubes ``posed`` together. ``bars``: for each of these how many of each of its stocks
    (None: no purchase was found, and so no ``cost``); ``used``: the ways it is bought, by shop, and whether carried
    home. ``bound``, and ``floors``, the least that the bars of each tube can cost alone: in money; ``status`` and
    ``short`` as of the search."""

    posed: tuple[Problem, ...]
    bars: tuple[tuple[int, ...], ...] | None
    used: frozenset[tuple[str, bool]]
    bound: Decimal
    floors: tuple[Decimal, ...]
    status: Status
    short: tuple[int, ...]
    cost: Decimal | None

    @property
    def carried(self) -> frozenset[str]:
        """The shops whose bars are carried home."""
        return frozenset(shop for shop, carried in self.used if carried)

    def of(self, tube: str) -> tuple[Problem, tuple[int, ...], Decimal]:
        """One tube: its bars as bought already, how many of each stock, and the least that its bars can cost alone."""
        at = next(at for at, problem in enumerate(self.posed) if problem.tube == tube)
        assert self.bars is not None
        counts, problem = self.bars[at], self.posed[at]
        owned = tuple(
            replace(stock, price=0, count=count, owned=True)
            for stock, count in zip(problem.stocks, counts, strict=True)
        )
        return replace(problem, stocks=owned), counts, self.floors[at]


def ways_of(job: Job) -> tuple[tuple[str, bool], ...]:
    """The ways of buying from the shops that charge for an order: by shop, and whether carried home."""
    return tuple((way.shop.name, way.carried) for way in _ways(job))


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
    without: Collection[tuple[str, bool]] = (),
) -> Together:
    """What to buy for the tubes ``posed``, with the spares of ``kept``. ``at_once``: those of which one mistake is made
    good before the next cut. ``without``: shops that nothing is to be delivered from (False), or carried (True)."""
    ways = [way for way in _ways(job) if (way.shop.name, way.carried) not in without]
    prices = [row.price for one in posed for row in one.rows if row.price is not None]
    amounts = chain.from_iterable((one.delivery, one.free_from or Decimal(0), one.minimum) for one in job.shops)
    scale = money_scale([*prices, *amounts])
    kinds = [_kinds(job, one, ways) for one in posed]
    wanted = []
    for one, mine in zip(posed, kinds, strict=True):
        count, length = kept[one.tube]
        priced = [replace(stock, price=stock.price * (scale // one.scale)) for stock in one.stocks]
        survives = None
        if one.tube in at_once:
            survives = partial(_survives, one, length, limits, mine)
        wanted.append(
            Wanted(
                one.pieces,
                tuple(priced[row] for row, _ in mine),
                tuple(seller for _, seller in mine),
                one.kerf,
                one.spare(count, length),
                one.joints or None,
                survives,
            )
        )

    def tell(cost: int | None, bound: int) -> None:
        if limits.progress is not None:
            limits.progress(ALL_TUBES, None if cost is None else Decimal(cost) / scale, Decimal(bound) / scale)

    found = buy_together(
        wanted,
        [_seller(ways, way, scale) for way in ways],
        time_limit=None if limits.seconds is None else limits.seconds * SEARCHED,
        stop=limits.stop,
        progress=tell,
    )
    bars, taken = None, frozenset[tuple[str, bool]]()
    if found.bars is not None:
        each = list(zip(posed, kinds, found.bars, strict=True))
        bars = tuple(_by_row(one, mine, counts) for one, mine, counts in each)
        used = {seller for _, mine, counts in each for (_, seller), count in zip(mine, counts, strict=True) if count}
        taken = frozenset((way.shop.name, way.carried) for at, way in enumerate(ways) if at in used)
    cost = None if found.cost is None else Decimal(found.cost) / scale
    floors = tuple(Decimal(floor) / scale for floor in found.floors)
    return Together(tuple(posed), bars, taken, Decimal(found.bound) / scale, floors, found.status, found.short, cost)


def _ways(job: Job) -> list[_Way]:
    """Every way of buying from the shops that charge for an order; a delivery before carrying from the same shop."""
    found = []
    for shop in job.shops:
        if shop.charges:
            found += [_Way(shop, carried=False)] if shop.delivers else []
            found += [_Way(shop, carried=True)] if shop.carry is not None else []
    return found


_Kinds = list[tuple[int, int | None]]
"""For each stock of the search the row of the problem, and the way it is bought by number."""


def _kinds(job: Job, problem: Problem, ways: Sequence[_Way]) -> _Kinds:
    """A stock for each row and each way it can be had."""
    charging = {shop.name for shop in job.shops if shop.charges}
    found: _Kinds = []
    for at, row in enumerate(problem.rows):
        if row.source is Source.RACK or row.shop not in charging:
            found.append((at, None))
        else:
            found += [(at, number) for number, way in enumerate(ways) if way.takes(row)]
    return found


def _by_row(problem: Problem, kinds: _Kinds, counts: Sequence[int]) -> tuple[int, ...]:
    """How many bars of each row of the problem."""
    found = [0] * len(problem.rows)
    for (row, _), count in zip(kinds, counts, strict=True):
        found[row] += count
    return tuple(found)


def _survives(
    problem: Problem, length: Fraction, limits: Limits, kinds: _Kinds, counts: tuple[int, ...]
) -> bool | None:
    course, ruled_out = on_bars(problem, length, _by_row(problem, kinds, counts), limits)
    return True if course is not None else False if ruled_out else None


def _seller(ways: Sequence[_Way], way: _Way, scale: int) -> Seller:
    shop, minimum = way.shop, int(way.shop.minimum * scale)
    if way.carried:
        delivered = _Way(shop, carried=False)
        return Seller(0, None, minimum, ways.index(delivered) if delivered in ways else None)
    free = None if shop.free_from is None else int(shop.free_from * scale)
    return Seller(int(shop.delivery * scale), free, minimum)


def orders_of(job: Job, bars: Iterable[Bar], carried: Collection[str] = ()) -> tuple[ShopOrder, ...]:
    """What is ordered from each shop of the sheet ``Shops``, and what it charges for that; ``carried``: the shops whose
    bars are carried home."""
    goods: dict[str, Decimal] = {}
    for bar in bars:
        if bar.source is Source.BUY and bar.shop:
            goods[bar.shop] = goods.get(bar.shop, Decimal(0)) + (bar.price or Decimal(0))
    return tuple(
        _order(shop, goods[shop.name], shop.name in carried or not shop.delivers)
        for shop in job.shops
        if shop.name in goods
    )


def _order(shop: Shop, goods: Decimal, carried: bool) -> ShopOrder:
    free = carried or (shop.free_from is not None and goods >= shop.free_from)
    return ShopOrder(
        shop=shop.name,
        bars=goods,
        below_minimum=max(shop.minimum - goods, Decimal(0)),
        delivery=Decimal(0) if free else shop.delivery,
        carried=carried,
    )
