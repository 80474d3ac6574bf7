"""A judge of bars that a shop cuts into parts: small jobs, every purchase, every number of parts, each blank in every
part. It works in mm from the rows of the job, and shares nothing with the search."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from itertools import combinations_with_replacement, product

from small_jobs import bars, blank, job, rack

from cutplan.geometry.model import Blank
from cutplan.job.model import Job, Settings, Shop, Source, StockRow


@dataclass(frozen=True)
class Sawn:
    """A bar in so many ``parts``, of which none may be longer than ``carry`` (None: it stays whole); ``kerf``: what the
    shop's cut takes, ``trim``: what a mill end loses."""

    length: Fraction
    parts: int = 1
    carry: Fraction | None = None
    kerf: Fraction = Fraction(0)
    trim: Fraction = Fraction(0)


Load = tuple[Fraction, ...]


def needs(bar: Sawn, part: int, load: Load, settings: Settings) -> Fraction:
    """How long a part must be for its blanks: kerfs between them, mill ends trimmed, the end that the vice holds, with
    a kerf before it unless the trim has it."""
    if not load:
        return Fraction(1 if bar.parts > 1 else 0)
    mill_ends = (part == 0) + (part == bar.parts - 1)
    long = sum(load, Fraction(0)) + settings.kerf * (len(load) - 1)
    far = bar.trim if mill_ends else Fraction(0)
    near = bar.trim if mill_ends == 2 else Fraction(0)
    return long + near + (settings.saw_hold + max(settings.kerf, far) if settings.saw_hold else far)


def serves(bar: Sawn, loads: Sequence[Load], settings: Settings) -> bool:
    """Whether the bar can be cut so that each part takes its load."""
    each = [needs(bar, part, load, settings) for part, load in enumerate(loads)]
    kerfs = (bar.parts - 1) * bar.kerf
    if bar.carry is not None and (max(each) > bar.carry or bar.parts * bar.carry + kerfs < bar.length):
        return False
    return sum(each, Fraction(0)) + kerfs <= bar.length


def holds(every: Sequence[Sawn], pieces: Sequence[Fraction], settings: Settings) -> bool:
    """Whether these bars take all ``pieces``, by trying each in every part, longest first."""
    pieces = sorted(pieces, reverse=True)
    loads: list[list[Load]] = [[()] * bar.parts for bar in every]
    seen: set[tuple[object, ...]] = set()

    def shape(at: int) -> tuple[object, ...]:
        bar, mine = every[at], loads[at]
        return (bar, tuple(sorted((mine[0], mine[-1]))), tuple(sorted(mine[1:-1])))

    def place(number: int) -> bool:
        if number == len(pieces):
            return True
        state = (number, *sorted(map(repr, map(shape, range(len(every))))))
        if state in seen:
            return False
        seen.add(state)
        tried = set()
        for at, bar in enumerate(every):
            for part in range(bar.parts):
                before = loads[at][part]
                loads[at][part] = tuple(sorted((*before, pieces[number])))
                if (now := repr(shape(at))) not in tried and serves(bar, loads[at], settings) and place(number + 1):
                    return True
                tried.add(now)
                loads[at][part] = before
        return False

    return all(serves(bar, mine, settings) for bar, mine in zip(every, loads, strict=True)) and place(0)


def bought(wanted: Job, row: StockRow, carried: bool) -> Iterator[tuple[Decimal, tuple[Sawn, ...]]]:
    """Every number of bars of ``row``, each in every number of parts: what the cuts cost, and the bars."""
    settings, shop = wanted.settings, next((one for one in wanted.shops if one.name == row.shop), None)
    trim = settings.end_trim if row.source is Source.BUY else Fraction(0)
    if row.end_trim is not None:
        trim = row.end_trim
    whole = Sawn(row.length, trim=trim)
    count = row.available or 0
    if row.source is Source.RACK:
        yield Decimal(0), (whole,) * count
        return
    if shop is None or not carried or (shop.carry is not None and row.length <= shop.carry):
        yield from ((Decimal(0), (whole,) * number) for number in range(count + 1))
        return
    yield Decimal(0), ()
    if shop.cut is None or shop.carry is None:
        return
    kerf = settings.kerf if shop.kerf is None else shop.kerf
    ways = [Sawn(row.length, parts, shop.carry, kerf, trim) for parts in range(2, 8)]
    for number in range(1, count + 1):
        for mine in combinations_with_replacement(
            [way for way in ways if serves(way, [()] * way.parts, settings)], number
        ):
            yield shop.cut * sum(bar.parts - 1 for bar in mine), mine


def least_total(wanted: Job, blanks: Sequence[Blank]) -> Decimal | None:
    """The least that bars, cuts and deliveries can come to; None: no purchase serves."""
    totals = [
        total
        for carried in product((False, True), repeat=len(wanted.shops))
        if all(
            shop.carry is not None if way else shop.delivers for shop, way in zip(wanted.shops, carried, strict=True)
        )
        if (total := _least_in(wanted, blanks, dict(zip((s.name for s in wanted.shops), carried, strict=True))))
        is not None
    ]
    return min(totals, default=None)


def _least_in(wanted: Job, blanks: Sequence[Blank], carried: dict[str, bool]) -> Decimal | None:
    sums: set[tuple[Decimal, ...]] = {(Decimal(0),) * (len(wanted.shops) + 1)}
    names = [shop.name for shop in wanted.shops]
    for tube in wanted.tubes:
        pieces = [one.length for one in blanks if one.tube == tube.name for _ in range(one.count)]
        pieces += [max(pieces)] * wanted.settings.spares
        rows = [row for row in wanted.stock if row.tube == tube.name]
        mine: set[tuple[Decimal, ...]] = set()
        for chosen in product(*(list(bought(wanted, row, carried.get(row.shop, False))) for row in rows)):
            goods = [Decimal(0)] * (len(names) + 1)
            for row, (cuts, some) in zip(rows, chosen, strict=True):
                goods[-1] += cuts
                goods[names.index(row.shop) if row.shop in names else -1] += (row.price or 0) * len(some)
            spent = tuple(goods)
            if any(all(a <= b for a, b in zip(one, spent, strict=True)) for one in mine if not any(_free(wanted))):
                continue
            if spent not in mine and holds([bar for _, some in chosen for bar in some], pieces, wanted.settings):
                mine.add(spent)
        sums = {tuple(a + b for a, b in zip(one, more, strict=True)) for one in sums for more in mine}
    totals = [
        goods[-1]
        + sum(_charged(shop, spent, carried[shop.name]) for shop, spent in zip(wanted.shops, goods, strict=False))
        for goods in sums
    ]
    return min(totals, default=None)


def _free(wanted: Job) -> Iterator[bool]:
    """Whether more goods may make a delivery free."""
    yield from (shop.free_from is not None for shop in wanted.shops)


def _charged(shop: Shop, goods: Decimal, carried: bool) -> Decimal:
    if not goods:
        return goods
    free = carried or (shop.free_from is not None and goods >= shop.free_from)
    return max(goods, shop.minimum) + (0 if free else shop.delivery)


def drawn(seed: int) -> tuple[Job, list[Blank]]:
    """A small job, as a person could have it: bars of 5 or 6 m, a car that takes less, a shop that cuts."""
    draw = random.Random(seed)
    carry = Fraction(draw.choice((2000, 2500, 2990, 2999, 3000, 3100, 3500, 4000)))
    settings = Settings(
        kerf=Fraction(draw.choice(("2", "2.5", "3"))),
        end_trim=Fraction(draw.choice((0, 0, 5, 1))),
        saw_hold=Fraction(draw.choice((0, 0, 40))),
        spares=draw.randint(0, 1),
    )
    shop = Shop(
        "North",
        Decimal(draw.choice(("0", "0", "9.5", "18"))),
        minimum=Decimal(draw.choice(("0", "0", "50"))),
        carry=carry,
        cut=Decimal(draw.choice(("0", "0.5", "2"))),
        kerf=draw.choice((None, Fraction(1), Fraction(4))),
    )
    blanks, stock = [], []
    for tube in ("T", "U")[: draw.choice((1, 1, 2))]:
        lengths = [draw.randint(400, int(carry)) for _ in range(draw.randint(1, 2))]
        if draw.random() < 0.3:
            lengths[0] = int(carry) - draw.randint(0, 60)
        blanks += [blank(f"{tube}{n}", long, draw.randint(1, 2), tube=tube) for n, long in enumerate(lengths)]
        long = draw.choice((5000, 6000))
        stock.append(replace(bars(long, f"{draw.randint(3000, 5000) / 100}", 2, tube=tube), shop="North"))
        if draw.random() < 0.5:
            short = f"{draw.randint(1700, 2700) / 100}"
            stock.append(replace(bars(min(3000, int(carry)), short, 2, tube=tube), shop="North"))
        if draw.random() < 0.3:
            stock.append(rack(draw.randint(1000, 2500), tube=tube))
    return replace(job(stock, blanks, settings), shops=(shop,)), blanks
