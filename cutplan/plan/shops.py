"""Bars from shops that charge for an order: the least total of bars and charges, over all tubes together.

What couples the tubes is settled in :mod:`cutplan.nesting.orders`; here a job's shops and prices become whole numbers
for it, and what is bought becomes orders.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from functools import partial
from itertools import chain

from cutplan.job.model import Job, Settings, Shop, Source, StockRow
from cutplan.nesting import Status
from cutplan.nesting.cut_bars import Parts
from cutplan.nesting.model import Stock
from cutplan.nesting.orders import Layout, Seller, Wanted, buy_together
from cutplan.plan.grid import grid_down, money_scale, usable
from cutplan.plan.model import Bar, ShopOrder
from cutplan.plan.parts import part_rows, ways_to_cut, wholes
from cutplan.plan.problem import Limits, Problem
from cutplan.plan.sequential.course import on_bars

ALL_TUBES = "all tubes"
"""What the progress of a search over several tubes is reported under."""

SEARCHED = 0.8
"""The share of the time that is spent finding what to buy; the rest is for laying it out."""


@dataclass(frozen=True, slots=True)
class _Way:
    """A way of buying from a shop: delivered, or ``carried`` home."""

    shop: Shop
    carried: bool

    def takes(self, row: StockRow, settings: Settings) -> Iterator[Parts | None]:
        """How the bars of ``row`` can be had in this way: whole (None), or cut into parts."""
        if row.shop == self.shop.name:
            if not self.carried or self.shop.carries(row.length):
                yield None
            elif self.shop.cuts:
                yield from ways_to_cut(row, self.shop, settings)


@dataclass(frozen=True, slots=True)
class Together:
    """What is bought for the tubes ``posed`` together, the parts of bars that a shop cuts being stocks of their own.
    ``bars``: for each of these how many of each of its stocks (None: no purchase was found, and so no ``cost``);
    ``used``: the ways it is bought, by shop, and whether carried home. ``bound``, and ``floors``, the least that the
    bars of each tube can cost alone: in money; ``status`` and ``short`` as of the search."""

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
    limits: Limits,
    without: Collection[tuple[str, bool]] = (),
) -> Together:
    """What to buy for the tubes ``posed``, with the spares of ``kept``. ``without``: shops that nothing is to be
    delivered from (False), or carried (True)."""
    ways = [way for way in _ways(job) if (way.shop.name, way.carried) not in without]
    prices = [row.price for one in posed for row in one.rows if row.price is not None]
    amounts = chain.from_iterable(
        (one.delivery, one.free_from or Decimal(0), one.minimum, one.cut or Decimal(0)) for one in job.shops
    )
    scale = money_scale([*prices, *amounts])
    kinds = [_kinds(job, one, ways) for one in posed]
    wanted = [_wanted(one, mine, kept[one.tube], scale, limits) for one, mine in zip(posed, kinds, strict=True)]

    def tell(cost: int | None, bound: int) -> None:
        if limits.progress is not None:
            limits.progress(ALL_TUBES, None if cost is None else Decimal(cost) / scale, Decimal(bound) / scale)

    found = buy_together(
        wanted,
        [_seller(ways, way, scale) for way in ways],
        time_limit=limits.part(SEARCHED).seconds,
        stop=limits.stop,
        progress=tell,
    )
    bars, taken = None, frozenset[tuple[str, bool]]()
    if found.bars is not None:
        each = list(zip(posed, kinds, found.bars, found.layouts, strict=True))
        posed, bars = zip(*(_by_row(*one) for one in each), strict=True)
        used = {kind.way for _, mine, counts, _ in each for kind, count in zip(mine, counts, strict=True) if count}
        taken = frozenset((way.shop.name, way.carried) for at, way in enumerate(ways) if at in used)
    cost = None if found.cost is None else Decimal(found.cost) / scale
    floors = tuple(Decimal(floor) / scale for floor in found.floors)
    return Together(tuple(posed), bars, taken, Decimal(found.bound) / scale, floors, found.status, found.short, cost)


def _wanted(problem: Problem, kinds: Sequence[_Kind], kept: tuple[int, Fraction], scale: int, limits: Limits) -> Wanted:
    """What is wanted of one tube, its prices in whole numbers by ``scale``."""
    count, length = kept
    at_once = count == 1 and problem.one_at_a_time
    priced = [replace(stock, price=stock.price * (scale // problem.scale)) for stock in problem.stocks]
    return Wanted(
        problem.pieces,
        tuple(_stock(problem, priced[kind.row], kind) for kind in kinds),
        tuple(kind.way for kind in kinds),
        problem.kerf,
        problem.spare(count, length),
        problem.joints or None,
        partial(_survives, problem, length, limits, kinds) if at_once else None,
        parts=tuple(kind.parts for kind in kinds),
        fees=tuple(0 if kind.parts is None else int(kind.fee * scale) for kind in kinds),
        sources=tuple(kind.row for kind in kinds),
    )


def _ways(job: Job) -> list[_Way]:
    """Every way of buying from the shops that charge for an order; a delivery before carrying from the same shop."""
    found = []
    for shop in job.shops:
        if shop.charges:
            found += [_Way(shop, carried=False)] if shop.delivers else []
            found += [_Way(shop, carried=True)] if shop.carry is not None else []
    return found


@dataclass(frozen=True, slots=True)
class _Kind:
    """A stock of the search: a ``row`` of the problem and the ``way`` it is bought, by number (None: it costs nothing
    besides); how it is cut into ``parts``, at which shop, and what that costs."""

    row: int
    way: int | None
    shop: Shop | None = None
    parts: Parts | None = None

    @property
    def fee(self) -> Decimal:
        """What the shop charges for cutting one of these bars."""
        assert self.shop is not None
        assert self.parts is not None
        return (self.shop.cut or Decimal(0)) * (self.parts.count - 1)


def _kinds(job: Job, problem: Problem, ways: Sequence[_Way]) -> list[_Kind]:
    """A stock for each row, each way it can be had and each number of parts it may be cut into."""
    charging = {shop.name for shop in job.shops if shop.charges}
    found: list[_Kind] = []
    for at, row in enumerate(problem.rows):
        if row.source is Source.RACK or row.shop not in charging:
            found.append(_Kind(at, None))
        else:
            found += [
                _Kind(at, number, way.shop, parts)
                for number, way in enumerate(ways)
                for parts in way.takes(row, job.settings)
            ]
    return found


def _stock(problem: Problem, stock: Stock, kind: _Kind) -> Stock:
    if kind.parts is None:
        return stock
    return replace(stock, length=max(kind.parts.as_one - problem.kerf, 0))


def _by_row(
    problem: Problem, kinds: Sequence[_Kind], counts: Sequence[int], layout: Layout
) -> tuple[Problem, tuple[int, ...]]:
    """How many bars of each row of the problem, which has a row more for each part that a shop cuts."""
    found = [0] * len(problem.rows)
    for kind, count in zip(kinds, counts, strict=True):
        found[kind.row] += count if kind.parts is None else 0
    rows, settings = list(problem.rows), problem.job.settings
    for whole, (at, loads) in enumerate(layout):
        kind = kinds[at]
        assert kind.shop is not None
        rows += part_rows(problem.rows[kind.row], kind.shop, settings, loads, whole)
    parts = rows[len(problem.rows) :]
    stocks = [
        Stock(grid_down(usable(row, settings), settings.units), int((row.price or 0) * problem.scale), 1)
        for row in parts
    ]
    extended = replace(problem, rows=tuple(rows), stocks=(*problem.stocks, *stocks))
    return extended, (*found, *(1 for _ in parts))


def _survives(
    problem: Problem, length: Fraction, limits: Limits, kinds: Sequence[_Kind], counts: tuple[int, ...], layout: Layout
) -> bool | None:
    extended, by_row = _by_row(problem, kinds, counts, layout)
    course, ruled_out = on_bars(extended, length, by_row, limits)
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
    every = tuple(bars)
    cuts = Counter(parts[0].shop for parts in wholes(every) for _ in parts[1:] if parts[0].source is Source.BUY)
    for bar in every:
        if bar.source is Source.BUY and bar.shop:
            goods[bar.shop] = goods.get(bar.shop, Decimal(0)) + (bar.price or Decimal(0))
    return tuple(
        _order(shop, goods[shop.name], cuts[shop.name], shop.name in carried or not shop.delivers)
        for shop in job.shops
        if shop.name in goods
    )


def _order(shop: Shop, goods: Decimal, cuts: int, carried: bool) -> ShopOrder:
    free = carried or (shop.free_from is not None and goods >= shop.free_from)
    return ShopOrder(
        shop=shop.name,
        bars=goods,
        below_minimum=max(shop.minimum - goods, Decimal(0)),
        delivery=Decimal(0) if free else shop.delivery,
        carried=carried,
        cuts=cuts * (shop.cut or Decimal(0)),
    )
