"""A bar drawn to scale in characters or cells: which stretch of it is trim, blank, spare, offcut or lost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction

from cutplan.plan.model import Bar


class Kind(Enum):
    """What a stretch of bar is. ``LOST``: at the far end, end trim and what the vice must hold."""

    TRIM = "trim"
    BLANK = "blank"
    SPARE = "spare"
    OFFCUT = "offcut"
    LOST = "lost"


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of a bar in mm from its uncut end. ``text``: the mark, for a blank; ``cut``: its number."""

    kind: Kind
    start: Fraction
    end: Fraction
    text: str = ""
    cut: int = 0

    @property
    def length(self) -> Fraction:
        """Its length in mm."""
        return self.end - self.start


def stretches(bar: Bar, spare: Fraction, kerf: Fraction) -> tuple[Stretch, ...]:
    """The stretches of ``bar`` from end to end; a blank takes the kerf after it along. ``spare``: of one, in mm."""
    trim = bar.end_trim if bar.cuts else Fraction(0)
    parts = [Stretch(Kind.TRIM, Fraction(0), trim, "trim")] if trim else []
    at = trim
    for cut in bar.cuts:
        to = min(trim + cut.end + kerf, bar.length)
        parts.append(Stretch(Kind.BLANK, at, to, cut.mark, cut.number))
        at = to
    usable = min(at + bar.usable, bar.length)
    for _ in range(bar.spares):
        to = min(at + spare + kerf, usable)
        parts.append(Stretch(Kind.SPARE, at, to, "spare"))
        at = to
    if at < usable:
        parts.append(Stretch(Kind.OFFCUT, at, usable, "left"))
        at = usable
    if at < bar.length:
        parts.append(Stretch(Kind.LOST, at, bar.length, "lost"))
    return tuple(parts)


def to_scale(parts: Sequence[Stretch], longest: Fraction, cells: int) -> tuple[int, ...]:
    """How many of ``cells`` cells each stretch takes, where ``longest`` (mm) takes them all.

    Every stretch takes one at least; the widest give way for that, so that the whole stays to scale.
    """
    total = sum((part.length for part in parts), Fraction(0))
    share = max(round(total / longest * cells), len(parts))
    edges = [round(part.end / total * share) for part in parts]
    widths = [max(1, end - start) for start, end in zip([0, *edges[:-1]], edges, strict=True)]
    while sum(widths) > share:
        widths[widths.index(max(widths))] -= 1
    return tuple(widths)
