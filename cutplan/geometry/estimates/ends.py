"""What an end on a bend, or on several tubes, can gain at the least and at the most while its numbers are in doubt.

Along each line of the member's outside the saddle is where the line first enters any of the tubes; the tip is the
least of all lines. So bounds on each line, one by one, bound the tip, and what the tape was laid to:

* a straight tube that runs on: the saddle's own formula, with each number where it cuts most or least. With the angle
  theta it falls until cos(theta) = -x/S (x: the line's distance towards the short side; S: half the chord that the tube
  cuts there), and rises from there, so its extremes are at the ends of the range or there;
* any other tube is, wherever in its range it is, inside the one in the middle of the range made thicker by as far as
  its centreline can move, and around the one made thinner by that (dilation and erosion by a ball: Matheron, *Random
  Sets and Integral Geometry*, 1975). A tube is a ball swept along its centreline, so only the centreline's own
  movement counts, and of that only the part close to the line looked at: angles and turns move it little there.

The range is divided where the bound is worst until what is tried in the middle comes close to it (branch and bound:
Moore, *Interval Analysis*, 1966). The bound is safe however soon that ends.

Lengths in mm along the member's axis, inwards positive, from the axis point nearest the tubes' axes; degrees in
signatures. Frames and senses as in :mod:`cutplan.geometry.saddle`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import lru_cache
from heapq import heappop, heappush
from math import inf, radians

import numpy as np

from cutplan.geometry.byhand import hand_end, runs_straight_on
from cutplan.geometry.estimates.moved_tubes import STEP_DEG, MovedTube, Numbers, Reach, StraightTube, far_along
from cutplan.geometry.placing import Placer
from cutplan.geometry.points import norm
from cutplan.geometry.saddle import Array
from cutplan.geometry.solid import Target
from cutplan.job.model import MOST_COPE_DEG, End, Measured, Member, Saddle


@dataclass(frozen=True, slots=True)
class TargetsAt:
    """The tubes that end ``name`` of a member lands on, in its frame, for any numbers of its saddles. ``radius``:
    of the member's outside, ``straight``: how long it is there; ``landed``: all that it lands on, directly or through
    others."""

    name: str
    end: End
    radius: float
    straight: float
    landed: tuple[Member, ...]
    placer: Placer = field(compare=False, repr=False)

    @classmethod
    def of(cls, name: str, end: End, radius: float, straight: float, placer: Placer) -> TargetsAt:
        """Those of an end as it was read."""
        found: dict[str, Member] = {}
        todo = [one.onto.member for one in end.saddles]
        while todo:
            member = placer.member(todo.pop())
            if member is not None and member.mark not in found:
                found[member.mark] = member
                todo += [one.onto.member for each in member.ends for one in each.saddles]
        return cls(name, end, radius, straight, tuple(found.values()), placer)

    def __call__(self, saddles: tuple[Saddle, ...]) -> tuple[Target, ...]:
        """For ``saddles`` without a ±."""
        return hand_end(self.name, replace(self.end, saddles=saddles), self.radius, self.straight, self.placer).targets


_CLOSE_MM = 0.1
"""A bound so little above what was tried is good enough."""
_LOOKS = 30
"""Parts of the range looked at, at the most, for either bound."""
_PROBES, _ROUNDS = 17, 2
_HAIR_MM = 1e-6


@dataclass(frozen=True, slots=True)
class _Box:
    """A part of the range: its middle, and how far it reaches either way."""

    middle: tuple[Numbers, ...]
    half: tuple[Numbers, ...]

    @property
    def point(self) -> _Box:
        """Its middle alone."""
        return _Box(self.middle, (Numbers(0.0, 0.0, 0.0, 0.0, 0.0),) * len(self.half))

    def halves(self, reach: float) -> tuple[_Box, _Box]:
        """Both halves of it, divided where that helps most."""
        widest = [half.widest(reach) for half in self.half]
        i = max(range(len(widest)), key=lambda k: widest[k][0])
        which = widest[i][1]
        by = getattr(self.half[i], which) / 2.0
        half = _changed(self.half, i, which, by)
        at = getattr(self.middle[i], which)
        low, high = (_Box(_changed(self.middle, i, which, at + step), half) for step in (-by, by))
        return low, high


def _changed(numbers: tuple[Numbers, ...], i: int, which: str, value: float) -> tuple[Numbers, ...]:
    # ``which`` is the name of a field, so that ``replace`` cannot be checked.
    return (*numbers[:i], replace(numbers[i], **{which: value}), *numbers[i + 1 :])


def in_doubt(one: Saddle) -> bool:
    """Whether a number of the saddle has a ±."""
    own = one.angle_tolerance or one.offset_tolerance or one.turn_tolerance
    return bool(own or one.onto.side_tolerance or one.onto.arc_tolerance)


@lru_cache(maxsize=64)
def extremes_in_doubt(targets_at: TargetsAt) -> tuple[float, float]:
    """The least and the greatest that an end can add between the point measured to and its tip."""
    saddles, measured = targets_at.end.saddles, targets_at.end.measured
    if measured is Measured.TIP:
        return 0.0, 0.0
    whole = _Box(
        tuple(
            Numbers(one.angle_deg, float(one.offset), one.turn_deg, one.onto.side_deg, one.onto.arc_deg or 0.0)
            for one in saddles
        ),
        tuple(
            Numbers(
                one.angle_tolerance,
                float(one.offset_tolerance),
                one.turn_tolerance,
                one.onto.side_tolerance,
                one.onto.arc_tolerance,
            )
            for one in saddles
        ),
    )
    search = _Search(targets_at.radius, saddles, measured, targets_at)
    return -search.most(whole, -1.0), search.most(whole, 1.0)


@dataclass(slots=True)
class _Search:
    """Branch and bound over the numbers of one end of a member of that outside ``radius``."""

    radius: float
    saddles: tuple[Saddle, ...]
    measured: Measured
    targets_at: TargetsAt
    _known: dict[_Box, tuple[float, float] | None] = field(init=False, default_factory=dict)
    _fars: dict[_Box, list[Array | None]] = field(init=False, default_factory=dict)

    def most(self, whole: _Box, sign: float) -> float:
        """An upper bound of what the end gains (``sign`` 1), or of that taken negative (-1)."""
        reach = self.radius + max(float(one.onto.od) for one in self.saddles) / 2.0
        tried = -inf
        heap: list[tuple[float, int, _Box]] = []
        count = 0

        def push(box: _Box, within: _Box) -> None:
            nonlocal count
            count += 1
            if (found := self._gain(box, within)) is not None:
                heappush(heap, (-(found[1] if sign > 0 else -found[0]), count, box))

        push(whole, whole)
        while heap and count < 2 * _LOOKS:
            bound, _, box = heap[0]
            if (found := self._gain(box.point, box)) is not None:
                tried = max(tried, found[1] if sign > 0 else -found[0])
            if -bound - tried <= _CLOSE_MM:
                break
            heappop(heap)
            for part in box.halves(reach):
                push(part, box)
        return max(-heap[0][0] if heap else -inf, tried) + _HAIR_MM

    def _gain(self, box: _Box, within: _Box) -> tuple[float, float] | None:
        """From, to what the end gains anywhere in ``box``, a part of ``within``; None: it cannot be made there."""
        if box not in self._known:
            lines = _Lines(self.radius, self.saddles, box, self.targets_at, self._fars.get(within, ()))
            self._known[box] = self._bounds(lines)
            self._fars[box] = lines.fars
        return self._known[box]

    def _bounds(self, lines: _Lines) -> tuple[float, float] | None:
        turns = np.arange(0.0, 360.0, STEP_DEG)
        side, inner = self._laid_to()
        low, high = lines.at(np.append(turns, side), np.append(np.full_like(turns, self.radius), inner))
        if not (low < inf).all() or not (high > -inf).all():
            return None
        count = len(turns)
        tip = _lowest(lambda phi: lines.least(phi, self.radius), turns, low[:count]), float(high[:count].min())
        if self.measured is Measured.CENTRE:
            return -tip[1], -tip[0]
        return float(low[count:].min()) - tip[1], float(high[count:].max()) - tip[0]

    def _laid_to(self) -> tuple[list[float], list[float]]:
        """The turn angle and the distance from the axis of each line that the tape may be laid along."""
        if self.measured in (Measured.CENTRE, Measured.FACE):
            return [0.0], [0.0]
        sides = [180.0 if self.measured is Measured.LONG else 0.0]
        if self.saddles[0].angle_deg + self.saddles[0].angle_tolerance > MOST_COPE_DEG:
            # Beyond square the acute angle, and with it the short side, is on the other side.
            sides = [0.0, 180.0]
        return sides, [self.radius] * len(sides)


def _lowest(line: Callable[[Array], Array], phi: Array, z: Array) -> float:
    """The lowest of a line, looked at more closely about all lows of a grid."""
    before, after = np.roll(z, 1), np.roll(z, -1)
    rise = np.where(np.isfinite(z), np.maximum(before, after) - z, 0.0)
    at = phi[(z <= before) & (z <= after) & (z - 4.0 * rise <= z.min())]
    best, width = float(z.min()), 2.0 * STEP_DEG
    for _ in range(_ROUNDS):
        probes = at[:, None] + width * np.linspace(-0.5, 0.5, _PROBES)
        found = line(probes.ravel()).reshape(probes.shape)
        best = min(best, float(found.min()))
        at = probes[np.arange(len(at)), np.argmin(found, axis=1)]
        width *= 2.0 / (_PROBES - 1)
    return best


@dataclass(slots=True)
class _Lines:
    """Bounds on the lines of an end whose numbers are anywhere in ``box``."""

    radius: float
    saddles: tuple[Saddle, ...]
    box: _Box
    targets_at: TargetsAt
    known: Sequence[Array | None]
    """How far along each line each tube may be met, as found for a box that this one is a part of."""
    _tubes: list[StraightTube | MovedTube] = field(init=False, default_factory=list)

    def __post_init__(self) -> None:
        at = tuple(_set(one, numbers) for one, numbers in zip(self.saddles, self.box.middle, strict=True))
        for one, half, target in zip(at, self.box.half, self.targets_at(at), strict=True):
            if runs_straight_on(one) and not target.pieces[0].saddles:
                self._tubes.append(StraightTube(one, half))
            else:
                together = self._together(at, target)
                far = far_along(one, half, target, self.radius)
                known = self.known[len(self._tubes)] if self.known else None
                self._tubes.append(MovedTube(one, half, target, together, far, known))

    @property
    def fars(self) -> list[Array | None]:
        """How far along each line each tube may be met."""
        return [tube.fars if isinstance(tube, MovedTube) else None for tube in self._tubes]

    def at(self, phi_deg: Array, radius: Array) -> tuple[Array, Array]:
        """From, to where the line at each turn angle, on the surface of ``radius``, enters what is landed on. Infinity
        and minus infinity: it misses all of it for certain."""
        reaches = [tube.reach(phi_deg, radius) for tube in self._tubes]
        return _first_of(reaches), np.maximum.reduce([one.most for one in reaches])

    def least(self, phi_deg: Array, radius: float) -> Array:
        """The first of both, for lines next to those that were asked for before."""
        wide = np.full(phi_deg.shape, radius)
        return _first_of([tube.between(phi_deg, wide) for tube in self._tubes])

    def _together(self, saddles: Sequence[Saddle], target: Target) -> float:
        """By how much, near the joint, any two of the tubes may move against each other."""
        far = 2.0 * target.radius + max(
            (
                norm(piece.point)
                + max(abs(at) for at, ends in zip((piece.lo, piece.hi), piece.ends, strict=True) if ends)
                for piece in target.pieces
                if piece.saddles
            ),
            default=0.0,
        )
        moved = 0.0
        for one, half in zip(saddles, self.box.half, strict=True):
            turned = radians(half.angle + half.turn + half.side)
            moved += half.offset + 2.0 * far * turned + radians(half.arc) * (float(one.onto.clr or 0) + 2.0 * far)
        return moved


def _first_of(reaches: Sequence[Reach]) -> Array:
    certain: Array = np.maximum.reduce([one.certain for one in reaches])
    # A line that is not certain to meet any one tube meets one of them all the same, or there is no such end.
    least: Array = np.minimum.reduce([one.least for one in reaches])
    return np.asarray(np.where(certain > -inf, certain, least), dtype=float)


def _set(one: Saddle, numbers: Numbers) -> Saddle:
    onto = one.onto
    if onto.clr is not None or onto.bend is not None:
        onto = replace(onto, side_deg=numbers.side, arc_deg=None if onto.arc_deg is None else numbers.arc)
    return replace(one, onto=onto, angle_deg=numbers.angle, offset=Fraction(numbers.offset), turn_deg=numbers.turn)
