"""A bar drawn to scale in characters or cells: how many each of its stretches takes."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from cutplan.plan.tables.bars import Stretch
from cutplan.plan.tables.bars import StretchKind as Kind


def drawable(parts: Sequence[Stretch], longest: Fraction, cells: int) -> tuple[Stretch, ...]:
    """``parts`` themselves where each can have a cell; else with neighbouring blanks drawn together: first those of
    one mark, then, where that does not do, all."""
    room = round((parts[-1].end - parts[0].start) / longest * cells)
    for alike in (True, False):
        if sum(map(_least, parts)) <= room:
            break
        parts = _together(parts, alike=alike)
    return tuple(parts)


def _least(part: Stretch) -> int:
    """The fewest cells that show it: a doubt ends in a saw cut, which takes one for itself."""
    return 2 if part.kind is Kind.DOUBT else 1


def _together(parts: Sequence[Stretch], *, alike: bool) -> list[Stretch]:
    runs: list[list[Stretch]] = []
    for part in parts:
        same = runs and part.kind is runs[-1][-1].kind is Kind.BLANK and part.cut == runs[-1][-1].last + 1
        if same and (part.text == runs[-1][-1].text or not alike):
            runs[-1].append(part)
        else:
            runs.append([part])
    joined = []
    for run in runs:
        first, last = run[0], run[-1]
        count = last.last - first.cut + 1
        text = first.text if count == 1 or not alike else f"{count} x {first.text}"
        if not alike and len(run) > 1:
            text = f"{count} blanks"
        joined.append(Stretch(first.kind, first.start, last.end, text, first.cut, last.last, last.sawn))
    return joined


def to_scale(parts: Sequence[Stretch], longest: Fraction, cells: int) -> tuple[int, ...]:
    """How many of ``cells`` cells each stretch takes, where ``longest`` (mm) takes them all.

    Every stretch takes one at least, a doubt two; the widest give way for that, so that the whole stays to scale.
    """
    total = sum((part.length for part in parts), Fraction(0))
    share = max(round(total / longest * cells), sum(map(_least, parts)))
    edges = [round(part.end / total * share) for part in parts]
    spans = zip(parts, [0, *edges[:-1]], edges, strict=True)
    widths = [max(_least(part), end - start) for part, start, end in spans]
    while sum(widths) > share:
        widths[widths.index(max(widths))] -= 1
    return tuple(widths)
