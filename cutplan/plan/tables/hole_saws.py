"""The hole saw that cuts a cope, in words for its card: as wide as the one straight tube that the end lands on, at the
angle of the joint, centred where the two axes come nearest (*common practice, no source*)."""

from __future__ import annotations

import numpy as np

from cutplan.geometry.ends import cope, end_line
from cutplan.geometry.errors import GeometryError
from cutplan.geometry.model import EndShape
from cutplan.job.model import Cut, Settings
from cutplan.plan import wording
from cutplan.plan.tables import card_words

_ROUND = np.arange(0.0, 360.0, 5.0)
_SAME_MM = 0.1
"""A hole saw leaves the line of one straight tube: it does not cut an end whose own line is further off than this."""


def hole_sawn(shape: EndShape) -> bool:
    """Whether a hole saw as wide as what it lands on cuts this end's line: one tube alone, straight and going on."""
    if shape.cut is not Cut.COPE or len(shape.saddles) != 1 or shape.saddles[0].onto.clr is not None:
        return False
    try:
        plain = cope(shape.od, shape.saddles)
    except GeometryError:
        return False
    return float(np.abs(end_line(shape, _ROUND) - end_line(plain, _ROUND)).max()) < _SAME_MM


def hole_saw_said(shape: EndShape, settings: Settings) -> str:
    """The hole saw that cuts an end, how it leans and where it is centred; nothing where none does."""
    if not hole_sawn(shape):
        return ""
    [one] = shape.saddles
    angle = wording.degrees(one.angle_deg, taped=shape.taped)
    lean = "square to the tube" if angle == "90" else f"at {angle}° to the tube, 0 on the acute side"
    wide = f"{wording.length(one.onto.od, settings.units)} {settings.units.value}"
    aside = ""
    if abs(one.offset) >= 0.05:
        by = card_words.taped(float(abs(one.offset)), settings)
        aside = f", {by} off centre towards {90 if one.offset > 0 else 270}"
    return f"a {wide} hole saw {lean}{aside}, centred {_centre(shape, settings)}"


def _centre(shape: EndShape, settings: Settings) -> str:
    """Where a hole saw is centred, along the tube: beyond the tip for a tube wider than this one."""
    beyond = shape.tip_from_centre
    far = card_words.taped(abs(beyond), settings)
    if far == card_words.taped(0.0, settings):
        return "level with the tip"
    return f"{far} {'beyond' if beyond > 0.0 else 'in from'} the tip"
