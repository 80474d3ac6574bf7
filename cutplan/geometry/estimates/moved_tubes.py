"""Bounds on where the lines of a member enter a tube that may be moved, within the ± of what says where it is.

Two kinds: a straight tube that runs on, by the saddle's own formula; and any other, by its thicker and its thinner
self. Why they are bounds: see :mod:`cutplan.geometry.estimates.ends`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import cos, hypot, inf, isfinite, radians, sin

import numpy as np

from cutplan.geometry.kernel import kept_inside, rod_span
from cutplan.geometry.points import Vector, minus, norm, plus, scaled
from cutplan.geometry.saddle import SLACK_MM, Array, around
from cutplan.geometry.solid import Piece, Plane, Saddled, Target
from cutplan.geometry.torus import arc_entry
from cutplan.job.model import Saddle

STEP_DEG = 3.0
"""Between the lines of the grid."""
_TIGHTENED = 3
_MORE, _MORE_MM = 1.1, 0.1
"""A line between two that were looked at is not met further in than so many times as far, and mm, as those."""


@dataclass(frozen=True, slots=True)
class Numbers:
    """The numbers of one saddle, or by how much each may be out: degrees, the offset in mm."""

    angle: float
    offset: float
    turn: float
    side: float
    arc: float

    def widest(self, reach: float) -> tuple[float, str]:
        """How much the number that counts most moves the tube, in mm, and which it is."""
        moved = {name: radians(getattr(self, name)) * reach for name in ("angle", "turn", "side", "arc")}
        moved["offset"] = self.offset
        which = max(moved, key=lambda name: moved[name])
        return moved[which], which


@dataclass(frozen=True, slots=True)
class Reach:
    """What a line may have of one tube: where it enters it at the least and at the most if it meets it at all, and at
    the least if it is certain to (minus infinity: it is not)."""

    least: Array
    certain: Array
    most: Array


@dataclass(frozen=True, slots=True)
class StraightTube:
    """A straight tube that runs on both ways."""

    one: Saddle
    half: Numbers

    def between(self, phi_deg: Array, radius: Array) -> Reach:
        """As :meth:`reach`."""
        return self.reach(phi_deg, radius)

    def reach(self, phi_deg: Array, radius: Array) -> Reach:
        """Of the lines at ``phi_deg``, each on the surface of its ``radius``."""
        one, half = self.one, self.half
        low, high = phi_deg - one.turn_deg - half.turn, phi_deg - one.turn_deg + half.turn
        beside, ahead = ([radius * each for each in sines(low + by, high + by)] for by in (0.0, 90.0))
        onto, offset = float(one.onto.od) / 2.0, float(one.offset)
        right, left = beside[1] - offset + half.offset, offset + half.offset - beside[0]
        gaps = np.maximum(np.maximum(-right, -left), 0.0), np.maximum(np.abs(right), np.abs(left))
        chords = [np.sqrt(np.maximum(onto**2 - gap**2, 0.0)) for gap in gaps]
        missed, unsure = (onto**2 - gap**2 < -2.0 * onto * SLACK_MM for gap in gaps)
        angles = radians(one.angle_deg - half.angle), radians(one.angle_deg + half.angle)
        least = np.minimum.reduce([_least_over(x, chords[1], angles) for x in ahead])
        most = np.maximum.reduce([(x * cos(angle) + chords[0]) / sin(angle) for x in ahead for angle in angles])
        return Reach(np.where(missed, inf, least), np.where(unsure, -inf, least), np.where(missed, -inf, most))


def sines(low: Array, high: Array) -> tuple[Array, Array]:
    """The least and the greatest sine of any angle from ``low`` to ``high`` degrees."""
    at = [np.sin(np.radians(each)) for each in (low, high)]
    # A crest, or a trough, is between the two where the number of whole turns from it differs.
    crest = np.floor((high - 90.0) / 360.0) > np.floor((low - 90.0) / 360.0)
    trough = np.floor((high - 270.0) / 360.0) > np.floor((low - 270.0) / 360.0)
    return np.where(trough, -1.0, np.minimum(*at)), np.where(crest, 1.0, np.maximum(*at))


def _least_over(x: Array, chord: Array, angles: tuple[float, float]) -> Array:
    """The least of (x·cos(theta) + chord) / sin(theta) over a range of angles."""
    low, high = ((x * cos(angle) + chord) / sin(angle) for angle in angles)
    turns = (-x > chord * cos(angles[1])) & (-x < chord * cos(angles[0]))
    return np.where(turns, np.sqrt(np.maximum(chord**2 - x**2, 0.0)), np.minimum(low, high))


def far_along(one: Saddle, half: Numbers, target: Target, radius: float) -> float:
    """No place of the tube within the member is further along it than this, either way."""
    found = 0.0
    for piece in target.pieces:
        at = norm(piece.point) + target.radius
        if piece.clr:
            found = max(found, at + 2.0 * piece.clr)
        elif isfinite(piece.lo) and isfinite(piece.hi) and not any(piece.ends):
            found = max(found, at + max(abs(piece.lo), abs(piece.hi)))
        else:
            level = max(hypot(piece.way[0], piece.way[1]), 1e-3)
            turned = radians(half.angle + half.side)
            found = max(found, (radius + at) / max(level - turned, level / 10.0))
    return 1.1 * found + half.offset


@dataclass(slots=True)
class MovedTube:
    """A tube that may be moved away from where it is in the middle of its range. ``together``: how far, against the
    others; ``far``: how far along the member it may be met."""

    one: Saddle
    half: Numbers
    target: Target
    together: float
    far: float
    fars: Array | None
    """The same for each line of the grid, once that is known."""

    def reach(self, phi_deg: Array, radius: Array) -> Reach:
        """Of the lines of the grid, each at its turn angle on the surface of its ``radius``."""
        x, y = around(radius, phi_deg)
        far = np.full(x.shape, self.far) if self.fars is None else self.fars
        for _ in range(_TIGHTENED if self.fars is None else 1):
            slid = float(self._slid(phi_deg, radius, far).max())
            grown = self._moves(phi_deg, radius, far)
            most = np.maximum.reduce([thick_entry(piece, self.target.radius + by, slid, x, y) for piece, by in grown])
            least, certain = self._at_least(phi_deg, radius, far, x, y)
            met = (most > -inf) & (least < inf)
            far = np.where(met, np.minimum(far, np.maximum(np.abs(most), np.abs(np.where(met, least, 0.0)))), 0.0)
        self.fars = far
        return Reach(least, certain, most)

    def between(self, phi_deg: Array, radius: Array) -> Reach:
        """At the least, of lines between those of the grid."""
        assert self.fars is not None
        count = round(360.0 / STEP_DEG)
        number = np.floor(phi_deg / STEP_DEG).astype(int) % count
        far = _MORE * np.maximum(self.fars[number], self.fars[(number + 1) % count]) + _MORE_MM
        x, y = around(radius, phi_deg)
        least, certain = self._at_least(phi_deg, radius, np.minimum(far, self.far), x, y)
        return Reach(least, certain, np.full(x.shape, inf))

    def _at_least(self, phi_deg: Array, radius: Array, far: Array, x: Array, y: Array) -> tuple[Array, Array]:
        slid = float(self._slid(phi_deg, radius, far).max())
        moves = self._moves(phi_deg, radius, far)
        certain = np.full(x.shape, -inf)
        for number, (piece, by) in enumerate(moves):
            outer = number == 0, number == len(self.target.pieces) - 1
            found = thin_entry(piece, self.target.radius, by, slid, outer, x, y)
            if piece.saddles:
                found = self._kept(piece, found, x, y)
            certain = np.maximum(certain, found)
        certain = np.maximum(certain, self._ball(phi_deg, radius))
        least = certain.copy()
        rows = np.nonzero(certain == -inf)[0]
        if rows.size:
            lows = [
                -thick_entry(upside_down(piece), self.target.radius + by[rows], slid, x[rows], y[rows])
                for piece, by in moves
            ]
            least[rows] = np.minimum.reduce(lows)
        return least, certain

    def _ball(self, phi_deg: Array, radius: Array) -> Array:
        """Where each line is certain to enter the ball about the place that the member's axis comes nearest to: that is
        part of a tube that runs on there, whichever way it goes."""
        if self.one.onto.clr is None or any(any(piece.ends) for piece in self.target.pieces):
            return np.full(phi_deg.shape, -inf)
        offset, onto = abs(float(self.one.offset)), self.target.radius
        beside = np.sin(np.radians(phi_deg - self.one.turn_deg)) * float(self.one.offset)
        gap = np.sqrt(np.maximum(radius**2 + offset**2 - 2.0 * radius * beside, 0.0))
        gap += self.half.offset + offset * radians(self.half.turn)
        under = onto**2 - gap**2
        return np.where(under < -2.0 * onto * SLACK_MM, -inf, np.sqrt(np.maximum(under, 0.0)))

    def _moves(self, phi_deg: Array, radius: Array, far: Array) -> list[tuple[Piece, Array]]:
        """Each stretch of the tube, with how far the part of its centreline that is next to each line may be moved.
        ``far``: how far along the line the tube may be met."""
        one, half = self.one, self.half
        clr = float(one.onto.clr or 0)
        turn, tilt, swing, slide = (radians(each) for each in (half.turn, half.angle, half.side, half.arc))
        ahead, whole = self._next_to(phi_deg, radius, far)
        steep = radians(one.angle_deg)
        most = max(abs(cos(steep + by)) for by in (-tilt, 0.0, tilt))
        along = ahead + far * most
        beside = abs(float(one.offset)) + half.offset
        found = []
        landing = self._landing_arc()
        # Moved along itself a bend stays where it is, but for where it runs into its straights, or they into it.
        shifted = clr * (1.0 / cos(slide) - 1.0 + slide**2)
        for number, piece in enumerate(self.target.pieces):
            near = any(other is landing for other in self.target.pieces[max(number - 1, 0) : number + 2])
            if piece is landing:
                turned = np.where(whole < clr, np.arctan2(along, np.maximum(clr - whole, 1e-9)), np.pi)
                away = np.minimum(2.0 * clr * np.sin(turned / 2.0), whole + self.target.radius)
                lifted = np.minimum(clr * (1.0 - np.cos(turned)), away)
            elif runs_straight(one):
                away = lifted = along
            else:
                away = lifted = whole + self.target.radius
            level = np.minimum(beside + away, radius + self.target.radius)
            slid = shifted if piece is landing else shifted + 2.0 * slide * away if near else slide * (clr + away)
            by = half.offset + tilt * away + swing * lifted + turn * level + slid
            found.append((piece, by))
        return found

    def _next_to(self, phi_deg: Array, radius: Array, far: Array) -> tuple[Array, Array]:
        """How far from where the axes come nearest a place on each line may be: towards the short side, and at all."""
        turn = radians(self.half.turn)
        at = np.radians(phi_deg - self.one.turn_deg)
        ahead = radius * (np.abs(np.cos(at)) + turn)
        beside = np.abs(radius * np.sin(at) - float(self.one.offset)) + self.half.offset + radius * turn
        return ahead, np.sqrt(ahead**2 + beside**2 + far**2)

    def _slid(self, phi_deg: Array, radius: Array, far: Array) -> Array:
        """How far the tube itself, not its centreline, may be moved next to each line."""
        _, whole = self._next_to(phi_deg, radius, far)
        half, clr = self.half, float(self.one.onto.clr or 0)
        turned = radians(half.angle + half.side) * whole + radians(half.turn) * radius
        return half.offset + turned + radians(half.arc) * (clr + whole)

    def _landing_arc(self) -> Piece | None:
        """The bend that the member's axis comes nearest to."""
        if self.one.onto.clr is None:
            return None
        turn, offset = radians(self.one.turn_deg), float(self.one.offset)
        here = (-offset * sin(turn), offset * cos(turn), 0.0)
        arcs = [piece for piece in self.target.pieces if piece.clr]
        return min(arcs, key=lambda arc: abs(norm(minus(here, arc.centre)) - arc.clr), default=None)

    def _kept(self, piece: Piece, found: Array, x: Array, y: Array) -> Array:
        """Only what no coped end has lost, however the tubes move against each other."""
        rows = np.nonzero(found > -inf)[0]
        cuts = tuple(
            Saddled(one.frame, tuple(_grown(target, self.together) for target in one.targets)) for one in piece.saddles
        )
        kept = kept_inside(cuts, x[rows], y[rows], found[rows]) > 2.0 * SLACK_MM
        certain = np.full(x.shape, -inf)
        certain[rows] = np.where(kept, found[rows], -inf)
        return certain


def runs_straight(one: Saddle) -> bool:
    """Whether the tube of ``one`` is a straight one, whether or not it ends."""
    return one.onto.clr is None and one.onto.bend is None


def thick_entry(piece: Piece, radius: Array, slid: float, x: Array, y: Array) -> Array:
    """Where each line enters a stretch of that ``radius``, and ``slid`` longer at both ends; minus infinity where it
    does not. What ends goes on, as where it ends is no hindrance to what comes from there."""
    if not piece.clr:
        return _entry(_lengthened(piece, slid), radius, x, y)
    held = np.minimum(radius, 0.95 * piece.clr)
    # Too thick to be a bend any more: anything may be.
    top = np.where(radius > held, norm(piece.point) + 2.0 * piece.clr + radius + slid, arc_entry(piece, held, x, y))
    for along, sense in ((piece.lo, -1.0), (piece.hi, 1.0)):
        at, way = piece.at(along)
        top = np.maximum(top, _entry(Piece(at, scaled(way, sense), 0.0, slid), radius, x, y))
    return top


def _lengthened(piece: Piece, by: float) -> Piece:
    """A straight so much longer at both ends, and without end where the tube ends."""
    lo = -inf if piece.ends[0] else piece.lo - by
    hi = inf if piece.ends[1] else piece.hi + by
    return replace(piece, lo=lo, hi=hi, planes=(), saddles=())


def thin_entry(
    piece: Piece, radius: float, by: Array, slid: float, outer: tuple[bool, bool], x: Array, y: Array
) -> Array:
    """Where each line enters a stretch ``by`` thinner and, where the tube ends (``outer``: the stretch is its first,
    its last), ``slid`` shorter; minus infinity where it does not."""
    left = radius - by
    shorter = slid * (piece.clr / max(piece.clr - radius, 1e-9) if piece.clr else 1.0)
    ends = [piece.ends[k] or outer[k] for k in (0, 1)]
    lo, hi = piece.lo + shorter * ends[0], piece.hi - shorter * ends[1]
    planes = tuple(Plane(plus(one.point, scaled(one.normal, slid)), one.normal) for one in piece.planes)
    trimmed = replace(piece, lo=lo, hi=hi, planes=planes, saddles=())
    held = np.maximum(left, 1e-6)
    found = arc_entry(trimmed, held, x, y) if piece.clr else _entry(trimmed, held, x, y)
    return np.where((left > 0.0) & (lo < hi), found, -inf)


def _entry(piece: Piece, radius: Array, x: Array, y: Array) -> Array:
    low, high = rod_span(piece, radius, x, y)
    return np.where(low <= high, high, -inf)


def upside_down(piece: Piece) -> Piece:
    """A stretch seen from the other end of all lines."""

    def turned(v: Vector) -> Vector:
        return v[0], v[1], -v[2]

    return replace(piece, point=turned(piece.point), way=turned(piece.way), inwards=turned(piece.inwards))


def _grown(target: Target, by: float) -> Target:
    """A tube that runs on, thicker by so much: what it takes from another at the most."""
    pieces = tuple(piece if piece.clr else _lengthened(piece, by) for piece in target.pieces)
    return replace(target, radius=target.radius + by, pieces=pieces)
