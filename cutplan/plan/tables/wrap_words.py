"""Words on a paper wrap: in letters that can be read, within its edges, clear of its lines and of each other."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

CAPITAL = 0.72
"""A capital of Helvetica is 0.72 of its size high (its published metrics)."""

_LABEL_MM = 2.4
"""How high the letters along a line are."""

_CLEAR_MM = 1.0
"""Clearance between those letters and the line to mark along."""


@dataclass(frozen=True, slots=True)
class Words:
    """Text from ``x``, ``y`` (mm, its base line), ``size`` mm high; ``upright``: read from the bottom up."""

    text: str
    x: float
    y: float
    size: float = 3.0
    upright: bool = False


def broken(words: Words, room: float, least: float) -> list[Words]:
    """``words`` as they fit from their ``x`` to ``room`` mm: smaller, down to ``least``, then on several lines, and
    smaller still only where one word is too long."""
    whole = _fitted(words, room)
    if whole.size >= least:
        return [whole]
    lines: list[str] = []
    for word in words.text.split(" "):
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and words.x + wide(joined, least) <= room:
            lines[-1] = joined
        else:
            lines.append(word)
    return [_fitted(replace(words, text=line, size=least), room) for line in lines]


def labelled(lines: Sequence[tuple[float, str]], foot: float, once: float, depths: NDArray[np.float64]) -> list[Words]:
    """What each line is, along it: to its right, to its left, or further up, where neither lines nor words are in the
    way, nor the line to mark along, whose ``depths`` are those of each whole degree. Lines in one place are named
    together, in fewer words where there is not the room."""
    named: list[tuple[float, str]] = []
    for x, name in lines:
        at = next((number for number, (other, _) in enumerate(named) if abs(x - other) < once / 360.0), None)
        if at is None:
            named.append((x, name))
        else:
            named[at] = (named[at][0], f"{named[at][1]} = {name}")
    placed: list[tuple[float, float, float]] = []
    texts = []

    def free(left: float, up: float, long: float) -> bool:
        return 0.0 < left < once - _LABEL_MM and not any(
            abs(left - there) < _LABEL_MM + 0.3 and low < up + long and up < high for there, low, high in placed
        )

    def below(left: float, up: float, long: float) -> bool:
        first, last = (int(min(max(x / once, 0.0), 1.0) * 360.0) for x in (left, left + _LABEL_MM))
        return foot - up - long > float(depths[first : last + 2].max()) + _CLEAR_MM

    for x, whole in named:
        ups = sorted([0.0, *(high + 2.0 for _, _, high in placed)])
        spots = list(product((x + 1.0, x - 1.0 - _LABEL_MM), ups))
        best: tuple[str, float, float] | None = None
        for name in _variants(whole):
            long = wide(name, _LABEL_MM)
            found = [spot for spot in spots if free(*spot, long) and below(*spot, long)]
            clear = [
                (left, up)
                for left, up in found
                if not any(left - 0.5 < line < left + _LABEL_MM + 0.5 for line, _ in named if line != x)
            ]
            if found:
                best = (name, *(clear or found)[0])
                break
        if best is None:
            # Nowhere below the line: over it rather than over other words.
            name = list(_variants(whole))[-1]
            best = (name, *next(spot for spot in spots if free(*spot, wide(name, _LABEL_MM))))
        name, left, up = best
        placed.append((left, up, up + wide(name, _LABEL_MM)))
        texts.append(Words(name, left + _LABEL_MM, foot - up, _LABEL_MM, True))
    return texts


def _variants(name: str) -> Iterator[str]:
    """A name in ever fewer words."""
    yield name
    # Of the other end only its letter; a bend keeps its name.
    short = re.sub(r"\bend (?=[ab])", "", name.replace(" side", "")).replace(" end's", "'s")
    yield short
    yield short.replace(" short", "").replace(" long", "")


def wide(text: str, size: float) -> float:
    """How long ``text`` is in mm, in Helvetica with capitals ``size`` mm high."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    return float(stringWidth(text, "Helvetica", size / CAPITAL))


def _fitted(text: Words, room: float) -> Words:
    """``text`` in letters small enough for ``room`` mm."""
    long = text.x + wide(text.text, text.size)
    return text if long <= room else replace(text, size=text.size * (room - text.x) / (long - text.x))
