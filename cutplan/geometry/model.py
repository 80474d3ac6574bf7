"""What geometry hands on: a blank with its parts, the shapes of its ends, its bending marks.

Lengths in mm. Along a blank, positions run from the tip of end a (0) to the tip of end b.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction

from cutplan.geometry.solid import Target
from cutplan.job.faults import NOWHERE, Place
from cutplan.job.model import Cut, Saddle


@dataclass(frozen=True, slots=True)
class Part:
    """One line of a blank's derivation: what, how long (mm, signed), and how it is worked out (``worked``: the text
    of :attr:`how`, or what makes it once somebody asks: few of a big job's texts are ever read).
    ``spread``: the ± of this part in mm, 0 where none was given."""

    what: str
    length: float
    worked: str | Callable[[], str] = field(default="", compare=False)
    spread: float = 0.0

    @property
    def how(self) -> str:
        """An expression a pocket calculator can redo; empty for a plain measurement."""
        return self.worked if isinstance(self.worked, str) else self.worked()


@dataclass(frozen=True, slots=True)
class EndShape:
    """The finished shape of one end, by distances along the member's axis *from the tip* (tip = 0), inwards
    positive: ``face`` along the axis, ``long`` and ``short`` along those sides, ``throat`` the deepest point.
    ``face`` is None where the axis itself meets no metal line (it always does for a single saddle).
    ``tip_from_centre``: from the axis point nearest the other tube's axis to the tip (positive: tip short
    of it, that is, on the member's side); for a mitre or square end from the axis point (mitre: negative).
    ``tip_turn_deg``, ``throat_turn_deg``: the turn angles phi at which tip and throat are (of several, the
    smallest). Turn angles are about the member's axis from the short side of the first saddle or mitre,
    clockwise as seen from end a looking to end b. ``shifts``: where the nearest points of several saddles do
    not coincide, how far each is from the first's, inwards positive (empty: they coincide). ``targets``: the
    tubes landed on as they are, in the frame of the end (empty: they are as the saddles say, and run straight on).
    ``plate``: the plane that a mitre is flat on, as a job writes it. ``taped``: nodes of its frame were found by tape
    distances, so that its angles are no better than a tape.
    """

    cut: Cut
    od: float
    angle_deg: float = 0.0
    saddles: tuple[Saddle, ...] = ()
    tip_from_centre: float = 0.0
    face: float = 0.0
    long: float = 0.0
    short: float = 0.0
    throat: float = 0.0
    tip_turn_deg: float = 0.0
    throat_turn_deg: float = 0.0
    shifts: tuple[float, ...] = ()
    targets: tuple[Target, ...] = ()
    plate: str = ""
    taped: bool = False

    @property
    def shifted_saddles(self) -> tuple[tuple[Saddle, float], ...]:
        """Each saddle with how far its nearest point is from the first's."""
        return tuple(zip(self.saddles, self.shifts or (0.0,) * len(self.saddles), strict=True))


@dataclass(frozen=True, slots=True)
class BendMark:
    """One bend on the straight blank: ``start`` of the bend from the tip of end a, ``mark`` where the
    bender's mark goes (start + die mark), ``arc`` along the centreline (less stretch), angle, radius, rotation
    from the bend before, and ``straight`` in front of it."""

    number: int
    straight: float
    start: float
    mark: float
    arc: float
    angle_deg: float
    radius: float
    rotation_deg: float


@dataclass(frozen=True, slots=True)
class Estimate:
    """What the blank of an estimated member may come out as at the least, and most likely, up to the marking step."""

    least: Fraction
    likely: Fraction


@dataclass(frozen=True, slots=True)
class Blank:
    """One member's blank. ``length`` is exact and rounded up to the marking step; ``parts`` add up to it
    (within 1e-6 mm), the rounding being the last of them. ``count`` pieces are wanted for each mark.
    ``turn_known``: False where both ends are shaped and nothing says their turn, so that 0 may not be meant.
    ``spread``: the ± of the whole from the tolerances given. ``cut_off_a/b``: what to cut off each end after
    bending where the blank was lengthened to the bender's grip. ``stage``: the round of building it is made in, 0 where
    the job is not built in stages. ``estimate``: where that ± is more than the job's setting ``sure``; ``length`` is
    then the greatest the blank may come out as, which is room to keep and no length to saw, and its last part but one
    is what that is above the likely. ``hand``: left or right of a mirror's plane. ``waits``: how many others of its own
    stage must be there before it, one landing on the next."""

    mark: str
    member: str
    tube: str
    count: int
    length: Fraction
    parts: tuple[Part, ...]
    end_a: EndShape
    end_b: EndShape
    turn_deg: float = 0.0
    insured: bool = True
    bends: tuple[BendMark, ...] = ()
    cut_off_a: float = 0.0
    cut_off_b: float = 0.0
    spread: float = 0.0
    note: str = ""
    turn_known: bool = True
    place: Place = field(default=NOWHERE, compare=False)
    stage: int = 0
    estimate: Estimate | None = None
    hand: str = ""
    waits: int = field(default=0, compare=False)

    @property
    def ends(self) -> tuple[EndShape, EndShape]:
        """The shapes of end a and end b."""
        return self.end_a, self.end_b

    def end(self, name: str) -> EndShape:
        """The shape of end ``name``, "a" or "b"."""
        return self.end_a if name == "a" else self.end_b

    def cut_off(self, name: str) -> float:
        """What to cut off end ``name`` after bending."""
        return self.cut_off_a if name == "a" else self.cut_off_b

    @property
    def both_shaped(self) -> bool:
        """Whether neither end is square."""
        return Cut.SQUARE not in (self.end_a.cut, self.end_b.cut)

    @property
    def estimated(self) -> bool:
        """Whether it is to be measured before it is sawn."""
        return self.estimate is not None

    @property
    def least(self) -> Fraction:
        """The least it may come out as."""
        return self.length if self.estimate is None else self.estimate.least

    @property
    def likely(self) -> Fraction:
        """What it comes out as most likely."""
        return self.length if self.estimate is None else self.estimate.likely
