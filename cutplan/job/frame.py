"""The frame of a job as frozen dataclasses: members with ends, bends and points; nodes and what was read off them.

Lengths, angles and places as in :mod:`cutplan.job.model`, which hands all but the readings on.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum
from fractions import Fraction

from cutplan.job.faults import NOWHERE, Place


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
    """A plane that an end is flat on. Through three ``nodes``; else through one of them, or through the point of its
    ``axis`` at ``at``, square to that axis but for ``rise_deg``: so much its coordinate grows along ``along``."""

    axis: Axis = Axis.Z
    at: Fraction = Fraction(0)
    nodes: tuple[str, ...] = ()
    rise_deg: float = 0.0
    along: Axis | None = None


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

    @property
    def xyz(self) -> tuple[float, float, float]:
        """Its coordinates as floats."""
        return float(self.x), float(self.y), float(self.z)


@dataclass(frozen=True, slots=True)
class Node:
    """A named point of the frame. ``image``: the name of its mirror image (its own: it is in the mirror's plane; "":
    the job has no mirror)."""

    name: str
    x: Fraction
    y: Fraction
    z: Fraction
    image: str = ""
    place: Place = field(default=NOWHERE, compare=False)

    @property
    def xyz(self) -> tuple[float, float, float]:
        """Its coordinates as floats."""
        return float(self.x), float(self.y), float(self.z)

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
    ``free``: whether end a, end b is cut to what meets it at its node; ``laid``: that has been worked out.
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

    @property
    def ends(self) -> tuple[End, End]:
        """End a and end b."""
        return self.end_a, self.end_b

    def end(self, name: str) -> End:
        """End ``name``, "a" or "b"."""
        return self.end_a if name == "a" else self.end_b


@dataclass(frozen=True, slots=True)
class Coordinate:
    """What is known of a node's coordinate: its ``value`` with its ``tolerance``; or only ``about`` where it is, or on
    which side (``more``: further on) of ``than``, another node or a place. Nothing: it comes from distances."""

    value: Fraction | None = None
    tolerance: Fraction = Fraction(0)
    about: Fraction | None = None
    more: bool = True
    than: str | Fraction | None = None


@dataclass(frozen=True, slots=True)
class GivenNode:
    """A node as it was given: what is known of its x, y and z."""

    name: str
    xyz: tuple[Coordinate, Coordinate, Coordinate]
    place: Place = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class TapeReading:
    """A distance between two nodes, centre to centre. ``across``: from one side of the mirror to the other."""

    start: str
    end: str
    length: Fraction
    tolerance: Fraction
    across: bool = False
    place: Place = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Survey:
    """Nodes that are yet to be worked out, and the distances that they come from."""

    nodes: tuple[GivenNode, ...]
    readings: tuple[TapeReading, ...]
