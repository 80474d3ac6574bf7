"""A job as frozen dataclasses: settings, tubes, stock, members with their ends, bends and points.

Every length is an exact :class:`~fractions.Fraction` of millimetres; every angle is in degrees; money is
:class:`~decimal.Decimal`. Text is normalised (stripped, words in lower case) before it gets here.
``place`` fields say where a row was read and take no part in equality.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from enum import Enum
from fractions import Fraction

from cutplan.job.faults import NOWHERE, Place
from cutplan.job.readings import Survey

INCH = Fraction(254, 10)
"""Millimetres in an inch, exact by definition (the international yard, 1959)."""


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


class Cut(Enum):
    """How an end is shaped."""

    SQUARE = "square"
    MITRE = "mitre"
    COPE = "cope"


class Measured(Enum):
    """What the tape ran to at an end of a member."""

    CENTRE = "centre"
    FACE = "face"
    LONG = "long"
    SHORT = "short"
    TIP = "tip"


class To(Enum):
    """What a straight of a bent member was measured to at its bends."""

    TANGENT = "tangent"
    APEX = "apex"
    OUTSIDE = "outside"


class Axis(Enum):
    """A direction of the frame's coordinates."""

    X = "x"
    Y = "y"
    Z = "z"

    @property
    def number(self) -> int:
        """0, 1 or 2."""
        return "xyz".index(self.value)


@dataclass(frozen=True, slots=True)
class Plane:
    """All points whose coordinate along ``axis`` is ``at``, in mm: ``y=0``."""

    axis: Axis
    at: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True)
class Plate:
    """A plane that an end lies flat on. Through three ``nodes``; else through one of them, or through the point of its
    ``axis`` at ``at``, square to that axis but for ``rise_deg``: so much its coordinate grows along ``along``."""

    axis: Axis = Axis.Z
    at: Fraction = Fraction(0)
    nodes: tuple[str, ...] = ()
    rise_deg: float = 0.0
    along: Axis | None = None


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
        """Raises ValueError for a setting below 0, whoever makes it."""
        words = ("kerf", "end_trim", "saw_hold", "step", "spares", "keep", "salvage", "meet_within", "saw_swing")
        for word in (*words, "sure"):
            if getattr(self, word) < 0:
                raise ValueError(f"{word.replace('_', ' ')} is {float(getattr(self, word)):g}, below 0")


@dataclass(frozen=True, slots=True)
class Tube:
    """A section. ``clr``: default centreline radius. ``stretch``: growth per 90 degrees of bend.
    ``grip``: the straight a bender must hold at each end. ``mass_per_m``: kg/m. ``grade``: what to ask for besides."""

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
        """Raises ValueError for what is no tube, whoever makes it."""
        if self.od <= 0 or not 0 < self.wall < self.od / 2:
            raise ValueError(
                f"tube {self.name}: a wall of {float(self.wall):g} on an outside diameter of {float(self.od):g} mm"
            )


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
        """Raises ValueError for what is no bar, whoever makes it."""
        if self.price is not None and not self.price.is_finite():
            raise ValueError(f"a bar of {self.tube}: {self.price} is not a price")
        for what, value in (("length", self.length), ("price", self.price), ("end trim", self.end_trim)):
            if value is not None and value < 0:
                raise ValueError(f"a bar of {self.tube}: its {what} is {float(value):g}, below 0")
        if self.available is not None and self.available < 0:
            raise ValueError(f"bars of {self.tube}: {self.available} of them are available, below 0")


@dataclass(frozen=True, slots=True)
class Shop:
    """What a shop charges for one order besides its bars: ``delivery``, unless the bars come to ``free_from`` or more
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
class Onto:
    """What one saddle of an end sits on.

    Exactly one of ``member`` (another member's mark) and ``od`` with no member (a tube's name or an outside
    diameter was given; ``name`` keeps the word used) gives the tube landed on; ``od`` is always filled in.
    Landing on a bend: ``clr`` is that bend's centreline radius (None: a straight tube), ``side_deg`` the direction the
    member comes from about the other tube's axis there: 0 from outside the bend (away from the bend's centre), 90
    square to the bend's plane, 180 from inside (``side_given``: it was written). ``bend`` (1 = first) and ``arc_deg``
    (how far along the arc) say where on that member, for points and for people. ``ends_short``, ``ends_long``: how far
    from where the axes come nearest the tube ends, on the member's short side and on its long side (None: not given).
    ``side_tolerance``, ``arc_tolerance``: the ± of both, in degrees.
    """

    od: Fraction
    name: str = ""
    member: str | None = None
    clr: Fraction | None = None
    bend: int | None = None
    arc_deg: float | None = None
    side_deg: float = 0.0
    side_given: bool = False
    ends_short: Fraction | None = None
    ends_long: Fraction | None = None
    side_tolerance: float = 0.0
    arc_tolerance: float = 0.0


@dataclass(frozen=True, slots=True)
class Saddle:
    """One saddle of a coped end: onto what, the angle between the axes (90 = square tee), the offset between
    them, and the turn of this saddle about the member's own axis from the end's first saddle. ``angle_tolerance``,
    ``offset_tolerance``, ``turn_tolerance``: the ± of each, in degrees and in mm."""

    onto: Onto
    angle_deg: float = 90.0
    offset: Fraction = Fraction(0)
    turn_deg: float = 0.0
    angle_tolerance: float = 0.0
    offset_tolerance: Fraction = Fraction(0)
    turn_tolerance: float = 0.0


@dataclass(frozen=True, slots=True)
class End:
    """One end of a member. ``angle_deg`` is a mitre's (0 = square); a cope's angles are its saddles'
    (several where a node joins several tubes). ``from_points``: angles and offsets come from coordinates; what is
    written beside them, saddle by saddle, is ``angles_given`` and ``offsets_given`` (none: left blank), and must agree.
    ``angle_tolerance``: the ± of a mitre's angle, in degrees. ``plate``: the plane that a mitred end is flat on.
    """

    cut: Cut = Cut.SQUARE
    angle_deg: float = 0.0
    saddles: tuple[Saddle, ...] = ()
    measured: Measured = Measured.CENTRE
    from_points: bool = False
    angles_given: tuple[float, ...] = ()
    offsets_given: tuple[Fraction, ...] = ()
    angle_tolerance: float = 0.0
    plate: Plate | None = None


@dataclass(frozen=True, slots=True)
class Bend:
    """A row of ``Bends``: a straight, then (but for the last row) a bend of ``angle_deg`` at ``radius``,
    turned ``rotation_deg`` about the tube from the bend before. ``from_end_deg``: in the first row, how far its bend is
    turned from end a's short side; in the last, how far end b's short side is turned from the last bend; clockwise as
    seen from end a to end b, a bend counting by its inside. None: not given. ``angle_tolerance``: its ±, in
    degrees."""

    straight: Fraction
    to: To = To.TANGENT
    angle_deg: float | None = None
    radius: Fraction | None = None
    rotation_deg: float = 0.0
    tolerance: Fraction = Fraction(0)
    place: Place = field(default=NOWHERE, compare=False)
    from_end_deg: float | None = None
    angle_tolerance: float = 0.0


@dataclass(frozen=True, slots=True)
class Point:
    """A row of ``Points``: a point of the centreline, and the bend radius there (inner points). ``doubt``: the ± of x,
    y and z."""

    x: Fraction
    y: Fraction
    z: Fraction
    radius: Fraction | None = None
    place: Place = field(default=NOWHERE, compare=False)
    doubt: tuple[Fraction, Fraction, Fraction] = (Fraction(0), Fraction(0), Fraction(0))


@dataclass(frozen=True, slots=True)
class Node:
    """A named point of the frame. ``image``: the name of its mirror image (its own: it lies in the mirror's plane; "":
    the job has no mirror)."""

    name: str
    x: Fraction
    y: Fraction
    z: Fraction
    image: str = ""
    place: Place = field(default=NOWHERE, compare=False)

    @property
    def base(self) -> str:
        """The name under which it was given, whichever side of the mirror it is on."""
        return self.name[:-2] if self.image not in ("", self.name) else self.name

    @property
    def is_image(self) -> bool:
        """Whether it is the mirror image of one that was given."""
        return self.image not in ("", self.name) and self.name.endswith("-R")


@dataclass(frozen=True, slots=True)
class Route:
    """The nodes that a member runs between, from end a to end b, those on its way among them.

    ``radii``: of the bends at the nodes on the way (None: the tube's ``clr``). ``past``: how far it runs on beyond its
    first node and beyond its last. Of members that end at one node, the one of the higher ``rank`` runs through.
    ``free``: whether end a, end b is cut to whatever meets it at its node; ``laid``: that has been worked out.
    ``doubts``: the ± of each straight of a bent one, tangent point to tangent point, by the survey of the nodes.
    """

    nodes: tuple[str, ...]
    radii: tuple[Fraction | None, ...] = ()
    past: tuple[Fraction, Fraction] = (Fraction(0), Fraction(0))
    rank: int = 0
    free: tuple[bool, bool] = (True, True)
    laid: bool = False
    doubts: tuple[Fraction, ...] = ()


class Hand(Enum):
    """Which of a left and a right a member is."""

    LEFT = "left"
    RIGHT = "right"


@dataclass(frozen=True, slots=True)
class Member:
    """A row of ``Members``, with its bends or points. ``pair``: a left and a right, marked ``-L``, ``-R``.

    ``length`` None: it comes from ``bends`` or ``points``. ``tolerance``: the ± of the measured length.
    ``turn_deg``: the short side of end b's cope or mitre about the member's axis from that of end a, seen from end a
    looking to end b, clockwise positive (``turn_given``: it was written; else 0 may not be meant). ``made``: it is
    there already, to be landed on and measured from; it is not cut and needs no tube (and may have no length).
    ``stage``: the round of building it is made in, if given (see :mod:`cutplan.job.stages`).
    ``route``: the nodes that its ``points`` come from. ``hand``: which side of a mirror's plane it is on, where both
    sides have one; ``mirror_of``: the mark of the member whose mirror image it is in every detail.
    """

    mark: str
    tube: str
    count: int = 1
    pair: bool = False
    length: Fraction | None = None
    tolerance: Fraction = Fraction(0)
    end_a: End = End()
    end_b: End = End()
    turn_deg: float = 0.0
    turn_given: bool = False
    insured: bool = True
    note: str = ""
    bends: tuple[Bend, ...] = ()
    points: tuple[Point, ...] = ()
    place: Place = field(default=NOWHERE, compare=False)
    made: bool = False
    stage: int | None = None
    route: Route | None = None
    hand: Hand | None = None
    mirror_of: str = ""

    @property
    def marks(self) -> tuple[str, ...]:
        """The piece marks: the mark itself, or a left and a right."""
        return (f"{self.mark}-L", f"{self.mark}-R") if self.pair else (self.mark,)


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
