"""Planes as written in a cell: square to an axis (``y=0``, ``z = 1 1/2``); or what an end is flat on, under ``onto``.

``z=0``: square to an axis. ``plane A + B + C``: through three nodes. ``plane through A rising 5 along x``: through a
node, and so many degrees up where x grows (``-x``: where it falls); ``z=40 rising 250 over 400 along y``: the same
through the point of an axis, where the other two coordinates are 0. Slopes are written as any angle is.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from cutplan.job.angles import parse_angle
from cutplan.job.model import MOST_RISE_DEG, Axis, Plane, Plate, Units
from cutplan.job.units import LengthError, parse_length, show_length

_PLANE = re.compile(r"\s*([xyz])\s*=\s*(.+?)\s*", re.IGNORECASE)
_THREE = re.compile(r"plane\s+(?P<nodes>.+)", re.IGNORECASE)
_SLOPED = re.compile(r"(?P<base>.+?)\s+rising\s+(?P<rise>.+?)(?:\s+along\s+(?P<along>.*))?", re.IGNORECASE)
_THROUGH = re.compile(r"plane\s+through\s+(?P<node>.+)", re.IGNORECASE)
_SLOPED_OTHERWISE = re.compile(r"([xyz]\s*=.+?)\s+(?:slop|slant|incl|tilt|rise).*", re.IGNORECASE)
_ALONG = re.compile(r"(?P<sign>[+-]?)\s*(?P<axis>[xyz])", re.IGNORECASE)
_CURE = "write it as plane A + B + C, or as plane through A rising 5 along x"


def parse_plane(text: str, units: Units) -> Plane | None:
    """The plane that ``text`` means; None where it is not meant as one. Raises LengthError for where it is."""
    match = _PLANE.fullmatch(text)
    if match is None:
        return None
    return Plane(Axis(match[1].lower()), parse_length(match[2], units))


def parse_plate(text: str, units: Units, node: Callable[[str], str | None]) -> Plate | None:
    """The plane that ``text`` means; None where it is not meant as one, or a node of it is not known: ``node`` gives
    the node of a name and reports one that there is not. Raises LengthError for a plane that is none."""
    text = text.strip()
    sloped = _SLOPED.fullmatch(text)
    base = sloped["base"] if sloped else text
    plate: Plate | None
    through = _THROUGH.fullmatch(base)
    if through is None and (match := _THREE.fullmatch(base)):
        if sloped:
            raise LengthError(text, "is fixed by its nodes, so it cannot rise as well", _CURE)
        return _by_three_nodes(text, match["nodes"], node)
    if through is not None:
        name = node(through["node"].strip())
        plate = None if name is None else Plate(nodes=(name,))
    else:
        if match := _SLOPED_OTHERWISE.fullmatch(base):
            raise LengthError(text, "is not how a slope is written", f"write {match[1].strip()} rising 5 along x")
        level = parse_plane(base, units)
        if level is None and sloped:
            raise LengthError(text, "does not say what the plane goes through", _CURE)
        plate = None if level is None else Plate(level.axis, level.at)
    if plate is None or sloped is None:
        return plate
    return _rising(text, plate, sloped["rise"], sloped["along"] or "", units)


def show_plate(plate: Plate, units: Units) -> str:
    """A plane as a job writes it."""
    if len(plate.nodes) == 3:
        return f"plane {' + '.join(plate.nodes)}"
    at = show_length(plate.at, units, step=None)
    text = f"plane through {plate.nodes[0]}" if plate.nodes else f"{plate.axis.value}={at}"
    if plate.along is None:
        return text
    way = f"{'-' if plate.rise_deg < 0 else ''}{plate.along.value}"
    return f"{text} rising {round(abs(plate.rise_deg), 2):g} along {way}"


def _by_three_nodes(text: str, names: str, node: Callable[[str], str | None]) -> Plate | None:
    parts = [part.strip() for part in names.split("+")]
    if len(parts) != 3 or not all(parts):
        raise LengthError(text, "needs three nodes, joined by +", _CURE)
    found = [name for part in parts if (name := node(part)) is not None]
    if len(found) < 3:
        return None
    if len(set(found)) < 3:
        raise LengthError(text, "names a node twice", "a plane needs three different nodes")
    return Plate(nodes=tuple(found))


def _rising(text: str, plate: Plate, rise: str, along: str, units: Units) -> Plate:
    match = _ALONG.fullmatch(along.strip())
    if match is None:
        raise LengthError(text, "does not say along which axis it rises", "end it with along x, or along -x")
    axis = Axis(match["axis"].lower())
    if axis is plate.axis:
        raise LengthError(text, f"cannot rise along {axis.value}, the axis it is square to", _CURE)
    try:
        degrees = parse_angle(rise, units).degrees
    except LengthError as error:
        raise LengthError(error.got or rise, error.rule, error.cure or _CURE) from error
    if not -MOST_RISE_DEG <= degrees <= MOST_RISE_DEG:
        raise LengthError(text, f"rises by more than {MOST_RISE_DEG:g} degrees", "give the plane by three nodes")
    return Plate(plate.axis, plate.at, plate.nodes, -degrees if match["sign"] == "-" else degrees, axis)
