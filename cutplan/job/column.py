"""What a column or a sheet of a job is; those that there are, are declared in :mod:`cutplan.job.schema`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction
from typing import Any


class Kind(Enum):
    """What a cell holds. ``REFERENCE``: a name from another sheet."""

    TEXT = "text"
    NAME = "name"
    REFERENCE = "reference"
    LENGTH = "length"
    DEGREES = "degrees"
    WHOLE = "whole number"
    NUMBER = "number"
    YES = "yes or no"
    PLANE = "plane"
    WORD = "word"


@dataclass(frozen=True, slots=True)
class Column:
    """A heading, or a setting's word: what belongs there, of which kind, and within what limits.

    ``says``: what belongs there, in few words; ``more``: whole sentences that only the manual adds.
    ``least``, ``most``: of a number or an angle; ``most`` also of a length in mm (``positive``: not 0; ``signed``: may
    be negative) and of a text in characters. ``words``: the enumeration that a word is of. ``of``: the sheet a
    reference is to. ``doubt``: the value may be written with its ±, or as a range.
    """

    heading: str
    says: str
    kind: Kind = Kind.TEXT
    needed: bool = False
    least: float | None = None
    most: float | Fraction | None = None
    positive: bool = False
    signed: bool = False
    words: type[Enum] | None = None
    of: str = ""
    doubt: bool = False
    more: str = ""

    @property
    def field(self) -> str:
        """The field of a dataclass that holds it."""
        return self.heading.replace(" ", "_")

    def broken_by(self, value: Any, show: Callable[[Fraction], str]) -> str:
        """The limit that a number or a text breaks, in words; empty where it keeps them. ``show``: writes a length."""
        least, most = self.least, self.most
        if self.kind is Kind.LENGTH:
            if self.positive and value <= 0 and not (self.signed and value):
                return "must be more than 0"
            if value < 0 and not self.signed:
                return "must be 0 or more"
            return f"is longer than {show(Fraction(most))}" if most is not None and value > most else ""
        if self.kind is Kind.DEGREES:
            low, high = 0.0 if least is None else least, 360.0 if most is None else most
            return "" if low <= value <= high else f"must be between {low:g} and {float(high):g} degrees"
        if least is not None and value < least:
            return f"must be {least:g} or more"
        return f"must be {float(most):g} or less" if most is not None and value > most else ""


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet by name, its columns in their usual order, and whether a job needs it."""

    name: str
    columns: tuple[Column, ...]
    needed: bool = True

    @property
    def headings(self) -> tuple[str, ...]:
        """The headings of all columns."""
        return tuple(column.heading for column in self.columns)

    def column(self, heading: str) -> Column:
        """The column under this heading. Raises KeyError."""
        for column in self.columns:
            if column.heading == heading:
                return column
        raise KeyError(heading)


NOTE = Column("note", "anything; not read")


def reference(heading: str, says: str, of: str, more: str = "", *, needed: bool = True) -> Column:
    return Column(heading, says, Kind.REFERENCE, needed=needed, of=of, more=more)


def coordinate(heading: str) -> Column:
    says = "this coordinate of a point on the centreline"
    more = "Its points are its ends, and where its straights would cross."
    return Column(heading, says, Kind.LENGTH, needed=True, signed=True, doubt=True, more=more)
