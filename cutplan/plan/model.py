"""A plan as frozen dataclasses: what to buy, what to cut from each bar in what order, what stays as a spare.

Lengths are exact fractions of millimetres. Along a bar, positions run from its squared end.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction
from html import escape
from typing import TYPE_CHECKING

from cutplan.errors import CutplanError
from cutplan.geometry.model import Blank
from cutplan.geometry.roughcut import RoughCut
from cutplan.job.faults import Remark, listed
from cutplan.job.model import Fitted, Job, Settings, Source, StockRow

if TYPE_CHECKING:
    import pandas as pd

Money = tuple[Decimal | None, Decimal | None, bool]
"""Cost, bound and whether proven, of several tubes together."""

SPOILT_PIECE = "the spoilt piece"
"""In a new layout, what is still good of the blank that was spoilt."""


@dataclass(frozen=True, slots=True)
class Recovery:
    """Where the replacement of a spoilt cut would come from: the bar, and how in one line.

    Only where pieces are fitted one at a time: ``layout``, all that is then still to be cut, bar by bar (by name, or
    ``SPOILT_PIECE``), by mark. Only where several spares are kept after all cuts: ``following``, the bars to turn to in
    this order when earlier mistakes have used ``bar``."""

    bar: str
    how: str
    layout: tuple[tuple[str, tuple[str, ...]], ...] = ()
    following: tuple[str, ...] = ()

    @property
    def bars(self) -> set[str]:
        """All that it names: the bars to turn to, and those of the new layout."""
        return {self.bar, *self.following, *(name for name, _ in self.layout)}


@dataclass(frozen=True, slots=True)
class SawCut:
    """One cut. ``number`` runs through the whole job in the order of sawing. ``start``, ``end``: from the
    bar's squared end. ``left``: what a tape should find of the bar after the cut, to its far end.
    ``if_spoilt`` None: nothing in hand could replace it. ``shared``: its leading mitre is the cut that freed the
    blank before it. ``flipped``: end b comes first on the bar."""

    number: int
    mark: str
    blank: Fraction
    start: Fraction
    end: Fraction
    left: Fraction
    if_spoilt: Recovery | None = None
    shared: bool = False
    flipped: bool = False


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar as it will be used. ``name`` is unique in the plan (painted on the bar). ``spares``: how many
    spare lengths are kept on it. ``offcut``: what is left after its last cut, to its far end (the whole bar
    where it is only kept). ``usable``: the part of that which can still be cut (no far end trim, no saw hold).
    ``price`` None: not given. ``bought``: it is in hand, bought for this job before this plan was made.
    ``cut_from``: it is a part of a bar of that length, which the shop cuts; ``parts``: the names of all parts of that
    bar, from one end to the other. The price of such a bar is that of its first part."""

    name: str
    tube: str
    source: Source
    label: str
    length: Fraction
    price: Decimal | None
    end_trim: Fraction
    cuts: tuple[SawCut, ...]
    spares: int
    offcut: Fraction
    usable: Fraction
    shop: str = ""
    bought: bool = False
    cut_from: Fraction | None = None
    parts: tuple[str, ...] = ()

    def with_cuts(self, change: Callable[[SawCut], SawCut]) -> Bar:
        """The bar with each of its cuts changed."""
        return replace(self, cuts=tuple(map(change, self.cuts)))


def labelled(name: str, label: str) -> str:
    """How a piece in hand is labelled: by its bar's name, as written on it, then its own label."""
    return f"bar {name}, {label}" if label else f"bar {name}"


def own_label(name: str, label: str) -> str:
    """The same without the bar's name in front."""
    return "" if label == labelled(name, "") else label.removeprefix(f"bar {name}, ")


@dataclass(frozen=True, slots=True)
class Purchase:
    """A line of the buy list. ``price``, ``cost`` None: no price was given. ``shop``: who sells it (empty: not given).
    ``parts``: how long the parts are that the shop cuts each of these bars into, from end to end (none: it is not)."""

    tube: str
    length: Fraction
    count: int
    price: Decimal | None
    cost: Decimal | None
    shop: str = ""
    parts: tuple[Fraction, ...] = ()


@dataclass(frozen=True, slots=True)
class ShopOrder:
    """What is ordered from one shop: its ``bars`` at their price, what is charged on top as that is ``below_minimum``,
    the ``delivery`` (0: free), and the ``cuts`` that it makes. ``carried``: its bars are carried home in place of
    delivery."""

    shop: str
    bars: Decimal
    below_minimum: Decimal
    delivery: Decimal
    carried: bool = False
    cuts: Decimal = Decimal(0)

    @property
    def charges(self) -> Decimal:
        """What is paid on top of the bars."""
        return self.below_minimum + self.delivery + self.cuts

    @property
    def cost(self) -> Decimal:
        """What is paid in all."""
        return self.bars + self.charges


@dataclass(frozen=True, slots=True)
class Spares:
    """What the plan insures: ``wanted`` mistakes at once, each of up to ``length`` (0: none kept), in any of
    the ``insured`` marks. ``not_insured``: the marks that nothing kept could replace. ``fitted``: after all cuts the
    room is there when everything is cut; one at a time, each mistake is made good before the next cut."""

    wanted: int
    length: Fraction
    insured: tuple[str, ...]
    not_insured: tuple[str, ...]
    fitted: Fitted = Fitted.AFTER_ALL


@dataclass(frozen=True, slots=True)
class TubePlan:
    """The plan of one tube. ``cost`` and ``bound`` are money, or, where the tube has no prices, the length
    bought in the job's units (``priced`` False). ``proven``: no cheaper plan exists."""

    tube: str
    priced: bool
    cost: Decimal
    bound: Decimal
    proven: bool
    bars: tuple[Bar, ...]
    spares: Spares

    @property
    def cuts(self) -> tuple[SawCut, ...]:
        """The cuts, bar by bar."""
        return tuple(cut for bar in self.bars for cut in bar.cuts)

    @property
    def needed(self) -> set[str]:
        """The bars that are cut, keep a spare, or are named for a replacement."""
        names = {bar.name for bar in self.bars if bar.cuts or bar.spares}
        return names.union(*(cut.if_spoilt.bars for cut in self.cuts if cut.if_spoilt))


def together(tubes: Sequence[TubePlan]) -> Money:
    """What these tubes cost together: money, or length where none has prices. Where one has prices and another, that
    must be bought, has none, there is no sum and nothing is proven of it."""
    priced = [tube for tube in tubes if tube.priced]
    if priced and any(tube.cost for tube in tubes if not tube.priced):
        return None, None, False
    counted = priced or tubes
    return (
        sum((tube.cost for tube in counted), Decimal(0)),
        sum((tube.bound for tube in counted), Decimal(0)),
        all(tube.proven for tube in tubes),
    )


def with_charges(tubes: Sequence[TubePlan], orders: Iterable[ShopOrder], bound: Decimal) -> Money:
    """What these tubes and the orders cost together; ``bound``: the least that tubes and orders can, where there are
    any orders that charge."""
    cost, floor, _ = together(tubes)
    charges = sum((order.charges for order in orders), Decimal(0))
    if cost is None or floor is None:
        return None, None, False
    bound = max(bound, floor)
    return cost + charges, bound, bound == cost + charges


@dataclass(frozen=True, slots=True)
class Made:
    """A blank cut before this plan was made (its ``count`` is 1). ``number``: its own on the saw list,
    after every cut, should it still be spoilt in fitting. ``to_do``: what is still to be done to it because the job
    changed after it was sawn, in words. ``fitted``: it is tacked in and good. ``sawn``: how long it really is, where
    the job changed after it was fitted (None: as its blank)."""

    number: int
    blank: Blank
    to_do: str = ""
    fitted: bool = False
    sawn: Fraction | None = None

    @property
    def length(self) -> Fraction:
        """How long it really is."""
        return self.blank.length if self.sawn is None else self.sawn


@dataclass(frozen=True, slots=True)
class JobFile:
    """The job that a plan was made of, as it was in its file. ``path``: where it is (in a saw list, from the list's
    own folder); ``digest``: shows whether it has changed since; ``stock``: its own rows, without those of a rack's
    file; ``settings``: as written, without what was asked for on the command line."""

    path: str
    digest: str
    stock: tuple[StockRow, ...]
    settings: Settings


@dataclass(frozen=True, slots=True)
class Early:
    """Where members are fitted one at a time, a blank that is sawn before one that it lands on: ``cut``, the first of
    ``mark``, comes before ``onto_cut``, the last of ``onto``."""

    cut: int
    mark: str
    onto: str
    onto_cut: int


@dataclass(frozen=True, slots=True)
class RoughEnd:
    """The straight cuts (none to two) that rough out the saddle at ``end`` ("a" or "b") of the piece ``mark``."""

    mark: str
    end: str
    cuts: tuple[RoughCut, ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """A whole plan. ``cost``: money, or, where no tube has prices, the length bought; None (and so ``bound``, and
    nothing ``proven``) where only some of what is bought has a price: there is no sum then, see ``unpriced``.

    Of a plan made after cutting began, ``blanks`` are those still to cut, ``made`` those cut and good, and
    ``changes`` says in words what became of the plan before it; ``rack`` is what was on the rack before the first.

    ``drawn``: those pieces of the rack that a rack's file gave; ``origin``: names the job there, the same for all
    the plans of one job (empty: not yet named). ``highest``: the highest number that a bar of the plans before this one
    had; no later piece is given one of these again. ``source``: the job's file (None: not from one). ``orders``: from
    each shop of the job; what they charge is part of ``cost`` and ``bound``, and of no tube's. ``early``: what is sawn
    before something it lands on, where members are fitted one at a time.
    """

    job: Job
    blanks: tuple[Blank, ...]
    tubes: tuple[TubePlan, ...]
    buy: tuple[Purchase, ...]
    cost: Decimal | None
    bound: Decimal | None
    proven: bool
    remarks: tuple[Remark, ...] = field(default=(), compare=False)
    rough_ends: tuple[RoughEnd, ...] = ()
    made: tuple[Made, ...] = ()
    changes: tuple[str, ...] = ()
    rack: tuple[StockRow, ...] = ()
    drawn: tuple[StockRow, ...] = ()
    origin: str = ""
    highest: int = 0
    source: JobFile | None = None
    orders: tuple[ShopOrder, ...] = ()
    early: tuple[Early, ...] = ()

    @property
    def bars(self) -> tuple[Bar, ...]:
        """The bars, tube by tube."""
        return tuple(bar for tube in self.tubes for bar in tube.bars)

    @property
    def cuts(self) -> tuple[SawCut, ...]:
        """The cuts, bar by bar."""
        return tuple(cut for tube in self.tubes for cut in tube.cuts)

    @property
    def needed(self) -> set[str]:
        """The bars that are cut, keep a spare, or are named for a replacement."""
        return {name for tube in self.tubes for name in tube.needed}

    @property
    def charged(self) -> bool:
        """Whether a shop charges for an order, so that what each tube costs does not add up to the whole."""
        return any(shop.charges for shop in self.job.shops) and bool(self.orders)

    @property
    def priced(self) -> bool:
        """Whether ``cost`` is money."""
        return any(tube.priced for tube in self.tubes)

    @property
    def tables(self) -> dict[str, pd.DataFrame]:
        """The plan as data frames: buy, saw list, bars, members, parts, marks and the rest (see `plan.tables`)."""
        from cutplan.plan.tables import tables

        return tables(self)

    def _repr_html_(self) -> str:
        """What to buy and the saw list, for a notebook."""
        shown = self.tables
        parts = (f"<h4>{name}</h4>{shown[name].to_html(index=False, na_rep='')}" for name in ("buy", "saw list"))
        return f"<h3>{escape(self.job.settings.name)}</h3>{''.join(parts)}"

    @property
    def unpriced(self) -> tuple[str, ...]:
        """The tubes bought without a price where others have one."""
        return tuple(tube.tube for tube in self.tubes if self.priced and not tube.priced and tube.cost)

    @property
    def rack_before(self) -> tuple[StockRow, ...]:
        """What was on the rack before the first cut of the job."""
        return self.rack if self.changes else tuple(row for row in self.job.stock if row.source is Source.RACK)

    @property
    def to_make(self) -> tuple[Blank, ...]:
        """The blanks that are still to be marked, shaped and bent: those to cut, and those cut and not yet fitted."""
        cut, to_cut = [made.blank for made in self.made if not made.fitted], self.by_mark()
        count = Counter(blank.mark for blank in cut)
        only_cut = {blank.mark: replace(blank, count=count[blank.mark]) for blank in cut if blank.mark not in to_cut}
        return (*self.blanks, *only_cut.values())

    def by_mark(self) -> dict[str, Blank]:
        """The blanks by their piece marks."""
        return {blank.mark: blank for blank in self.blanks}


@dataclass(frozen=True, slots=True)
class Option:
    """One buying option: ``spares`` mistakes of up to ``length`` made good, who is insured, what to buy, its cost,
    bound and proof (as of a Plan; ``priced``: it is money), and the longest piece left that can still be cut.
    ``covers``: in words, what it buys. ``kept``: for each tube, how many spares of what length (mm) a plan must keep to
    follow it; ``spares`` is the least of these that is not 0. ``fitted``: one at a time where some tube needs that each
    mistake is made good before the next cut."""

    spares: int
    insured: tuple[str, ...]
    not_insured: tuple[str, ...]
    cost: Decimal | None
    bound: Decimal | None
    proven: bool
    buy: tuple[Purchase, ...]
    leftover: Fraction
    covers: str
    kept: tuple[tuple[str, int, Fraction], ...] = ()
    priced: bool = True
    fitted: Fitted = Fitted.AFTER_ALL
    orders: tuple[ShopOrder, ...] = ()


@dataclass(frozen=True, slots=True)
class Shortage:
    """What one tube's stock is not enough for: pieces by mark that can and cannot be cut (proven the most, or the most
    found; no ``can`` where time ran out), whether only room for the spares is missing, and the least to buy on top,
    proven or found (empty with ``why`` where nothing would help)."""

    tube: str
    can: tuple[tuple[str, int], ...]
    cannot: tuple[tuple[str, int], ...]
    spares_only: bool
    least: tuple[Purchase, ...]
    why: str
    most_proven: bool = True
    least_proven: bool = True


class StockError(CutplanError):
    """The stock is not enough for the job; carries the shortage of each tube that is short."""

    def __init__(self, job: Job, shortages: tuple[Shortage, ...]) -> None:
        self.job = job
        self.shortages = shortages
        super().__init__(shortages)

    def __str__(self) -> str:
        return "the stock is not enough for this job: " + "; ".join(
            f"{short.tube}: {short.why}" if short.why else short.tube for short in self.shortages
        )


_MOST_SHOWN = 5


class WrongPlanError(Exception):
    """A plan that failed its check from scratch, and what is wrong with it: a fault of ours, not of the job's."""

    def __init__(self, plan: Plan, wrong: tuple[str, ...]) -> None:
        self.plan, self.wrong = plan, wrong
        super().__init__(plan, wrong)

    def __str__(self) -> str:
        more = len(self.wrong) - _MOST_SHOWN
        lines = [*self.wrong[:_MOST_SHOWN], *([f"and {more} more"] if more > 0 else [])]
        return "\n".join(["the plan failed its own check", *(f"  {line}" for line in lines)])


class BudgetError(CutplanError):
    """A budget asked of tube that has no price; carries the names of the tubes."""

    def __init__(self, tubes: tuple[str, ...]) -> None:
        self.tubes = tubes
        super().__init__(tubes)

    def __str__(self) -> str:
        return f"a budget cannot be checked: no price is given for {listed(self.tubes)} (add it on the sheet Stock)"


class NoPlanInTimeError(CutplanError):
    """Time ran out before any plan was in hand."""

    def __str__(self) -> str:
        return "no plan was found in the time given; allow more with --time-limit"
