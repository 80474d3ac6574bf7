"""Which reading is a slip: Baarda's data snooping, and when that cannot be said.

Each reading's w is its miss in units of the miss's own standard deviation; beyond 3.29 one honest reading in a
thousand would be named (Baarda, *A testing procedure for use in geodetic networks*, 1968). The likeliest is named
first. It is left out only if it is certain: its w is beyond what one honest survey in a thousand would show anywhere,
something still checks the rest, and no other reading explains the misses nearly as well (odds of 1000 to 1, from the
difference of the sums of squares). What was left out and agrees with the rest after all comes back in.

A coordinate that was given as exact may be a slip as well: leaving it out is to let the readings find it, and its w
follows from what that takes off the sum of squares (one more unknown, Baarda's conventional alternative hypothesis). As
people measure more often wrongly than they write, it is named where it explains more than any reading by those odds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import log, sqrt

import numpy as np

from cutplan.survey.equations import CHECKED, Array, Network, Quality, quality, solved
from cutplan.survey.model import Slip
from cutplan.survey.starts import turned_over

CRITICAL = 3.2905
ODDS = 2.0 * log(1000.0)
FAINT = 4.0
"""A reading whose leaving out takes no more than this off the sum of squares is no suspect: a w of 2."""

SUSPECTS = 8
"""Suspects that are tried by leaving each out in turn and solving again; the others cannot come near."""

GROSS = 100.0
"""Times as large as it should be: then the largest misses are looked for where large ones weigh less, too."""

PLAIN, ENOUGH = 10.0, 8
"""A slip so many times the scatter of readings that are all poor is left out all the same, where so many are spare."""

FOLDS = 16
"""How often nodes are turned over where, without a slip, the shape that it had led to may be left."""

SEED = 20021
SIGNIFICANCE = 0.001
PATIENCE = 3
"""How often what was left out may come back in."""


@dataclass(frozen=True, slots=True)
class Snooped:
    """The solution without the slips that are certain. ``stay`` are the rows kept; ``slips`` by row of the whole, given
    coordinates (3 * node + axis) counted on after the rows; ``freed`` are those given ones that were left out."""

    net: Network
    xyz: Array
    quality: Quality
    stay: tuple[int, ...]
    slips: tuple[Slip, ...]
    freed: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class _Survey:
    """All readings, and the coordinates that were ``given`` as exact; both may be left out."""

    net: Network
    given: tuple[int, ...]

    def without(self, out: Sequence[int]) -> Network:
        """The readings that stay, with the given coordinates that do not to be found."""
        rows = self.net.rows
        return self.net.without([one for one in out if one < rows]).freed([one - rows for one in out if one >= rows])

    def staying(self, out: Sequence[int]) -> list[int]:
        """The rows that stay."""
        return [row for row in range(self.net.rows) if row not in out]

    def snooped(self, out: Sequence[int], xyz: Array, slips: Sequence[Slip]) -> Snooped:
        now, rows = self.without(out), self.net.rows
        freed = tuple(one - rows for one in out if one >= rows)
        return Snooped(now, xyz, quality(now, xyz), tuple(self.staying(out)), tuple(slips), freed)

    def strength(self, one: int, xyz: Array, found: Quality) -> float:
        """How far something that was left out is from what the rest makes of it, in standard deviations."""
        if one >= self.net.rows:
            at = one - self.net.rows
            off, spread = xyz.ravel()[at] - self.net.base.ravel()[at], found.spread[at, at]
        else:
            slope = self.net.slopes(xyz)[one]
            off = self.net.values(xyz)[one] - self.net.read()[one]
            spread = self.net.spreads()[one] ** 2 + slope @ found.spread @ slope
        return float(abs(off)) / sqrt(max(float(spread), 1e-300))


def snoop(net: Network, xyz: Array, given: Sequence[int], placed: Callable[[Network, Array], Array]) -> Snooped:
    """Slips one after another, each left out if it is certain; the last may be one among several. ``given``:
    coordinates (3 * node + axis) that were given as exact; ``placed``: of a solution and its mirror images, the one
    that is meant."""
    survey = _Survey(net, tuple(given))
    out: list[int] = []
    also: dict[int, tuple[int, ...]] = {}
    back: dict[int, int] = {}
    while True:
        now = survey.without(out)
        found = quality(now, xyz)
        agreeing = [one for one in out if survey.strength(one, xyz, found) < CRITICAL]
        agreeing = [one for one in agreeing if back.get(one, 0) < PATIENCE]
        if agreeing:
            back |= {one: back.get(one, 0) + 1 for one in agreeing}
            out = [one for one in out if one not in agreeing]
            xyz = solved(survey.without(out), xyz)
            continue
        named = _suspects(survey, out, now, xyz, found)
        if named.without is None or not named.alone:
            break
        out.append(named.suspects[0])
        also[named.suspects[0]] = named.also
        now = survey.without(out)
        xyz = placed(now, unfolded(now, named.without))
    slips = [Slip((one,), True, also[one]) for one in out]
    if named.suspects:
        slips.append(Slip(named.suspects, False))
    done = survey.snooped(out, xyz, slips)
    return done if agrees(done.quality) or not out else _certain_only(survey, out, done)


def unfolded(net: Network, xyz: Array, folds: int = FOLDS) -> Array:
    """The best solution near ``xyz``; where that is far from fitting, a shape that a slip led to may be turned over."""
    rng = np.random.default_rng(SEED)
    for _ in range(folds):
        least = net.misfit(xyz)
        if least <= GROSS * net.rows:
            break
        other = solved(net, turned_over(net, xyz, rng), rough=True)
        if net.misfit(other) < 0.99 * least:
            xyz = solved(net, other)
    return xyz


def agrees(found: Quality) -> bool:
    """Whether the misses are such as the ± allow (chi-squared, one honest survey in a thousand is refused)."""
    from scipy.stats import chi2

    return found.spare <= 0 or bool(found.misfit <= chi2.ppf(1.0 - SIGNIFICANCE, found.spare))


@dataclass(frozen=True, slots=True)
class _Named:
    """What may be the slip, likeliest first; whether the first is certain (``alone``), and the solution ``without`` it;
    ``also``: given coordinates that explain the misses as well as that reading does."""

    suspects: tuple[int, ...] = ()
    alone: bool = False
    without: Array | None = None
    also: tuple[int, ...] = ()


def _suspects(survey: _Survey, out: Sequence[int], now: Network, xyz: Array, found: Quality) -> _Named:
    strengths = dict(_strengths(survey, out, now, xyz, found))
    if max(strengths.values(), default=0.0) < CRITICAL:
        return _Named()
    gains, places = _gains(survey, out, now, xyz, found, strengths)
    sure = _critical_gain(len(gains))
    likely = sorted(gains, key=lambda one: (-gains[one], one))
    read, given = ([one for one in likely if (one < survey.net.rows) is reading] for reading in (True, False))
    best, most = (max((gains[one] for one in each[:1]), default=0.0) for each in (read, given))
    by_coordinate = most > max(best + ODDS, sure)
    if not by_coordinate and max((strengths.get(one, 0.0) for one in read), default=0.0) < CRITICAL:
        return _Named()
    likely = given if by_coordinate else read
    first = likely[0]
    near = tuple(one for one in likely if gains[first] - gains[one] < ODDS and (one == first or gains[one] > FAINT))
    if first not in places:
        places[first] = solved(survey.without([*out, first]), xyz)
    alone = len(near) == 1 and found.spare >= 2 and gains[first] > sure
    also = [] if by_coordinate else [one for one in given if gains[one] > best - FAINT]
    return _Named(near, alone, places[first], tuple(also) if alone else ())


def _gains(
    survey: _Survey, out: Sequence[int], now: Network, xyz: Array, found: Quality, strengths: Mapping[int, float]
) -> tuple[dict[int, float], dict[int, Array]]:
    """What leaving out each takes off the sum of squares, and the solutions without those that may be it."""
    rows, order = survey.net.rows, sorted(strengths, key=lambda one: (-strengths[one], one))
    tried = [one for one in order if one < rows][:SUSPECTS] + [one for one in order if one >= rows][: SUSPECTS // 2]
    begins = [xyz]
    if found.misfit > GROSS * max(found.spare, 1):
        # What is far out pulls everything towards it, and is not what misses most then.
        begins.append(solved(now, xyz, robust=True, settle=False))
        stay, misses = survey.staying(out), np.abs(now.values(begins[1]) - now.read()) / now.spreads()
        tried += [stay[k] for k in np.argsort(-misses, kind="stable")[: SUSPECTS // 2]]
    gains, places = {one: strengths[one] ** 2 for one in order}, {}
    for one in dict.fromkeys(tried):
        rest = survey.without([*out, one])
        places[one] = min((solved(rest, begin) for begin in begins), key=rest.misfit)
        gains[one] = found.misfit - rest.misfit(places[one])
    return gains, places


def _strengths(
    survey: _Survey, out: Sequence[int], now: Network, xyz: Array, found: Quality
) -> Iterator[tuple[int, float]]:
    """The w of each reading that stays, and of each given coordinate, without its sign; of those that are checked."""
    for row, w in zip(survey.staying(out), np.abs(found.w), strict=True):
        if w > 0.0:
            yield row, float(w)
    slopes = now.slopes(xyz) / now.spreads()[:, None]
    miss = (now.read() - now.values(xyz)) / now.spreads()
    for at in survey.given:
        column = slopes[:, at]
        beside = column - slopes @ (found.spread @ (slopes.T @ column))
        checked = float(column @ beside)
        if survey.net.rows + at not in out and checked > CHECKED * max(float(column @ column), 1e-300):
            yield survey.net.rows + at, abs(float(column @ miss)) / sqrt(checked)


def _critical_gain(count: int) -> float:
    """The square that the largest w of ``count`` honest readings exceeds in one survey of a thousand (Bonferroni)."""
    from scipy.stats import chi2

    return float(chi2.ppf(1.0 - SIGNIFICANCE / count, 1))


def _certain_only(survey: _Survey, out: Sequence[int], done: Snooped) -> Snooped:
    """Without its slips the rest still disagrees: only one that is far beyond that is certain, and stays left out."""
    unit = sqrt(done.quality.misfit / max(done.quality.spare, 1))
    enough = done.quality.spare >= ENOUGH
    plain = [one for one in out if enough and survey.strength(one, done.xyz, done.quality) > PLAIN * unit]
    whole = solved(survey.without(plain), done.xyz)
    certain = [slip for slip in done.slips if slip.alone and slip.suspects[0] in plain]
    doubtful = dict.fromkeys(one for slip in done.slips for one in slip.suspects if one not in plain)
    others = [one for one in doubtful if one < survey.net.rows] or list(doubtful)
    slips = [*certain, Slip(tuple(others), False)] if others else certain
    return survey.snooped(plain, whole, slips)
