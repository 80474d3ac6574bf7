"""The bars of a plan on a terminal, drawn to scale in characters."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from rich.console import Console

from cutplan.output.text import heading, line, say
from cutplan.plan import wording
from cutplan.plan.tables import Tables
from cutplan.plan.tables.bars import Stretch
from cutplan.plan.tables.bars import StretchKind as Kind

_PIPE_WIDTH = 100
"""Characters across a drawn bar in a pipe: the same on every machine."""

_FILL = {Kind.TRIM: "#", Kind.BLANK: "-", Kind.DOUBT: "?", Kind.SPARE: "/", Kind.OFFCUT: ".", Kind.LOST: "#"}
_LEGEND = "| saw cut, --MARK-- blank, //// spare, .... left, #### trim and what the vice holds"
_DOUBT_LEGEND = "| saw cut, --MARK-- blank, ???? may be needed for it, //// spare, .... left, #### trim and vice"


def show_bars(tables: Tables, console: Console) -> None:
    """Each bar under its title; below it the cuts whose marks have no room on it."""
    heading(console, "Bars", _DOUBT_LEGEND if tables.waiting else _LEGEND)
    longest = max((bar.length for bar in tables.bars), default=Fraction(1))
    for bar in tables.bars:
        left = f"{bar.rest} left" if bar.cuts else "kept whole"
        kept = f", {wording.counted(bar.spares, 'spare')} on it" if bar.spares else ""
        say(console, f"{bar.title}; {left}{kept}", style="bold", hang=2)
        across = (console.width if console.is_terminal else _PIPE_WIDTH) - 4
        parts = _drawable(bar.stretches, longest, across)
        drawn, hidden = _drawn(parts, longest, across)
        line(console, f"  {drawn}")
        if hidden:
            cuts = (f"{wording.cuts(run[0].cut, run[-1].last)} {run[0].text}" for run in _runs(hidden, alike=True))
            say(console, "  " + ", ".join(cuts), hang=4)


def _drawn(parts: Sequence[Stretch], longest: Fraction, across: int) -> tuple[str, list[Stretch]]:
    """The bar as a line, and the blanks whose marks found no room on it."""
    drawn, hidden = "", []
    for part, width in zip(parts, _to_scale(parts, longest, across), strict=True):
        inner = width - 1 if part.sawn else width
        fits = len(part.text) <= inner - (part.kind is not Kind.BLANK) * 2
        text = part.text if fits else str(part.cut) if part.cut and len(str(part.cut)) <= inner else ""
        drawn += text.center(inner, _FILL[part.kind]) + "|" * part.sawn
        if part.kind is Kind.BLANK and not fits:
            hidden.append(part)
    return drawn, hidden


def _drawable(parts: Sequence[Stretch], longest: Fraction, cells: int) -> tuple[Stretch, ...]:
    """``parts`` themselves where each can have a cell; else with neighbouring blanks drawn together: first those of
    one mark, then, where that does not do, all."""
    room = round((parts[-1].end - parts[0].start) / longest * cells)
    for alike in (True, False):
        if sum(map(_least, parts)) <= room:
            break
        parts = tuple(_together(parts, alike=alike))
    return tuple(parts)


def _least(part: Stretch) -> int:
    """The fewest cells that show it: a doubt ends in a saw cut, which takes one for itself."""
    return 2 if part.kind is Kind.DOUBT else 1


def _together(parts: Sequence[Stretch], *, alike: bool) -> Iterator[Stretch]:
    for run in _runs(parts, alike=alike):
        first, last = run[0], run[-1]
        count = last.last - first.cut + 1
        text = first.text if count == 1 or not alike else f"{count} x {first.text}"
        if not alike and len(run) > 1:
            text = f"{count} blanks"
        yield Stretch(first.kind, first.start, last.end, text, first.cut, last.last, last.sawn)


def _runs(parts: Sequence[Stretch], *, alike: bool) -> Iterator[list[Stretch]]:
    """Blanks that are cut one after the other, together (``alike``: only those of one mark); all else by itself."""
    run: list[Stretch] = []
    for part in parts:
        follows = run and part.kind is run[-1].kind is Kind.BLANK and part.cut == run[-1].last + 1
        if follows and (part.text == run[-1].text or not alike):
            run.append(part)
            continue
        if run:
            yield run
        run = [part]
    if run:
        yield run


def _to_scale(parts: Sequence[Stretch], longest: Fraction, cells: int) -> tuple[int, ...]:
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
