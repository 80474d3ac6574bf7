"""Planes square to an axis of the frame's coordinates, as written in a cell: ``y=0``, ``z = 1 1/2``."""

from __future__ import annotations

import re

from cutplan.job.model import Axis, Plane, Units
from cutplan.job.units import parse_length

_PLANE = re.compile(r"\s*([xyz])\s*=\s*(.+?)\s*", re.IGNORECASE)


def parse_plane(text: str, units: Units) -> Plane | None:
    """The plane that ``text`` means; None where it is not meant as one. Raises LengthError for where it is."""
    match = _PLANE.fullmatch(text)
    if match is None:
        return None
    return Plane(Axis(match[1].lower()), parse_length(match[2], units))
