"""Bars that a shop cuts into parts, none longer than can be carried: what a part yields, and how long each comes out.

A part at the end of the bar has a mill end, which loses its end trim, and a sawn one; a part from the middle has two
sawn ends, which lose nothing (the shop cuts square). The vice holds the end of every part like that of a bar. A shop
makes as few cuts as it must, or more where that is worth what they cost, but at most twice as many parts as it must.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from itertools import groupby
from operator import itemgetter

from cutplan.job.model import INCH, Job, Settings, Shop, Source, StockRow, Units
from cutplan.nesting.cut_bars import Loads, Parts
from cutplan.plan.grid import GRID, end_trim, grid_down, usable
from cutplan.plan.model import Bar
from cutplan.plan.problem import Problem

MOST_PARTS = 12
"""No shop is asked for more parts of one bar."""

_LEAST = Fraction(1)
"""mm; no part is shorter than that, even one that nothing is cut from."""
_MARGIN = Fraction(5)
"""mm added to each part where the bar is long enough: no shop cuts to a tenth."""
_MARKED = {Units.MM: Fraction(1), Units.IN: INCH / 16}
"""Part lengths are multiples of this, where there is room."""


@dataclass(frozen=True, slots=True)
class PartRow(StockRow):
    """A part of a bought bar as stock: part ``number`` (from 0) of the bar ``whole`` (any number, the same for its
    parts), which was ``cut_from`` mm long."""

    whole: int = 0
    number: int = 0
    cut_from: Fraction = Fraction(0)


def fewest_parts(row: StockRow, shop: Shop, settings: Settings) -> int:
    """Into how many parts at least a bar must be cut to be carried."""
    assert shop.carry is not None
    kerf = shop.kerf_of(settings)
    return math.ceil((row.length + kerf) / (shop.carry + kerf))


def ways_to_cut(row: StockRow, shop: Shop, settings: Settings) -> tuple[Parts, ...]:
    """How a shop may cut a bar that is too long to be carried, in whole numbers of the grid, fewest parts first; none
    where that takes too many."""
    fewest = fewest_parts(row, shop, settings)
    if fewest > MOST_PARTS:
        return ()
    return tuple(_parts(row, shop, settings, count) for count in range(fewest, min(2 * fewest, MOST_PARTS) + 1))


def _parts(row: StockRow, shop: Shop, settings: Settings, count: int) -> Parts:
    assert shop.carry is not None
    units = settings.units
    held, trim = _held(settings), _lost(row, settings)
    room = shop.carry - held + settings.kerf
    whole = row.length - 2 * trim - (count - 1) * shop.kerf_of(settings) - count * _LEAST
    each = math.ceil((held - settings.kerf - _LEAST) / GRID[units])
    return Parts(count, grid_down(room - trim, units), grid_down(room, units), grid_down(whole, units), each)


def _held(settings: Settings) -> Fraction:
    """What the vice takes of every part, with the kerf of its last cut."""
    return settings.saw_hold + settings.kerf if settings.saw_hold else Fraction(0)


def _lost(row: StockRow, settings: Settings) -> Fraction:
    """What a mill end takes of its part as well: its end trim, which may hold the kerf of the last cut already."""
    trim = end_trim(row, settings)
    return max(trim - settings.kerf, Fraction(0)) if settings.saw_hold else trim


def longest_in_part(row: StockRow, shop: Shop, settings: Settings) -> Fraction:
    """The longest blank that a part of such a bar holds, mm."""
    ways = ways_to_cut(row, shop, settings)
    room = max((max(way.end, way.middle if way.count > 2 else 0) for way in ways), default=0)
    return max(room * GRID[settings.units] - settings.kerf, Fraction(0))


def longest_carried(job: Job, shop: Shop, tube: str) -> Fraction:
    """The longest blank of ``tube`` that bars carried home from ``shop`` give, whole or in parts, mm."""
    rows = [row for row in job.stock if row.tube == tube and row.shop == shop.name]
    whole = [usable(row, job.settings) for row in rows if shop.carries(row.length)]
    cut = [longest_in_part(row, shop, job.settings) for row in rows if shop.cuts and not shop.carries(row.length)]
    return max([*whole, *cut], default=Fraction(0))


def yields(job: Job, row: StockRow) -> Fraction:
    """What a bar yields in one piece, mm: the whole, or the most useful part where it must be cut to be carried."""
    if job.is_whole(row):
        return usable(row, job.settings)
    return max(longest_in_part(row, shop, job.settings) for shop in job.shops if shop.name == row.shop)


def one_part_each(problem: Problem) -> Problem:
    """``problem`` with only one part counted of each bar that must be cut to be carried: anything that can be cut from
    these can be cut from the bars; ``problem`` itself if there is no such bar."""
    job = problem.job
    if all(job.is_whole(row) for row in problem.rows):
        return problem
    units = job.settings.units
    stocks = (
        replace(stock, length=grid_down(yields(job, row), units))
        for row, stock in zip(problem.rows, problem.stocks, strict=True)
    )
    return replace(problem, stocks=tuple(stocks))


def part_rows(row: StockRow, shop: Shop, settings: Settings, loads: Loads, whole: int) -> tuple[PartRow, ...]:
    """The parts of a bar, in order from one end, each with room for what is put into it (``loads``, on the grid). The
    price of the bar is that of its first part."""
    lengths = _lengths(row, shop, settings, loads)
    trim = end_trim(row, settings)
    last = len(lengths) - 1
    return tuple(
        PartRow(
            tube=row.tube,
            length=length,
            price=row.price if number == 0 else None,
            available=1,
            source=Source.BUY,
            label=row.label,
            end_trim=trim if number in (0, last) else Fraction(0),
            sawn=True,
            shop=row.shop,
            whole=whole,
            number=number,
            cut_from=row.length,
        )
        for number, length in enumerate(lengths)
    )


def _lengths(row: StockRow, shop: Shop, settings: Settings, loads: Loads) -> list[Fraction]:
    """How long the parts are: as long as they must be, a little more where there is some left over, and all that is
    left then in one part, where it is of most use."""
    assert shop.carry is not None
    carry = shop.carry
    grid, step = GRID[settings.units], _MARKED[settings.units]
    held, trim, last = _held(settings), _lost(row, settings), len(loads) - 1
    found = [
        load * grid - settings.kerf + held + (trim if at in (0, last) else 0) if load else _LEAST
        for at, load in enumerate(loads)
    ]
    over = row.length - last * shop.kerf_of(settings) - sum(found)

    def more(at: int, wanted: Fraction) -> None:
        nonlocal over
        given = max(min(wanted, over, carry - found[at]), Fraction(0))
        found[at] += given
        over -= given

    most = max(range(len(loads)), key=lambda at: (not loads[at], carry - found[at], at))
    for at in range(len(loads)):
        if at != most:
            marked = math.ceil((found[at] + min(_MARGIN, over / len(loads))) / step) * step
            if marked - found[at] <= over:
                more(at, marked - found[at])
    for at in sorted(range(len(loads)), key=lambda at: at != most):
        more(at, over)
    assert over == 0
    return found


def linked(bars: Iterable[Bar], rows: Mapping[str, StockRow]) -> tuple[Bar, ...]:
    """``bars``, with each part naming all parts of its bar. ``rows``: the stock of each bar, by its name."""
    every = [(bar, rows[bar.name]) for bar in bars]
    parts = sorted((row.whole, row.number, bar.name) for bar, row in every if isinstance(row, PartRow))
    names = {whole: tuple(name for *_, name in group) for whole, group in groupby(parts, key=itemgetter(0))}
    return tuple(
        replace(bar, cut_from=row.cut_from, parts=names[row.whole]) if isinstance(row, PartRow) else bar
        for bar, row in every
    )


def bought_whole(bars: Iterable[Bar]) -> Iterator[tuple[Bar, Fraction, tuple[Fraction, ...]]]:
    """The bars to buy, each once: a bar, or the first part of one, how long the whole is, and how long its parts are
    (none: it is not cut)."""
    every = {bar.name: bar for bar in bars}
    for bar in every.values():
        if bar.source is not Source.BUY or bar.parts[:1] not in ((), (bar.name,)):
            continue
        long = bar.length if bar.cut_from is None else bar.cut_from
        yield bar, long, tuple(every[name].length for name in bar.parts)


def bought_lengths(bars: Iterable[Bar]) -> Counter[tuple[str, Fraction, Decimal | None, str]]:
    """How many bars of each tube, length, price and shop are bought."""
    return Counter((bar.tube, long, bar.price, bar.shop) for bar, long, _ in bought_whole(bars))


def row_of_part(job: Job, bar: Bar, price: Decimal | None) -> StockRow:
    """The stock of a part: a bar as long as the part, with its ends. ``price``: of the whole bar."""
    whole = next(
        row
        for row in job.stock
        if (row.tube, row.length, row.source, row.label) == (bar.tube, bar.cut_from, Source.BUY, bar.label)
        if (row.price, row.shop) == (price, bar.shop)
    )
    return part_of(whole, job.settings, bar.length, mill_end=bar.name in (bar.parts[0], bar.parts[-1]))


def part_of(whole: StockRow, settings: Settings, length: Fraction, *, mill_end: bool) -> StockRow:
    """A part of this ``length`` as stock; ``mill_end``: it is from an end of the bar."""
    trim = end_trim(whole, settings) if mill_end else Fraction(0)
    return replace(whole, length=length, price=None, available=1, end_trim=trim, sawn=True)


def wholes(bars: Sequence[Bar]) -> Iterator[tuple[Bar, ...]]:
    """The parts of each bar that is cut into parts."""
    every = {bar.name: bar for bar in bars}
    for bar in bars:
        if bar.parts[:1] == (bar.name,):
            yield tuple(every[name] for name in bar.parts)
