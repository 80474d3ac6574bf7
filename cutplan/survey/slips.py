"""Which reading is a slip: Baarda's data snooping, and when that cannot be said.

Each reading's w is its miss in units of the miss's own standard deviation; beyond 3.29 one honest reading in a
thousand would be named (Baarda, *A testing procedure for use in geodetic networks*, 1968). The likeliest is named
first. It is left out only if it stands alone: its w is beyond what one honest survey in a thousand would show anywhere,
leaving it out makes the rest agree, something still checks the rest, and no other reading explains the misses nearly as
well (odds of 1000 to 1, from the difference of the sums of squares).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log

import numpy as np

from cutplan.survey.equations import Array, Network, solved
from cutplan.survey.model import Slip
from cutplan.survey.quality import Quality, quality

CRITICAL = 3.2905
ODDS = 2.0 * log(1000.0)
FAINT = 4.0
"""A reading whose leaving out takes no more than this off the sum of squares is no suspect: a w of 2."""

SUSPECTS = 8
"""Readings that are tried by leaving each out in turn and solving again; the others cannot come near."""

SIGNIFICANCE = 0.001


@dataclass(frozen=True, slots=True)
class Snooped:
    """The solution without the slips that stand alone. ``stay`` are the rows kept, ``slips`` by row of the whole."""

    net: Network
    xyz: Array
    quality: Quality
    stay: tuple[int, ...]
    slips: tuple[Slip, ...]


def snoop(net: Network, xyz: Array) -> Snooped:
    """Slips one after another, each left out if it stands alone; the last may be one among several."""
    stay = list(range(net.rows))
    slips: list[Slip] = []
    while True:
        now = net.without(sorted(set(range(net.rows)) - set(stay)))
        found = quality(now, xyz)
        suspects, alone, without = _suspects(now, xyz, found)
        if not suspects:
            break
        named = tuple(stay[each] for each in suspects)
        if not alone:
            slips.append(Slip(named, False))
            break
        slips.append(Slip(named, True))
        stay.remove(named[0])
        xyz = without
    if agrees(found):
        return Snooped(now, xyz, found, tuple(stay), tuple(slips))
    return _doubted(net, xyz, slips, Snooped(now, xyz, found, tuple(stay), tuple(slips)))


def agrees(found: Quality) -> bool:
    """Whether the misses are such as the ± allow (chi-squared, one honest survey in a thousand is refused)."""
    from scipy.stats import chi2

    return found.spare <= 0 or bool(found.misfit <= chi2.ppf(1.0 - SIGNIFICANCE, found.spare))


def _suspects(net: Network, xyz: Array, found: Quality) -> tuple[list[int], bool, Array]:
    """Rows that may be the slip, likeliest first; whether the first stands alone; the solution without it."""
    strength = np.abs(found.w)
    order = np.argsort(-strength, kind="stable")
    order = order[strength[order] > 0]
    if not order.size or strength[order[0]] < CRITICAL:
        return [], False, xyz
    tried = [int(row) for row in order[:SUSPECTS]]
    gains, places = {}, {}
    for row in tried:
        rest = net.without([row])
        places[row] = solved(rest, xyz)
        gains[row] = found.misfit - rest.misfit(places[row])
    gains |= {int(row): float(found.w[row]) ** 2 for row in order[SUSPECTS:]}
    likely = sorted(gains, key=lambda row: -gains[row])
    first = likely[0]
    near = [row for row in likely if gains[first] - gains[row] < ODDS and (row == first or gains[row] > FAINT)]
    if first not in places:
        places[first] = solved(net.without([first]), xyz)
    alone = len(near) == 1 and found.spare >= 2 and gains[first] > _beyond_doubt(net.rows)
    return near, alone, places[first]


def _beyond_doubt(rows: int) -> float:
    """The square that the largest w of ``rows`` honest readings exceeds in one survey of a thousand (Bonferroni)."""
    from scipy.stats import chi2

    return float(chi2.ppf(1.0 - SIGNIFICANCE / rows, 1))


def _doubted(net: Network, xyz: Array, slips: list[Slip], found: Snooped) -> Snooped:
    """Without its slips the rest still disagrees: none of them is certain, so nothing is left out."""
    if not any(slip.alone for slip in slips):
        return found
    whole = solved(net, xyz)
    doubtful = tuple(Slip(slip.suspects, False) for slip in slips)
    return Snooped(net, whole, quality(net, whole), tuple(range(net.rows)), doubtful)
