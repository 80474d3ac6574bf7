"""The rough cuts of every coped end: geometry states them as linear programs, which are solved here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np

from cutplan.geometry.model import Blank, EndShape
from cutplan.geometry.roughcut import (
    RoughCut,
    allowed_cuts,
    area_sawn,
    depths,
    generators,
    rough_cut_from,
    sides,
    spared,
)
from cutplan.job.model import Cut, Job
from cutplan.nesting import Region
from cutplan.plan.model import Plan, RoughEnd

_ROUNDS = 4

_SAME_MM = 0.1
"""Cuts nowhere further apart than this are one cut."""


def with_rough_ends(plan: Plan) -> Plan:
    """The same plan with the rough cuts of the coped ends still to be made, as a saw list shows them."""
    return replace(plan, rough_ends=rough_ends(plan.job, plan.to_make))


def rough_ends(job: Job, blanks: Sequence[Blank]) -> tuple[RoughEnd, ...]:
    """The rough cuts of every coped end of ``blanks``, in their order, end a before end b."""
    return tuple(
        RoughEnd(blank.mark, name, rough_cuts(shape, float(job.tube(blank.tube).wall), job.settings.saw_swing))
        for blank in blanks
        for name, shape in zip("ab", blank.ends, strict=True)
        if shape.cut is Cut.COPE
    )


@lru_cache(maxsize=4096)
def rough_cuts(shape: EndShape, wall: float, swing_deg: float = 60.0) -> tuple[RoughCut, ...]:
    """Up to two straight cuts that saw off as much as two can and nothing beyond the saddle line (``wall`` in mm), none
    steeper than ``swing_deg``.

    Each clears the generators of its side; then those where it is the deeper of the two and saws at all, a few
    times over.
    """
    if not 0 < wall < shape.od / 2:
        raise ValueError(f"a wall of {wall:g} mm on a tube of {shape.od:g} mm: it must be above 0 and below half of it")
    allowed = allowed_cuts(shape, wall, swing_deg)
    region = Region(allowed.rows, allowed.bounds)
    clears = list(sides())
    cuts: list[tuple[float, ...]] = []
    for _ in range(_ROUNDS):
        cuts = []
        for mine in clears:
            values = region.maximise(area_sawn(shape, mine))
            assert values is not None  # a square cut at the tip is always allowed, and all is bounded
            cuts.append(spared(values, shape, wall))
        first, second = (depths(cut, generators(), shape.od / 2) for cut in cuts)
        closer = [(first > 0) & (first >= second), (second > 0) & (second > first)]
        if not all(mine.any() for mine in closer):
            break
        if all(np.array_equal(old, new) for old, new in zip(clears, closer, strict=True)):
            break
        clears = closer
    if np.abs(first - second).max() < _SAME_MM:
        cuts = cuts[:1]  # one cut clears both sides
    found = (rough_cut_from(cut, shape) for cut in cuts)
    return tuple(cut for cut in found if cut is not None)
