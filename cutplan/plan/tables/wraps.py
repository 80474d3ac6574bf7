"""A paper wrap as lines and words in mm, before it becomes a page: the end's line unrolled, full size.

The printed side faces out and the marked end is up. Turn angles are clockwise as seen from end a looking to end b,
so on the paper they run to the left at end a and to the right at end b. x runs from the left edge, y from the blank's
sawn end (where the tips are) towards the middle of the member. Method: development of a cylinder.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import atan2, cos, degrees, hypot, pi, radians, sin

import numpy as np

from cutplan.geometry import Blank, EndShape, bevel, end_line
from cutplan.geometry.ends import BEVEL_MM
from cutplan.geometry.inside import UNKNOWN, Insides, insides
from cutplan.geometry.saddle import Array
from cutplan.job.model import Cut, Job, Saddle, Settings, Tube
from cutplan.plan import wording
from cutplan.plan.tables.alike import alike_groups
from cutplan.plan.tables.wrap_words import Words as Words
from cutplan.plan.tables.wrap_words import broken, labelled

PAPER_MM = 0.1
"""Thickness of common 80 g/m2 office paper: its middle runs half of it outside the tube's surface."""

OVERLAP_MM = 15.0
_LABELS_MM = 26.0
"""Paper between the throat and the title of the wrap, for the names of the lines and for taping down."""

_OTHER = "other end"
_SAME_MM = 0.02
"""Ends whose lines are no further apart than this are marked by the same paper."""

_TURNS = np.arange(0.0, 361.0)

_PLAIN = 0.3
"""Sine of the angle from which on the centre of a bend is to one side of a member that lands on it."""

_BEND_MM = 9.0
"""Paper kept for the longer words of a bent member."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line through ``points`` (mm); ``width`` in mm; ``dash`` in mm, 0: unbroken."""

    points: tuple[tuple[float, float], ...]
    width: float = 0.2
    dash: float = 0.0


@dataclass(frozen=True, slots=True)
class Wrap:
    """A wrap: its size in mm, its title, the ends that it is for (mark and side), and ``line``, what is cut or ground
    along. ``helps``: how to lay it on, a line each, where this end asks for more than every wrap does; ``own``: those
    of them that are for this end alone, where what all such wraps share is said once for all."""

    title: str
    ends: tuple[tuple[str, str], ...]
    width: float
    height: float
    line: Stroke
    strokes: tuple[Stroke, ...]
    words: tuple[Words, ...]
    helps: tuple[str, ...] = ()
    own: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _End:
    """An end to be marked: ``side`` of ``blank``, and of all pieces of these ``marks``, which are made alike."""

    blank: Blank
    marks: tuple[str, ...]
    side: str
    tube: Tube
    settings: Settings
    insides: Insides

    @property
    def shape(self) -> EndShape:
        return self.blank.end(self.side)

    @property
    def _on_bends(self) -> list[str]:
        return [f"on {bend_name(one)}" for one in self.shape.saddles if one.onto.clr is not None]

    @property
    def joint(self) -> str:
        """What it is and sits on, bend included."""
        return "; ".join([wording.end(self.shape, self.settings.units), *self._on_bends])

    @property
    def seat(self) -> str:
        """The same in few words, where it sits on many tubes."""
        names = [one.onto.name for one in self.shape.saddles]
        return self.joint if len(names) < 3 else "; ".join([f"cope onto {', '.join(names)}", *self._on_bends])

    @property
    def fit(self) -> str:
        """For how much the blank is longer here, for fitting; empty for nothing."""
        units = self.settings.units
        allowed = wording.fitting(self.blank, self.side)
        return f"{wording.length(allowed, units)} {units.value}" if allowed else ""

    @property
    def inside(self) -> float | None:
        return self.insides.at(self.side)

    @property
    def depths(self) -> Array:
        """How deep the line is at each whole degree of the paper, from its left edge on."""
        return self._unrolled(end_line(self.shape, _TURNS))

    @property
    def bevels(self) -> Array:
        """How much deeper it is on the inside of the wall."""
        return self._unrolled(bevel(self.shape, _TURNS, float(self.tube.wall)))

    def _unrolled(self, values: Array) -> Array:
        return values[::-1] if self.side == "a" else values

    @property
    def bend(self) -> str:
        """The bend next to it, by its number from end a."""
        return f"bend {1 if self.side == 'a' else len(self.blank.bends)}"

    @property
    def upper_edge(self) -> str:
        """Where the upper edge of the paper is laid."""
        where = "the end as cut after bending" if self.blank.cut_off(self.side) else "the sawn end"
        return f"upper edge: {f'{self.fit} inside' if self.fit else 'on'} {where}"

    def helps(self, other: str) -> tuple[str, ...]:
        """How to lay this wrap on: for what the blank is longer here, and by which way the bend next to it goes.
        ``other``: the blank's other end in words."""
        helps, extra = [], self.blank.cut_off(self.side)
        if extra:
            grip = wording.taped(extra, self.settings)
            helps.append(
                f"The blank is {grip} longer here, for the bender to hold: bend it, cut that off, then lay this on."
            )
        helps += _fit_helps(self.fit)
        if self.blank.bends and self.inside is None:
            said = f"How this end is turned to {self.bend} was not given (rotation on sheet Bends): lay it on after"
            helps += [said, "bending, turned by what it lands on."]
        elif self.blank.bends:
            helps.append(
                f"The inside of {self.bend} is where its centre is. Bent tube: lay the line marked so along that side."
            )
            if not extra:
                helps.append("Straight blank: carry the line on along the tube, and bend towards it.")
        if not self.blank.turn_known:
            helps.append(f"The turn was not given: the line of {other}'s 0 is drawn as for a turn of 0.")
        return tuple(helps)


def round_mm(od_mm: float) -> float:
    """How far once round the tube is, in the middle of the paper."""
    return pi * (od_mm + PAPER_MM)


def across_mm(shape: EndShape, side: str, phi_deg: float) -> float:
    """Where the generator at ``phi_deg`` is on the paper of end ``side`` (``a`` or ``b``), from its left edge."""
    turn = phi_deg % 360.0 / 360.0
    return round_mm(shape.od) * ((1.0 - turn) % 1.0 if side == "a" else turn)


def every_wrap(job: Job, blanks: Iterable[Blank]) -> tuple[Wrap, ...]:
    """The wraps of ``blanks`` of ``job``, end by end, but for those that must be measured first. Blanks that are made
    alike, such as two hands that come out the same, share theirs."""
    return tuple(_wrap([end]) for end in _every_end(job, blanks))


def shared_wraps(job: Job, blanks: Iterable[Blank]) -> tuple[Wrap, ...]:
    """The same, but each drawing once, for every end of any member that it fits."""
    groups: list[list[_End]] = []
    for end in _every_end(job, blanks):
        group = next((known for known in groups if _same(known[0], end)), None)
        if group is None:
            groups.append([end])
        else:
            group.append(end)
    return tuple(_wrap(group) for group in groups)


def wraps_of(blank: Blank, tube: Tube, settings: Settings, insides: Insides = UNKNOWN) -> tuple[Wrap, ...]:
    """The wraps of a blank's coped and mitred ends; a square end needs none. ``insides``: of its bends."""
    return tuple(_wrap([end]) for end in _ends(blank, (blank.mark,), tube, settings, insides))


def _every_end(job: Job, blanks: Iterable[Blank]) -> Iterator[_End]:
    known = [blank for blank in blanks if not blank.estimated]
    found = {blank.mark: insides(blank, job) for blank in known}
    for group in alike_groups(known, found):
        marks = tuple(blank.mark for blank in group)
        yield from _ends(group[0], marks, job.tube(group[0].tube), job.settings, found[group[0].mark])


def _ends(blank: Blank, marks: tuple[str, ...], tube: Tube, settings: Settings, insides: Insides) -> Iterator[_End]:
    for side, shape in zip("ab", blank.ends, strict=True):
        if shape.cut is not Cut.SQUARE:
            yield _End(blank, marks, side, tube, settings, insides)


def _same(one: _End, other: _End) -> bool:
    """Whether the same paper marks both: line, inside of the wall, lines along the tube with their names, and what is
    said of how it is laid on."""
    return (
        one.tube == other.tube
        and one.shape.cut is other.shape.cut
        and one.fit == other.fit
        and one.helps(_OTHER) == other.helps(_OTHER)
        and one.upper_edge == other.upper_edge
        and _alike(_lines(one, _OTHER, both=True), _lines(other, _OTHER, both=True))
        and _alike(_beside(one), _beside(other))
        and float(np.abs(one.depths - other.depths).max()) < _SAME_MM
        and float(np.abs(one.bevels - other.bevels).max()) < _SAME_MM
    )


def _alike(one: Sequence[tuple[float, str]], other: Sequence[tuple[float, str]]) -> bool:
    return len(one) == len(other) and all(
        abs(x - there) < _SAME_MM and name == named
        for (x, name), (there, named) in zip(sorted(one), sorted(other), strict=True)
    )


def _lines(end: _End, other: str, *, both: bool) -> list[tuple[float, str]]:
    """The lines along the tube that are drawn dashed, each with its name: the quarters, where the short side of the
    ``other`` end is, and the inside of a bend that is landed on. ``both``: of a wrap for ends a and b."""
    blank, side, shape = end.blank, end.side, end.shape
    named = [(0.0, "0 short side"), (90.0, "90"), (180.0, "180 long side"), (270.0, "270")]
    if both:
        # Round the tube the angles run the other way on the paper of the other end.
        back = ("a 90, b 270", "a 270, b 90")
        named[1], named[3] = (90.0, back[side == "b"]), (270.0, back[side == "a"])
    if blank.both_shaped:
        known = "" if blank.turn_known else "?"
        named.append((blank.turn_deg if side == "a" else -blank.turn_deg, f"{other}'s 0{known}"))
    landed = inside_landed_on(shape)
    named += [(turn, "inside of bend" if len(landed) == 1 else f"inside of {what}") for turn, what in landed]
    return [(across_mm(shape, side, round(turn, 9)), name) for turn, name in named]


def _beside(end: _End) -> list[tuple[float, str]]:
    """The lines along the inside and outside of the member's own bend next to an end."""
    if end.inside is None:
        return []
    sides = ((end.inside, "inside"), (end.inside + 180.0, "outside"))
    return [(across_mm(end.shape, end.side, turn), f"{what} of {end.bend}") for turn, what in sides]


def _wrap(group: Sequence[_End]) -> Wrap:
    """The wrap that all ends of ``group`` share."""
    end = group[0]
    settings, once = end.settings, round_mm(end.shape.od)
    sides = {each.side for each in group}
    both = len(sides) > 1
    other = _OTHER if both else f"end {'b' if end.side == 'a' else 'a'}"
    bevels, depths = end.bevels, end.depths
    below, labels = _foot(group, f"{'the ' if both else ''}{other}", once - 1.0)
    foot_up = max(text.y + text.size for text in below) + 2.0
    foot = end.shape.throat + _LABELS_MM + (_BEND_MM if end.blank.bends else 0.0)
    width, height = once + OVERLAP_MM, foot + foot_up
    xs = once * _TURNS / 360.0
    line = Stroke(tuple(zip(xs.tolist(), depths.tolist(), strict=True)), 0.5)
    frame = Stroke(((0, 0), (width, 0), (width, height), (0, height), (0, 0)), 0.3)
    seam = Stroke(((once, 0), (once, height)), 0.25, 2.0)
    texts = [replace(text, y=height - text.y) for text in below]
    texts.append(Words("glue the other edge here", once + 5.0, height - 2.0, 2.4, True))
    lines, beside = _lines(end, other, both=both), _beside(end)
    strokes = [frame, seam]
    lowest = depths
    if float(bevels.max()) > BEVEL_MM:
        lowest = depths + bevels
        strokes.append(Stroke(tuple(zip(xs.tolist(), lowest.tolist(), strict=True)), 0.25, 0.8))
    for x, _ in lines:
        strokes += [Stroke(((x, 0.0), (x, foot)), 0.15, 1.0), Stroke(((x, height - 1.5), (x, height)), 0.3)]
    for x, _ in beside:
        # Unbroken, and at the lower edge again: it is carried on along the tube.
        strokes += [Stroke(((x, 0.0), (x, foot)), 0.3), Stroke(((x, height - 4.0), (x, height)), 0.6)]
    texts += labelled([*lines, *beside], foot - 1.0, once, lowest)
    helps = end.helps(other)
    own = tuple(said for said in helps if said not in _fit_helps(end.fit))
    if float(bevels.max()) > BEVEL_MM:
        deepest = f"{wording.length(float(bevels.max()), settings.units)} {settings.units.value}"
        helps = (
            *helps,
            f"Dashed line: how deep the inside of the wall must go, {deepest} beyond the outside at the most. Grind",
            "from the full line outside to the dashed one inside, or the joint stays open.",
        )
    title = f"{'; '.join(labels)}; tube {end.tube.name}"
    ends = tuple((mark, each.side) for each in group for mark in each.marks)
    return Wrap(title, ends, width, height, line, tuple(strokes), tuple(texts), helps, own)


def _foot(group: Sequence[_End], other: str, room: float) -> tuple[list[Words], list[str]]:
    """The words at the lower edge, their places counted upwards from it; and what the wrap is for, joint by joint."""
    end = group[0]
    joints: dict[str, list[_End]] = {}
    for each in group:
        joints.setdefault(each.joint, []).append(each)
    named = {joint: _names(ends, ", ") for joint, ends in joints.items()}
    labels = [f"{names}: {joint}" for joint, names in named.items()]
    rows = [(f"this edge: towards {other}", 2.6, 2.0)]
    if end.fit:
        rows.append((f"(on it, to leave {end.fit} to fit by hand)", 2.6, 2.0))
    rows.append((end.upper_edge, 2.6, 2.0))
    rows += [(text, 3.2, 2.4) for text in reversed(labels if len(labels) > 1 else [end.seat])]
    rows.append((_names(group, "  "), 6.0, 4.0))
    up, words = 2.5, []
    for text, size, least in rows:
        for part in reversed(broken(Words(text, 4.0, 0.0, size), room, least)):
            words.append(replace(part, y=up))
            up += part.size + 1.7
    return words, labels


def _names(ends: Sequence[_End], gap: str) -> str:
    """The marks of ``ends`` with their sides: ``KB-L, KB-R, ends a and b``."""
    sides: dict[str, str] = {}
    for end in ends:
        for mark in end.marks:
            sides[mark] = sides.get(mark, "") + end.side
    groups: dict[str, list[str]] = {}
    for mark, letters in sides.items():
        groups.setdefault("".join(sorted(letters)), []).append(mark)
    said = {"a": "end a", "b": "end b", "ab": "ends a and b"}
    return "; ".join(f"{', '.join(marks)}{gap}{said[letters]}" for letters, marks in groups.items())


def bend_name(one: Saddle) -> str:
    """The bend that a saddle is on, by member and number."""
    name = one.onto.member or one.onto.name
    return f"{name}, bend {one.onto.bend}" if one.onto.bend else name


def inside_landed_on(shape: EndShape) -> list[tuple[float, str]]:
    """For each bend that an end lands on: at which turn angle its inside, the side of its centre, is; not where the
    member comes so nearly from outside or inside of it that no side of the tube does."""
    found = []
    for one in shape.saddles:
        if one.onto.clr is None:
            continue
        theta, side = radians(one.angle_deg), radians(one.onto.side_deg)
        ahead, across = cos(theta) * cos(side), -sin(side)
        if hypot(ahead, across) > _PLAIN:
            found.append((one.turn_deg + degrees(atan2(across, ahead)), bend_name(one)))
    return found


def _fit_helps(fit: str) -> tuple[str, ...]:
    """Where to lay a wrap on a blank that is ``fit`` longer for fitting."""
    if not fit:
        return ()
    return (
        f"The blank is {fit} longer here, for fitting: lay the upper edge {fit} inside its sawn end to",
        "mark the finished joint, or on the sawn end to leave that much, to be crept up on by hand.",
    )
