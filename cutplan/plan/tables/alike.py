"""Which blanks are made alike, to within what can be marked: often a left and a right hand come out the same."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from cutplan.geometry.ends import end_line
from cutplan.geometry.inside import Insides
from cutplan.geometry.model import Blank

_ROUND = np.arange(0.0, 360.0, 15.0)
"""Turn angles at which the lines of two ends are compared."""


def alike_groups(blanks: Iterable[Blank], insides: Mapping[str, Insides]) -> tuple[tuple[Blank, ...], ...]:
    """The blanks of each member that have the same length, ends and bends together, in their order; estimated ones only
    where they are estimated alike. ``insides``: where the insides of the bends are, by mark."""
    groups: dict[object, list[Blank]] = {}
    for blank in blanks:
        groups.setdefault(_shape(blank, insides[blank.mark]), []).append(blank)
    return tuple(tuple(group) for group in groups.values())


def _shape(blank: Blank, insides: Insides) -> object:
    ends = (blank.end_a, blank.end_b)
    lines = tuple(tuple(end_line(end, _ROUND).round(2).tolist()) for end in ends)
    words = tuple((end.cut, tuple(saddle.onto for saddle in end.saddles)) for end in ends)
    turns = (blank.turn_deg, insides.a, insides.b)
    same = tuple(None if turn is None else round(turn % 360.0, 6) % 360.0 for turn in turns)
    grips = (blank.cut_off_a, blank.cut_off_b)
    return (blank.member, blank.length, blank.estimate, lines, words, same, blank.turn_known, blank.bends, grips)
