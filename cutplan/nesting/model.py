"""What the packing engine takes and gives: whole numbers in, bars out. It knows nothing of tubes, units or files.

A *piece* of length l takes l and, but for the last on a bar that it fills to the very end, one kerf. A bar of
usable length U therefore takes pieces as long as ``sum(l + kerf) <= U + kerf``.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class Piece:
    """``count`` blanks of one ``length``. ``ends``: the mitre class at each end (0: none); two neighbours
    whose facing ends are of one class save that class's ``joints`` length between them."""

    length: int
    count: int
    ends: tuple[int, int] = (0, 0)


@dataclass(frozen=True, slots=True)
class Stock:
    """Bars of one usable ``length`` at one ``price``; ``count`` None: as many as wanted. ``owned``: on the
    rack already, so one that is not opened counts as an offcut left whole."""

    length: int
    price: int
    count: int | None = None
    owned: bool = False


@dataclass(frozen=True, slots=True)
class Spare:
    """Room to keep: ``count`` more pieces of ``length``, each in one piece, after everything is cut."""

    length: int
    count: int


class Status(Enum):
    """What a result is. ``PROVEN``: no cheaper plan exists. ``FOUND``: a plan, with a gap to its bound.
    ``IMPOSSIBLE``: proven that the stock is not enough. ``UNKNOWN``: neither is shown, with nothing in hand: time
    ran out, or there are more classes of mitre than can be shared at once."""

    PROVEN = "proven"
    FOUND = "found"
    IMPOSSIBLE = "impossible"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Progress:
    """What a callback is given: ``stage`` in words, the best ``cost`` so far, the ``bound``, ``seconds`` elapsed."""

    stage: str
    cost: int | None
    bound: int
    seconds: float


@dataclass(frozen=True, slots=True)
class PackedBar:
    """One bar: the index of its stock, the indices of its pieces in cutting order, the spares kept on it
    beyond them, and ``rest``: usable length left after the pieces and their kerfs (spares not taken off).

    Only where mitres are shared: ``flipped`` says of each piece whether its second end comes first, and
    ``shared`` of each piece whether its leading end shares the cut of the piece before it."""

    stock: int
    pieces: tuple[int, ...]
    spares: int
    rest: int
    flipped: tuple[bool, ...] = ()
    shared: tuple[bool, ...] = ()


@dataclass(frozen=True, slots=True)
class Packing:
    """A result: ``cost`` of ``bars`` (None without a plan), the safe ``bound`` on any plan's cost,
    ``status``, ``seconds`` taken. ``longest``: the longest single piece left (an unopened owned bar too)."""

    status: Status
    bars: tuple[PackedBar, ...] = ()
    cost: int | None = None
    bound: int = 0
    seconds: float = 0.0
    longest: int = 0
    lp_bound: Fraction | None = None

    @property
    def gap(self) -> str:
        """How far the plan may be from the best one, in words, such as "within 0.8 % of the best possible"."""
        if self.cost is None:
            return "no plan"
        if self.proven or self.cost <= self.bound:
            return "the best possible"
        if self.bound <= 0:
            return "no bound known"
        tenths = -(-1000 * (self.cost - self.bound) // self.bound)
        return f"within {tenths // 10}.{tenths % 10} % of the best possible"

    @property
    def proven(self) -> bool:
        """Whether no cheaper plan exists."""
        return self.status is Status.PROVEN
