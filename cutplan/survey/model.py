"""What a survey is given, and what it gives back. Lengths in mm as floats; axes are 0, 1, 2 for x, y, z.

A ``±`` here is two standard deviations: of twenty honest readings, about nineteen are nearer to the truth than that.
So a tape's ``± 2`` is a standard deviation of 1 mm, and every ``±`` given back is meant the same way.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import dist, isfinite, sqrt
from typing import TYPE_CHECKING

from cutplan.errors import FaultError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

COVERAGE = 2.0
"""Standard deviations in a ``±``: with normal errors 95.4 of 100 are within it."""


CLEAR_MM = 10.0
"""A node is on the wrong side only if it is further there than this."""


class SurveyError(FaultError):
    """Readings that make no survey."""


@dataclass(frozen=True, slots=True)
class Known:
    """A coordinate that is given: exactly if ``doubt`` is 0, else as one more reading with that ``±``."""

    value: float
    doubt: float = 0.0


@dataclass(frozen=True, slots=True)
class Side:
    """What a person sees: along ``axis`` the node is further on (``more``) than another node, or than a value."""

    axis: int
    more: bool
    than: str | float


@dataclass(frozen=True, slots=True)
class Node:
    """A named point: of x, y and z those that are known; ``about`` and ``sides`` say which mirror image is meant.

    ``about`` is a rough place, for each axis or None. It chooses between places that fit the readings equally well
    and has no weight in the result.
    """

    name: str
    known: tuple[Known | None, Known | None, Known | None] = (None, None, None)
    about: tuple[float | None, float | None, float | None] = (None, None, None)
    sides: tuple[Side, ...] = ()


@dataclass(frozen=True, slots=True)
class Distance:
    """A tape reading between two nodes. The same two nodes may be measured more than once.

    ``across``: to the mirror image of the second node, which may then be the first one's own.
    """

    start: str
    end: str
    value: float
    doubt: float
    across: bool = False

    def __post_init__(self) -> None:
        what = f"{self.start} to {self.end}"
        if self.start == self.end and not self.across:
            raise SurveyError("a distance runs between two different nodes", what, "name the other node")
        if not (isfinite(self.value) and self.value > 0):
            raise SurveyError("a distance must be more than zero", f"{what}: {self.value:g}", "measure it again")
        if not (isfinite(self.doubt) and self.doubt > 0):
            raise SurveyError(
                "no tape reads exactly: its ± must be more than zero", f"{what}: ± {self.doubt:g}", "write 2 mm"
            )


@dataclass(frozen=True, slots=True)
class Place:
    """Where a node is, and the ``±`` of each coordinate: 0 if given or chosen, None if nothing fixes it."""

    name: str
    xyz: tuple[float, float, float]
    doubts: tuple[float | None, float | None, float | None]


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading against the result: a distance (``start`` to ``end``), or a coordinate given with a ``±``.

    ``miss`` is read minus calculated. ``others`` is what all other readings make of it, with ``others_doubt``; both
    None where they say nothing of it (``checked``, its redundancy number, is then 0; 1 would be fully checked).
    ``w`` is the miss in units of its own standard deviation, None where nothing checks it. ``typed``: no reading but a
    coordinate that was given as exact, and that the readings speak against.
    """

    start: str
    end: str
    axis: int | None
    value: float
    doubt: float
    computed: float
    miss: float
    others: float | None
    others_doubt: float | None
    checked: float
    w: float | None
    across: bool = False
    left_out: bool = False
    typed: bool = False


@dataclass(frozen=True, slots=True)
class Slip:
    """A reading that the others contradict. Not ``alone``: one of ``suspects`` is, and they cannot tell which.

    ``suspects`` are indices into the readings, the likeliest first; only if ``alone`` is the first left out of the
    result. ``also``: of those that are typed coordinates, which explain the misses as well as that reading does.
    """

    suspects: tuple[int, ...]
    alone: bool
    also: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Advice:
    """A further reading that fixes most: the distance ``start`` to ``end`` (``across``: to its mirror image), or
    coordinate ``axis`` of ``start``."""

    start: str
    end: str
    axis: int | None
    across: bool = False


@dataclass(frozen=True, slots=True)
class Either:
    """Nodes that fit the readings equally well in another place: say of one of them on which side it is.

    ``axis`` is that along which the two places of ``name`` are furthest apart, at ``here`` and at ``there``.
    """

    nodes: tuple[str, ...]
    name: str
    axis: int
    here: float
    there: float

    @property
    def two_sides(self) -> bool:
        """Whether the places are far enough apart to be told by their side."""
        return abs(self.here - self.there) > 2.0 * CLEAR_MM


@dataclass(frozen=True, slots=True)
class Weak:
    """A node that is fixed, but poorly: the ``doubt`` of its coordinate ``axis`` is its worst."""

    name: str
    axis: int
    doubt: float


@dataclass(frozen=True, slots=True)
class Sign:
    """A coordinate that was given, with the other sign of which all readings agree."""

    name: str
    axis: int
    value: float


@dataclass(frozen=True, slots=True)
class Astray:
    """A rough place, ``about``, that is far from where the readings put the node: ``here``."""

    name: str
    axis: int
    about: float
    here: float


@dataclass(frozen=True, slots=True)
class Adjustment:
    """The result: places, readings with their misses, and all that is not certain.

    ``spare_readings`` is how many more readings there are than unknowns (the redundancy); ``unit`` is the standard
    deviation of unit weight (about 1 when readings are as good as their ``±`` says), None without spare readings.
    ``widened`` is the factor by which every ``±`` was made larger because the readings agree worse than they say.
    ``weak`` are nodes that are fixed poorly, and ``better`` further readings that would fix them well.
    ``chosen`` are the coordinates that were set freely, to place a frame of which only distances are known.
    ``unmet`` are the sides that no fitting place satisfies. ``loose`` are nodes that nothing fixes, ``advice``
    further readings, best first. ``astray`` are rough places that the readings contradict. ``signs``: one of these
    coordinates has the wrong sign; the rest is what comes of it with the other sign of the first.
    """

    places: tuple[Place, ...]
    readings: tuple[Reading, ...]
    slips: tuple[Slip, ...]
    loose: tuple[str, ...]
    advice: tuple[Advice, ...]
    either: tuple[Either, ...]
    chosen: tuple[tuple[str, int], ...]
    unmet: tuple[tuple[str, Side], ...]
    spare_readings: int
    unit: float | None
    agrees: bool
    widened: float
    _index: Mapping[str, int] = field(repr=False, compare=False)
    _spread: NDArray[np.float64] = field(repr=False, compare=False)
    _open: NDArray[np.float64] = field(repr=False, compare=False)
    astray: tuple[Astray, ...] = ()
    signs: tuple[Sign, ...] = ()
    weak: tuple[Weak, ...] = ()
    better: tuple[Advice, ...] = ()

    def place(self, name: str) -> Place:
        """The place of one node."""
        return self.places[self._index[name]]

    def distance(self, start: str, end: str) -> tuple[float, float | None]:
        """Centre to centre, with its ``±``, which is None if the readings leave it open."""
        i, j = self._index[start], self._index[end]
        here, there = self.places[i].xyz, self.places[j].xyz
        across = [b - a for a, b in zip(here, there, strict=True)]
        length = dist(here, there)
        if length == 0.0:
            return 0.0, None
        row = {3 * j + k: step / length for k, step in enumerate(across)}
        row |= {3 * i + k: -step / length for k, step in enumerate(across)}
        return length, self.doubt_of(row)

    def doubt_of(self, row: Mapping[int, float]) -> float | None:
        """The ``±`` of a quantity whose gradient is ``row`` (3 * node + axis to weight), None if left open."""
        import numpy as np

        gradient = np.zeros(self._spread.shape[0])
        for at, weight in row.items():
            gradient[at] = weight
        if np.linalg.norm(gradient @ self._open) > OPEN:
            return None
        return COVERAGE * sqrt(max(float(gradient @ self._spread @ gradient), 0.0))


OPEN = 1e-4
"""A quantity that an open motion of length 1 changes by more than this is open too."""
