"""Angles as people measure them: in degrees, or with a tape, worked out exactly and shown back in degrees.

``63``, ``63°``, ``45 1/2``; a slope, ``250 over 400`` (so much up over so much along); a triangle laid in the corner,
``300 and 400 across 500`` (along one tube, along the other, and straight across between the two marks); and for a mitre
``step 22``, how much further its long side reaches than its short one. Lengths are as everywhere in a job. What 1 mm
more or less on the tape changes is worked out too, as a tape is seldom better. Methods: the tangent, and the law of
cosines.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import acos, atan2, degrees

from cutplan.job.angle_meant import meant
from cutplan.job.model import Units
from cutplan.job.units import IN_DIGITS, SUCH_AS, LengthError, parse_length, parse_number, with_doubt

_SLOPE = re.compile(r"(?P<up>.+?)\s+over\s+(?P<along>.+)", re.IGNORECASE)
_TRIANGLE = re.compile(r"(?P<one>.+?)\s+and\s+(?P<other>.+?)\s+across\s+(?P<across>.+)", re.IGNORECASE)
_STEP = re.compile(r"step\s+(?P<step>.+)", re.IGNORECASE)
_MIXED = re.compile(r"(?P<whole>\d+)\s+(?P<top>\d+)\s*/\s*(?P<bottom>\d+)")
_FORMS = {
    Units.MM: "write degrees (63), a slope (250 over 400) or a triangle (300 and 400 across 500)",
    Units.IN: "write degrees (63), a slope (10 over 16) or a triangle (12 and 16 across 20)",
}
_MITRE_FORMS = {
    Units.MM: "write degrees (30), a slope (250 over 400), a triangle (300 and 400 across 500) or a step (step 22)",
    Units.IN: "write degrees (30), a slope (10 over 16), a triangle (12 and 16 across 20) or a step (step 7/8)",
}
_MOST_DEG = 360.0
"""Beyond it a range is no range of angles."""


@dataclass(frozen=True, slots=True)
class Angle:
    """``degrees``; where a tape measured it, ``taped``: what was written, and ``per_mm``: by how many degrees 1 mm more
    or less on any one of the lengths changes it at the most. ``corner``: it is the inside of a corner (a bend turns by
    what is left of 180)."""

    degrees: float
    taped: str = ""
    per_mm: float = 0.0
    corner: bool = False


def parse_angle(value: str | int | float, units: Units, od: Fraction | None = None) -> Angle:
    """An angle from a cell; ``od``: of the tube whose mitre it may be, in mm. Raises LengthError."""
    if not isinstance(value, str):
        return Angle(float(parse_number(value)))
    text = re.sub("[ \t]+", " ", value.strip())  # other blanks stay: the message shows them
    if match := _SLOPE.fullmatch(text):
        return _taped(text, _lengths(text, match.group("up", "along"), units), _slope)
    if match := _TRIANGLE.fullmatch(text):
        sizes = _lengths(text, match.group("one", "other", "across"), units)
        return replace(_taped(text, sizes, _corner), corner=True)
    if match := _STEP.fullmatch(text):
        if od is None:
            raise LengthError(text, "is the step of a mitre, and this end is not one", _FORMS[units])
        across = float(od)
        return _taped(text, _lengths(text, match.group("step"), units), lambda sizes: _slope((sizes[0], across)))
    return Angle(_plain(text, (_FORMS if od is None else _MITRE_FORMS)[units]))


def parse_doubtful(value: str | int | float, units: Units, od: Fraction | None = None) -> tuple[Angle, float]:
    """An angle and its ±, in degrees: ``63 ± 3``, ``60 to 66``; one measured with a tape has none. Raises
    LengthError."""
    if not isinstance(value, str) or _SLOPE.fullmatch(value) or _TRIANGLE.fullmatch(value) or _STEP.fullmatch(value):
        return parse_angle(value, units, od), 0.0
    degrees_, tolerance = with_doubt(value, lambda text: parse_angle(text, units, od).degrees)
    if degrees_ + tolerance > _MOST_DEG and tolerance:
        raise LengthError(value, "is not a range of angles", meant(value) or _FORMS[units])
    return Angle(degrees_), tolerance


def _plain(text: str, forms: str) -> float:
    bare = text
    for mark in ("°", "º", "degrees", "deg"):  # the second is typed for the first: they look alike
        bare = bare.removesuffix(mark).rstrip()
    if (match := _MIXED.fullmatch(bare)) and int(match["bottom"]):
        return int(match["whole"]) + int(match["top"]) / int(match["bottom"])
    try:
        return float(parse_number(bare))
    except LengthError as error:
        # No angle has thousands: commas between such numbers part the sides of a slope or a triangle.
        likely = meant(bare) if error.cure in ("", IN_DIGITS) or "thousands" in error.cure else ""
        if error.rule != "is not a number" or not (likely or error.cure in ("", IN_DIGITS)):
            raise LengthError(text, error.rule, error.cure) from error
        raise LengthError(text, "is not an angle", likely or forms) from error


def _lengths(text: str, parts: str | Sequence[str], units: Units) -> tuple[float, ...]:
    found = []
    for part in (parts,) if isinstance(parts, str) else parts:
        try:
            length = parse_length(part.strip(), units)
        except LengthError as error:
            cure = error.cure if error.cure != SUCH_AS[units] else ""
            raise LengthError(
                text, f"{part.strip()} in it {error.rule}", cure or meant(text) or _FORMS[units]
            ) from error
        if length <= 0:
            plain = re.sub(r"-(?=[\d.])", "", text)
            cure = "measure it again" if plain == text else f"write it without the minus: {plain}"
            if not length and _SLOPE.fullmatch(text):
                cure = "write 90 where it is upright, 0 where it is level"
            raise LengthError(text, f"{part.strip()} in it must be more than 0", cure)
        found.append(float(length))
    return tuple(found)


def _taped(text: str, sizes: tuple[float, ...], angle: Callable[[tuple[float, ...]], float | None]) -> Angle:
    at = angle(sizes)
    if at is None:
        longest = max(sizes)
        than = "longer than" if longest > sum(sizes) - longest else "as long as"
        rule = f"is not a triangle: its longest side is {than} the other two together"
        raise LengthError(text, rule, "measure all three again")
    worst = 0.0
    for k in range(len(sizes)):
        for by in (-1.0, 1.0):
            other = angle((*sizes[:k], max(sizes[k] + by, 1e-6), *sizes[k + 1 :]))
            worst = max(worst, 0.0 if other is None else abs(other - at))
    return Angle(at, text, worst)


def _slope(sizes: tuple[float, ...]) -> float:
    return degrees(atan2(sizes[0], sizes[1]))


def _corner(sizes: tuple[float, ...]) -> float | None:
    """The angle between the first two sides, opposite the third."""
    one, other, across = sizes
    cosine = (one * one + other * other - across * across) / (2.0 * one * other)
    return degrees(acos(cosine)) if -1.0 < cosine < 1.0 else None
