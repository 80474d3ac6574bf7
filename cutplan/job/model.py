"""A job as frozen dataclasses: settings, limits, tubes, stock, shops; its members are in :mod:`cutplan.job.frame`.

Every length is an exact :class:`~fractions.Fraction` of millimetres; every angle is in degrees; money is
:class:`~decimal.Decimal`. Text is normalised (stripped, words in lower case) before it gets here.
``place`` fields say where a row was read and take no part in equality.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from functools import cache
from math import isfinite

from cutplan.job.faults import NOWHERE, Place
from cutplan.job.frame import (
    Axis,
    Bend,
    Cut,
    End,
    Hand,
    Measured,
    Member,
    Node,
    Onto,
    Plane,
    Plate,
    Point,
    Route,
    Saddle,
    Survey,
    To,
)

__all__ = [
    "Axis",
    "Bend",
    "Cut",
    "End",
    "Hand",
    "Measured",
    "Member",
    "Node",
    "Onto",
    "Plane",
    "Plate",
    "Point",
    "Route",
    "Saddle",
    "To",
]
"""What :mod:`cutplan.job.frame` holds of it, handed on."""

INCH = Fraction(254, 10)
"""Millimetres in an inch, exact by definition (the international yard, 1959)."""

LEAST_COPE_DEG, MOST_COPE_DEG = 10.0, 90.0
"""Below, a tip grows so long and thin that no saddle can be cut; 90 is a square tee."""
MOST_MITRE_DEG = 75.0
"""From square; steeper is no cut for a saw."""
MOST_RISE_DEG = 80.0
"""Of a plate from the plane it is measured from; steeper is better given by three nodes."""
MOST_SPARES = 100
MOST_ALIKE, MOST_BARS = 1_000, 100_000
"""More pieces of one kind than any rack holds, or bars than any shop: a slip of the hand that a search would take long
over."""
MOST_STAGES = 999
MOST_RANK = 99
LONGEST_NOTE = 1_000


class Units(Enum):
    """The units of a job's tables, and of everything shown for it."""

    MM = "mm"
    IN = "in"

    @property
    def mm(self) -> Fraction:
        """Millimetres in one unit."""
        return Fraction(1) if self is Units.MM else INCH


class Fitted(Enum):
    """When the members are fitted, which decides how a mistake can be made good."""

    AFTER_ALL = "after all cuts"
    ONE_AT_A_TIME = "one at a time"


class Source(Enum):
    """Where a bar comes from."""

    BUY = "buy"
    RACK = "rack"


def _keep_limits(row: object, sheet: str, what: str = "") -> None:
    """Raises ValueError where a number of ``row`` is beyond the limits that the schema declares for its column (of a
    setting where ``sheet`` is empty). A length may be 0 here, as of a bar of which nothing is left, and of any size:
    the most that a cell may hold shows a slip of the decimal point, which a program does not make."""
    for name, heading, least, most in _limits(sheet):
        value = getattr(row, name, None)
        if value is None:
            continue
        if not isfinite(value):
            raise ValueError(f"{what}{value} is not a {heading}")
        if least is not None and value < least:
            raise ValueError(f"{what}{heading} is {float(value):g}, below {least:g}")
        if most is not None and value > most:
            raise ValueError(f"{what}{heading} is {float(value):g}, above {float(most):g}")


@cache
def _limits(sheet: str) -> list[tuple[str, str, float | None, float | Fraction | None]]:
    """The field, heading, least and most of every number of a sheet."""
    from cutplan.job.column import Kind
    from cutplan.job.schema import COLUMNS, SETTINGS

    columns = COLUMNS[sheet].values() if sheet else SETTINGS
    lengths = [(one.field, one.heading, 0, None) for one in columns if one.kind is Kind.LENGTH and not one.signed]
    numbers = [one for one in columns if one.kind in (Kind.NUMBER, Kind.WHOLE, Kind.DEGREES)]
    return [*lengths, *((one.field, one.heading, one.least, one.most) for one in numbers)]


@dataclass(frozen=True, slots=True)
class Settings:
    """The ``Job`` sheet. Lengths in mm.

    ``step``: marking step that blanks are rounded up to. ``saw_hold``: the last of a bar that the vice must
    hold. ``keep``: shortest offcut worth racking. ``salvage``: how much of a spoilt straight blank is lost.
    ``die_mark``: from a bend's start to where the bender's mark is. ``meet_within``: how far the points of tubes that
    meet may be out. ``saw_swing``: to how many degrees off square the saw swings at the most. ``share_mitres``: may two
    blanks whose facing ends carry the same mitre share one cut. ``sure``: a blank whose ± is more than this is an
    estimate, not sawn before it is measured. ``mirror``: the plane whose other side is the mirror image of the side
    that was measured. ``tape``: how far out a tape reading may be that has no ± of its own.
    """

    name: str = "job"
    units: Units = Units.MM
    kerf: Fraction = Fraction(2)
    end_trim: Fraction = Fraction(0)
    saw_hold: Fraction = Fraction(0)
    fit_cope: Fraction = Fraction(0)
    fit_mitre: Fraction = Fraction(0)
    shrink: Fraction = Fraction(0)
    step: Fraction = Fraction(1, 2)
    spares: int = 1
    fitted: Fitted = Fitted.AFTER_ALL
    keep: Fraction = Fraction(300)
    currency: str = ""
    salvage: Fraction = Fraction(50)
    die_mark: Fraction = Fraction(0)
    meet_within: Fraction = Fraction(3)
    saw_swing: float = 60.0
    share_mitres: bool = False
    sure: Fraction = Fraction(3)
    mirror: Plane | None = None
    tape: Fraction = Fraction(2)

    def __post_init__(self) -> None:
        """Raises ValueError for a setting beyond its limits, also from a Python caller."""
        _keep_limits(self, "")


@dataclass(frozen=True, slots=True)
class Tube:
    """A section. ``clr``: default centreline radius. ``stretch``: growth per 90 degrees of bend.
    ``grip``: the straight a bender must hold at each end. ``mass_per_m``: kg/m. ``grade``: what else to ask for."""

    name: str
    od: Fraction
    wall: Fraction
    clr: Fraction | None = None
    stretch: Fraction = Fraction(0)
    grip: Fraction = Fraction(0)
    mass_per_m: float = 0.0
    place: Place = field(default=NOWHERE, compare=False)
    grade: str = ""

    def __post_init__(self) -> None:
        """Raises ValueError for an impossible tube, also from a Python caller."""
        if self.od <= 0 or not 0 < self.wall < self.od / 2:
            wall = f"a wall of {float(self.wall):g} on an outside diameter of {float(self.od):g} mm"
            raise ValueError(f"tube {self.name}: {wall}")
        _keep_limits(self, "Tubes", f"tube {self.name}: ")


@dataclass(frozen=True, slots=True)
class StockRow:
    """Bars of one length. ``available`` None: as many as wanted. ``price`` of one bar, None: not given.
    ``sawn``: one end is sawn square already, so that only the far one loses its end trim. ``shop``: who sells it, or
    sold it. ``bought``: it is in hand, but was bought for this job."""

    tube: str
    length: Fraction
    price: Decimal | None = None
    available: int | None = None
    source: Source = Source.BUY
    label: str = ""
    end_trim: Fraction | None = None
    place: Place = field(default=NOWHERE, compare=False)
    sawn: bool = False
    shop: str = ""
    bought: bool = False

    def __post_init__(self) -> None:
        """Raises ValueError for an impossible bar, also from a Python caller."""
        _keep_limits(self, "Stock", f"a bar of {self.tube}: ")


@dataclass(frozen=True, slots=True)
class Shop:
    """What a shop charges for one order on top of its bars: ``delivery``, unless the bars come to ``free_from`` or more
    (None: always); and what they come short of the ``minimum``. ``carry``: the longest bar, in mm, that can be carried
    home in place of delivery (None: all is delivered where that is charged, else any bar can be carried). ``cut``: what
    it charges for a cut, where a longer bar is cut into parts that can be carried (None: it cuts none); ``kerf``: what
    such a cut takes, in mm (None: as much as one's own)."""

    name: str
    delivery: Decimal = Decimal(0)
    free_from: Decimal | None = None
    minimum: Decimal = Decimal(0)
    place: Place = field(default=NOWHERE, compare=False)
    carry: Fraction | None = None
    cut: Decimal | None = None
    kerf: Fraction | None = None

    def __post_init__(self) -> None:
        """Raises ValueError for a charge or a length beyond its limits, also from a Python caller."""
        _keep_limits(self, "Shops", f"shop {self.name}: ")

    @property
    def delivers(self) -> bool:
        """Whether it delivers: one that charges nothing for that, and where no bar is too long to be carried, is as
        good as one that does."""
        return bool(self.delivery) or self.carry is None

    def sells(self, length: Fraction) -> bool:
        """Whether a bar of ``length`` mm can be had from it."""
        return self.delivers or self.carries(length) or self.cuts

    @property
    def cuts(self) -> bool:
        """Whether it cuts bars that are too long into parts that can be carried."""
        return self.cut is not None and self.carry is not None

    def kerf_of(self, settings: Settings) -> Fraction:
        """What one of its cuts takes of a bar, mm."""
        return settings.kerf if self.kerf is None else self.kerf

    def carries(self, length: Fraction) -> bool:
        """Whether a bar of ``length`` mm can be carried home in place of delivery."""
        return self.carry is not None and length <= self.carry

    @property
    def charges(self) -> bool:
        """Whether an order can cost more than its bars."""
        return bool(self.delivery or self.minimum) or self.cuts


@dataclass(frozen=True, slots=True)
class Job:
    """A whole job, each part in the order of its sheet. ``nodes``: of both sides of a mirror. ``survey``: what they are
    to be worked out from; until then they are nowhere in particular. ``shops``: those that were described."""

    settings: Settings
    tubes: tuple[Tube, ...]
    stock: tuple[StockRow, ...]
    members: tuple[Member, ...]
    nodes: tuple[Node, ...] = ()
    survey: Survey | None = None
    shops: tuple[Shop, ...] = ()

    def can_be_had(self, row: StockRow) -> bool:
        """Whether the bars of ``row`` can be brought home: delivered, or carried."""
        return all(shop.sells(row.length) for shop in self.shops if shop.name == row.shop)

    def is_whole(self, row: StockRow) -> bool:
        """Whether they can be brought home whole, not only cut into parts."""
        return all(shop.delivers or shop.carries(row.length) for shop in self.shops if shop.name == row.shop)

    def tube(self, name: str) -> Tube:
        """The tube called ``name`` (as spelt in the job). Raises KeyError."""
        for tube in self.tubes:
            if tube.name == name:
                return tube
        raise KeyError(name)

    def member(self, mark: str) -> Member:
        """The member with this mark, that of a pair without its hand. Raises KeyError."""
        for member in self.members:
            if member.mark == mark:
                return member
        raise KeyError(mark)
