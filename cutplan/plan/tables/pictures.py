"""Pictures of pieces as lines in mm of the real thing, before they become a page: x to the right, y down."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import cos, radians, sin

from cutplan.geometry.ends import end_line
from cutplan.geometry.inside import Insides
from cutplan.geometry.model import Blank, EndShape
from cutplan.geometry.outline import Curve, EndOutline, Point, View, end_outline, piece_outline
from cutplan.job.model import Cut

_STUB = 1.4
"""How much tube is drawn behind a throat, in diameters."""

_SHORT_STUB = 0.6
"""The same on a card, which is about the end."""

_EDGE = 0.02
"""Sine of the angle below which a line along the tube is seen as its edge."""

_ALIKE = 0.1
"""The two sides of an end that differ by less, in diameters, look alike."""

_SEEN_MM = 0.05
"""A line behind is drawn where it shows beyond the one in front by more than this."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """A line in mm of the real piece. ``behind``: on the half of the tube away from the eye; ``fine``: no edge."""

    points: Curve
    behind: bool = False
    fine: bool = False


@dataclass(frozen=True, slots=True)
class Label:
    """A short text beside the point ``at``, on the side that ``away`` points to."""

    text: str
    at: Point
    away: Point


@dataclass(frozen=True, slots=True)
class Picture:
    """Lines within ``width`` and ``height`` mm, and the areas to be laid under them: ``hollows`` first, where one looks
    into the tube."""

    width: float
    height: float
    bodies: tuple[Curve, ...]
    lines: tuple[Drawn, ...]
    labels: tuple[Label, ...] = ()
    hollows: tuple[Curve, ...] = ()


def end_pictures(blanks: Iterable[Blank], square: Mapping[str, Collection[str]]) -> Mapping[tuple[str, str], Picture]:
    """A picture of each end by mark and end ("a", "b"): the tip on the left; as on a bar for end a, and for end b once
    it is turned about. Both with end a's short side up, where the turn between them is known. ``square``: the ends
    that are sawn square for now, by mark."""
    return {
        (blank.mark, name): _end(
            EndShape(Cut.SQUARE, shape.od) if name in square.get(blank.mark, ()) else shape, turn, _STUB, behind=False
        )
        for blank in blanks
        for name, shape, turn in zip("ab", blank.ends, (0.0, _turn_of_b(blank)), strict=True)
    }


def _turn_of_b(blank: Blank) -> float:
    return blank.turn_deg if blank.turn_known and not blank.bends else 0.0


def end_view(shape: EndShape, turn_deg: float, *, behind: bool = False) -> Picture:
    """An end with its tip on the left, its short side turned from up by ``turn_deg``, clockwise as seen from end a to
    end b, with the lines along its quarters that are on this side, named. ``behind``: from the other side (which has
    the tip on the right, so that this is to be turned about)."""
    picture = _end(shape, turn_deg, _SHORT_STUB, behind=behind)
    radius, lines, labels = shape.od / 2.0, list(picture.lines), []
    for quarter in (0.0, 90.0, 180.0, 270.0):
        up, towards = cos(radians(quarter + turn_deg)), sin(radians(quarter + turn_deg)) * (-1.0 if behind else 1.0)
        if towards < -_EDGE:
            continue
        y = radius * (1.0 - up)
        if towards > _EDGE:
            [start] = end_line(shape, [quarter]).tolist()
            lines.append(Drawn(((start, y), (picture.width, y)), fine=True))
        labels.append(Label(f"{quarter:g}", (picture.width, y), (1.0, 0.0)))
    return replace(picture, lines=tuple(lines), labels=tuple(labels))


def two_sided(shape: EndShape, turn_deg: float) -> bool:
    """Whether an end so turned has to be seen from both sides: its line on one is not that on the other."""
    outline = end_outline(shape, turn_deg)
    apart = max(abs(near[0] - far[0]) for near, far in zip(outline.near, outline.far, strict=True))
    return apart > _ALIKE * shape.od


def _end(shape: EndShape, turn_deg: float, stub: float, *, behind: bool) -> Picture:
    outline: EndOutline = end_outline(shape, turn_deg)
    front, back = (outline.far, outline.near) if behind else (outline.near, outline.far)
    od = 2.0 * outline.radius
    width = outline.depth + stub * od
    near, far = (tuple((x, outline.radius - y) for x, y in curve) for curve in (front, back))
    edges = ((near[0], (width, 0.0)), (near[-1], (width, od)))
    lines = (
        *(Drawn(edge) for edge in edges),
        Drawn(near),
        *([Drawn(far, True)] if _seen(near, far, (-1.0, 0.0)) else []),
    )
    return Picture(width, od, ((*near, (width, od), (width, 0.0)),), lines, hollows=((*near, *reversed(far)),))


def piece_picture(
    blank: Blank, insides: Insides, view: View = View.SIDE, *, flat: bool = False, mirrored: bool = False
) -> Picture:
    """A whole piece, its ends named, its bends numbered; ``flat``: the straight blank."""
    outline = piece_outline(blank, insides, view, flat=flat, mirrored=mirrored)
    every = (*outline.upper, *outline.lower, *outline.near[0], *outline.near[1], *outline.far[0], *outline.far[1])
    every += tuple(point for curve in outline.rounds for point in curve)
    left, top = min(x for x, _ in every), max(y for _, y in every)
    width, height = max(x for x, _ in every) - left, top - min(y for _, y in every)

    def to(curve: Sequence[Point]) -> Curve:
        return tuple((x - left, top - y) for x, y in curve)

    near, far = outline.near, outline.far
    body = (*near[0], *outline.lower, *reversed(near[1]), *reversed(outline.upper))
    lines = [Drawn(to(edge)) for edge in (outline.upper, outline.lower, *near, *outline.rounds)]
    lines += [
        Drawn(to(behind), True)
        for front, behind, (_, away) in zip(near, far, outline.tips, strict=True)
        if _seen(front, behind, away)
    ]
    lines += [Drawn(to(seam), fine=True) for seam in outline.seams]
    labels = [_label(name, *tip, left, top) for name, tip in zip("ab", outline.tips, strict=True)]
    if not flat:
        labels += [_label(str(number), *crown, left, top) for number, crown in enumerate(outline.crowns, 1)]
    hollows = tuple(to((*front, *reversed(back))) for front, back in zip(near, far, strict=True))
    return Picture(width, height, (to(body), *map(to, outline.rounds)), tuple(lines), tuple(labels), hollows)


def _label(text: str, at: Point, away: Point, left: float, top: float) -> Label:
    # A tip that points at the eye has its name beside it.
    way = away if abs(away[0]) + abs(away[1]) > 0.3 else (1.0, -0.5)
    return Label(text, (at[0] - left, top - at[1]), (way[0], -way[1]))


def lopsided(picture: Picture) -> bool:
    """Whether some of its far side shows, so that it is worth a view from above too."""
    return any(line.behind for line in picture.lines)


def _seen(near: Curve, far: Curve, away: Point) -> bool:
    """Whether the line behind shows beyond the one in front; ``away``: to where the end points."""
    return any(
        (back[0] - front[0]) * away[0] + (back[1] - front[1]) * away[1] > _SEEN_MM
        for front, back in zip(near, far, strict=True)
    )
