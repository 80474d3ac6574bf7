"""Pictures of pieces as lines in mm of the real thing, before they become a page: x to the right, y down."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from cutplan.geometry.model import Blank
from cutplan.geometry.outline import Curve, EndOutline, end_outline

_STUB = 1.4
"""How much tube is drawn behind a throat, in diameters."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """A line in mm of the real piece. ``behind``: on the half of the tube away from the eye."""

    points: Curve
    behind: bool = False


@dataclass(frozen=True, slots=True)
class Picture:
    """Lines within ``width`` and ``height`` mm, and the outline to be laid white under them."""

    width: float
    height: float
    body: Curve
    lines: tuple[Drawn, ...]


def end_pictures(blanks: Iterable[Blank]) -> Mapping[tuple[str, str], Picture]:
    """A picture of each end by mark and end ("a", "b"): the tip on the left; as on a bar for end a, and for end b once
    it is turned about."""
    return {
        (blank.mark, name): end_picture(end_outline(shape))
        for blank in blanks
        for name, shape in (("a", blank.end_a), ("b", blank.end_b))
    }


def end_picture(outline: EndOutline) -> Picture:
    """An end with its tip on the left, its short side up, and a stub of tube behind it."""
    od = 2.0 * outline.radius
    width = outline.depth + _STUB * od
    near, far = (tuple((x, outline.radius - y) for x, y in curve) for curve in (outline.near, outline.far))
    edges = ((near[0], (width, 0.0)), (near[-1], (width, od)))
    body = (*near, (width, od), (width, 0.0))
    # What is behind shows only where it stands out beyond what is in front.
    seen = any(behind[0] < front[0] - 0.05 for front, behind in zip(near, far, strict=True))
    lines = (*(Drawn(edge) for edge in edges), Drawn(near), *([Drawn(far, True)] if seen else []))
    return Picture(width, od, body, lines)
