"""What was read off a frame with a tape: nodes as they were given, and the distances between them."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from cutplan.job.faults import NOWHERE, Place


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
