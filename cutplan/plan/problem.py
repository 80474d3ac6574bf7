"""One tube's share of a job as a packing problem in whole numbers.

An estimated blank takes the room of its greatest length. That is exact, not merely safe: each length is in doubt by
itself, so the worst case of them all together is every one at its upper end (Soyster 1973, column-wise uncertainty).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from cutplan.geometry.model import Blank, EndShape
from cutplan.job.model import Cut, Fitted, Job, Settings, Source, StockRow
from cutplan.nesting import Packing, Piece, Spare, Stock, pack
from cutplan.plan.grid import GRID, grid_down, grid_up, money_scale, usable


@dataclass(frozen=True, slots=True)
class Limits:
    """How long a search may take. ``seconds`` None: until proven. ``progress`` is given the tube,
    the best cost so far (None: none yet) and the bound, both in the tube's own cost. Once ``stop`` says so, the time
    is up."""

    seconds: float | None = None
    progress: Callable[[str, Decimal | None, Decimal], None] | None = None
    stop: Callable[[], bool] | None = None

    def part(self, share: float) -> Limits:
        """The same limits for this share of the time."""
        return self if self.seconds is None else replace(self, seconds=self.seconds * share)


@dataclass(frozen=True, slots=True)
class Problem:
    """What is packed for one tube. ``blanks[i]`` are the blanks whose pieces are ``pieces[i]``: marks of one
    length (and, where mitres may be shared, of the same ends) are one piece to the solver."""

    job: Job
    tube: str
    blanks: tuple[tuple[Blank, ...], ...]
    pieces: tuple[Piece, ...]
    rows: tuple[StockRow, ...]
    stocks: tuple[Stock, ...]
    kerf: int
    joints: Mapping[int, int]
    priced: bool
    scale: int

    @property
    def lengths(self) -> tuple[Fraction, ...]:
        """The distinct blank lengths, mm, longest first."""
        return tuple(sorted({group[0].length for group in self.blanks}, reverse=True))

    @property
    def one_at_a_time(self) -> bool:
        """Whether each member is fitted before the next is cut."""
        return self.job.settings.fitted is Fitted.ONE_AT_A_TIME

    def spare(self, count: int, length: Fraction) -> Spare | None:
        """Room for ``count`` more blanks of ``length`` mm, None where none is kept."""
        if count == 0 or length == 0:
            return None
        return Spare(grid_up(length, self.job.settings.units), count)

    def money(self, cost: int) -> Decimal:
        """A solver's cost as money, or as length bought in the job's units."""
        if self.priced:
            return Decimal(cost) / self.scale
        exact = cost * GRID[self.job.settings.units] / self.job.settings.units.mm
        return Decimal(exact.numerator) / exact.denominator

    def tell(self, limits: Limits, cost: int | None, bound: int) -> None:
        """Report how far a search is, in the tube's own cost."""
        if limits.progress is not None:
            limits.progress(self.tube, None if cost is None else self.money(cost), self.money(bound))

    def solve(self, count: int, length: Fraction, limits: Limits, *, second_aims: bool = True) -> Packing:
        """The best packing that keeps ``count`` spares of ``length`` mm."""
        return pack(
            self.pieces,
            self.stocks,
            kerf=self.kerf,
            spare=self.spare(count, length),
            joints=self.joints or None,
            second_aims=second_aims,
            time_limit=limits.seconds,
            stop=limits.stop,
            progress=lambda at: self.tell(limits, at.cost, at.bound),
        )


def problem_of(job: Job, tube: str, blanks: tuple[Blank, ...]) -> Problem:
    """The packing problem of the blanks of ``tube``."""
    settings = job.settings
    units = settings.units
    rows = tuple(row for row in job.stock if row.tube == tube and job.can_be_had(row))
    prices = [row.price for row in rows if row.source is Source.BUY and row.price is not None]
    scale = money_scale(prices)
    stocks = tuple(
        Stock(
            length=grid_down(usable(row, settings), units),
            price=_price(row, scale, priced=bool(prices), grid=GRID[units]),
            count=row.available,
            owned=row.source is Source.RACK,
        )
        for row in rows
    )
    groups: dict[tuple[Fraction, tuple[int, int]], list[Blank]] = {}
    classes: dict[tuple[float, int], int] = {}
    for blank in blanks:
        groups.setdefault((blank.length, _ends(blank, classes) if settings.share_mitres else (0, 0)), []).append(blank)
    ordered = sorted(groups.items(), key=lambda item: (-item[0][0], item[0][1]))
    od, mitres = job.tube(tube).od, classes.items()
    return Problem(
        job=job,
        tube=tube,
        blanks=tuple(tuple(group) for _, group in ordered),
        pieces=tuple(
            Piece(grid_up(length, units), sum(blank.count for blank in group), ends)
            for (length, ends), group in ordered
        ),
        rows=rows,
        stocks=stocks,
        kerf=grid_up(settings.kerf, units),
        joints={number: int(shared_saving(od, angle, settings) / GRID[units]) for (angle, _), number in mitres},
        priced=bool(prices),
        scale=scale,
    )


def shared_saving(od: Fraction, angle_deg: float, settings: Settings) -> Fraction:
    """What two facing ends of one mitre save by sharing a cut, mm: OD·tan α, less what the slanting blade takes
    along the tube over a square cut, kerf·(1/cos α - 1); rounded down to the grid, never below 0."""
    angle = math.radians(angle_deg)
    saving = float(od) * math.tan(angle) - float(settings.kerf) * (1 / math.cos(angle) - 1)
    return max(grid_down(Fraction(saving), settings.units), 0) * GRID[settings.units]


def _price(row: StockRow, scale: int, *, priced: bool, grid: Fraction) -> int:
    if row.source is Source.RACK:
        return 0
    if not priced:
        return math.ceil(row.length / grid)
    assert row.price is not None  # the reader lets no tube have prices on some of its bars only
    return int(row.price * scale)


def _ends(blank: Blank, classes: dict[tuple[float, int], int]) -> tuple[int, int]:
    """Numbers of the mitres at its ends; those of different stages are different, as they share no cut."""

    def number(shape: EndShape) -> int:
        # Where an estimated blank ends is not known when its neighbour is cut: it shares no cut.
        if shape.cut is not Cut.MITRE or shape.angle_deg == 0 or blank.estimated:
            return 0
        return classes.setdefault((shape.angle_deg, blank.stage), len(classes) + 1)

    return number(blank.end_a), number(blank.end_b)
