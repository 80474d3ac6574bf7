"""Every reading against the result: its miss, and what all the others make of it; and the given coordinates that the
readings speak against, as readings of their own.

What the others make of a reading is its miss by its redundancy number; of one that misses by much it is found by
solving again without it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import sqrt

import numpy as np

from cutplan.survey.equations import Array, Network, Quality, quality, solved
from cutplan.survey.model import COVERAGE, Reading, Slip
from cutplan.survey.slips import CRITICAL, SUSPECTS, Snooped, agrees


@dataclass(frozen=True, slots=True)
class Reported:
    """Readings by row, then given coordinates that are suspects; slips by their numbers among these."""

    readings: tuple[Reading, ...]
    slips: tuple[Slip, ...]


def reported(net: Network, snooped: Snooped, found: Quality, widened: float, shift: Array) -> Reported:
    """All readings of ``net``, as they were ``snooped``. ``found``: the quality of the result with its ± ``widened``;
    ``shift``: what was taken off all coordinates."""
    taped = _taped(net, snooped, found, widened, shift)
    given = sorted({one for slip in snooped.slips for one in (*slip.suspects, *slip.also) if one >= net.rows})
    number = {one: len(taped) + k for k, one in enumerate(given)}
    beside = {one: slip.suspects[0] for slip in snooped.slips for one in slip.also}
    typed = [_typed(net, snooped, one - net.rows, beside.get(one), widened, shift) for one in given]
    slips = [
        replace(slip, suspects=_among(slip.suspects, number), also=_among(slip.also, number)) for slip in snooped.slips
    ]
    return Reported((*taped, *typed), tuple(slips))


def _among(suspects: tuple[int, ...], number: dict[int, int]) -> tuple[int, ...]:
    return tuple(number.get(one, one) for one in suspects)


def _taped(net: Network, snooped: Snooped, found: Quality, widened: float, shift: Array) -> list[Reading]:
    computed, read, spreads = (each.tolist() for each in (net.values(snooped.xyz), net.read(), net.spreads()))
    slopes = net.slopes(snooped.xyz)
    at = {row: i for i, row in enumerate(snooped.stay)}
    far = sorted(np.flatnonzero(np.abs(found.w) >= CRITICAL).tolist(), key=lambda i: -abs(float(found.w[i])))
    again = {snooped.stay[i]: _without(net, snooped, snooped.stay[i]) for i in far[:SUSPECTS]}
    readings = []
    for row in range(net.rows):
        miss = read[row] - computed[row]
        within = at.get(row)
        if within is None:
            checked, w = 1.0, None
            others: float | None = computed[row]
            sigma = sqrt(max(float(slopes[row] @ found.spread @ slopes[row]), 0.0))
        else:
            checked, w = float(found.checked[within]), float(found.w[within])
            others = again.get(row, read[row] - miss / checked) if checked > 0 else None
            sigma = widened * spreads[row] * sqrt(max(1.0 / checked - 1.0, 0.0)) if checked > 0 else 0.0
        tape = row < len(net.lengths)
        if tape and others is not None and others <= 0.0:
            others = None
        node, axis = divmod(int(net.soft[row - len(net.lengths)]), 3) if not tape else (0, 0)
        off = 0.0 if tape else float(shift[axis])
        start, end = (net.names[i] for i in net.pairs[row]) if tape else (net.names[node], "")
        readings.append(
            Reading(
                start=start,
                end=end,
                axis=None if tape else axis,
                value=read[row] + off,
                doubt=COVERAGE * spreads[row],
                computed=computed[row] + off,
                miss=miss,
                others=None if others is None else others + off,
                others_doubt=None if others is None else COVERAGE * sigma,
                checked=checked,
                w=w if checked > 0 else None,
                across=tape and bool(net.across[row]),
                left_out=within is None,
            )
        )
    return readings


def _without(net: Network, snooped: Snooped, row: int) -> float:
    """What all readings but one make of it."""
    out = sorted({*range(net.rows)} - {*snooped.stay} | {row})
    xyz = solved(net.without(out).freed(snooped.freed), snooped.xyz)
    return float(net.values(xyz)[row])


def _typed(net: Network, snooped: Snooped, at: int, instead: int | None, widened: float, shift: Array) -> Reading:
    """A given coordinate (3 * node + axis) and what the readings make of it; with the row that was left out ``instead``
    of it taken back."""
    node, axis = divmod(at, 3)
    xyz, found = snooped.xyz, snooped.quality
    if at not in snooped.freed:
        out = sorted({*range(net.rows)} - {*snooped.stay} - {instead})
        rest = net.without(out).freed([*snooped.freed, at])
        xyz = solved(rest, xyz)
        found = quality(rest, xyz)
        widened = 1.0 if agrees(found) else sqrt(found.misfit / found.spare)
    value, off = float(net.base[node, axis]), float(shift[axis])
    others, sigma = float(xyz[node, axis]), widened * sqrt(max(float(found.spread[at, at]), 0.0))
    return Reading(
        start=net.names[node],
        end="",
        axis=axis,
        value=value + off,
        doubt=0.0,
        computed=float(snooped.xyz[node, axis]) + off,
        miss=value - float(snooped.xyz[node, axis]),
        others=others + off,
        others_doubt=COVERAGE * sigma,
        checked=1.0,
        w=None,
        left_out=at in snooped.freed,
        typed=True,
    )
