"""The ends of a member: how each is cut, and the plane or the tubes that it sits on."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

from cutplan.job.bends import Draft
from cutplan.job.cells import Cells
from cutplan.job.distances import find_node
from cutplan.job.landings import Landing, Lookup, read_landings
from cutplan.job.model import LEAST_COPE_DEG, MOST_COPE_DEG, MOST_MITRE_DEG, Cut, End, Measured, Plate, Saddle
from cutplan.job.plates import parse_plate
from cutplan.job.tables import squash
from cutplan.job.units import LengthError, Measure, parse_measure

_FLAT = ("floor", "ground", "wall", "plate", "x", "y", "z")
"""What a plane is called before it is written as one."""

_SLOPING = re.compile(r"(?:.*\b)?(?:slop(?:e|es|ing)|slant(?:s|ing)?|rises?|rising|inclined|tilted)\b.*", re.IGNORECASE)
"""How a plane that is not level is spoken of."""


def read_end(cells: Cells, side: str, draft: Draft, lookup: Lookup, measured: Measured) -> End:
    """End ``a`` or ``b`` of a member; what is faulty keeps its default (``cells.sound`` says so)."""
    cut = cells.word(f"end {side}", Cut) if cells.given(f"end {side}") else Cut.SQUARE
    measured = cells.word(f"measured {side}", Measured) or measured
    if cut is None:
        return End()
    meant, plate = _plate(cells, side, draft, lookup)
    if meant:
        return End(Cut.MITRE, measured=measured, from_points=True, plate=plate)
    if cut is Cut.COPE and draft.key in lookup.routed and not cells.given(f"onto {side}"):
        for heading in (f"angle {side}", f"offset {side}"):
            if cells.given(heading):
                rule = f"is given without onto {side}, which it is measured to"
                cells.fault(heading, rule, f"clear it, or give onto {side}")
        return End(Cut.COPE, measured=measured, from_points=True)
    if cut is Cut.COPE:
        return replace(_cope(cells, side, draft, lookup), measured=measured)
    for heading in (f"onto {side}", f"offset {side}"):
        if cells.given(heading):
            rule = f"is given at a {cut.value} end, but only a cope sits on a tube"
            cells.fault(heading, rule, "write cope, or clear it")
    heading = f"angle {side}"
    if cut is Cut.SQUARE:
        if cells.given(heading):
            cells.fault(heading, "is given at a square end", "write mitre or cope, or clear it")
        return End(cut, measured=measured)
    if not cells.given(heading) and draft.key in lookup.points.named:
        return End(cut, measured=measured, from_points=True)
    read = cells.mitre(heading, None if draft.tube is None else draft.tube.od) if cells.need(heading) else None
    angle, doubt = read or (None, 0.0)
    if angle is not None and not 0 <= angle <= MOST_MITRE_DEG:
        cure = "0 is square, as on a saw's scale"
        if 90 - MOST_MITRE_DEG <= angle <= 90:
            cure += f"; measured from the tube's axis it would be {90 - angle:g}"
        cells.fault(heading, f"must be from 0 to {MOST_MITRE_DEG:g} degrees at a mitre", cure)
        angle = None
    elif angle is not None and not (angle - doubt >= 0 and angle + doubt <= MOST_MITRE_DEG):
        rule = f"must be from 0 to {MOST_MITRE_DEG:g} degrees at a mitre, over its whole range"
        cells.fault(heading, rule, "narrow the range")
    # With points, its corner may give another.
    given = (angle,) if angle is not None and draft.key in lookup.points.named else ()
    return End(cut, angle or 0.0, measured=measured, angles_given=given, angle_tolerance=doubt)


def _plate(cells: Cells, side: str, draft: Draft, lookup: Lookup) -> tuple[bool, Plate | None]:
    """Whether a plane is meant that an end is flat on, such as z=0 for a foot on the floor; None: a faulty one."""
    heading = f"onto {side}"
    text = cells.row.cells.get(heading)
    if not isinstance(text, str) or squash(text) in lookup.drafts or squash(text) in lookup.tubes.named:
        return False, None
    if squash(text) in _FLAT:
        cells.fault(heading, "does not say where that plane is", "for a foot flat on a floor at height 0 write z=0")
        return True, None
    missed: list[str] = []

    def node(name: str) -> str | None:
        found = find_node(cells, heading, name, lookup.nodes)
        if found is None:
            missed.append(name)
            return None
        return found.name

    try:
        plate = parse_plate(text, cells.units, node)
    except LengthError as error:
        cells.fault(heading, error.rule, error.cure, got=error.got)
        return True, None
    if plate is None and not missed and _SLOPING.fullmatch(text) and squash(text.split()[0]) not in lookup.drafts:
        cure = "for a slope write z=0 rising 5 along x (degrees), or through a node plane through A rising 5 along x"
        cells.fault(heading, "does not say where that plane is", cure)
        return True, None
    if plate is None:
        return bool(missed), None
    if draft.key not in lookup.points.named:
        rule = "is a plane, but nothing says where the member is"
        cells.fault(heading, rule, "give the member by Nodes or by Points")
    if cells.given(f"end {side}") and squash(str(cells.row.cells[f"end {side}"])) in ("cope", "notch"):
        cells.fault(f"end {side}", f"is for a tube, but onto {side} names a plane", "write mitre, or clear it")
    for other in (f"angle {side}", f"offset {side}"):
        if cells.given(other):
            cells.fault(other, "is given, but it comes from the plane and the points", "clear it")
    return True, plate


def _cope(cells: Cells, side: str, draft: Draft, lookup: Lookup) -> End:
    landings = read_landings(cells, f"onto {side}", draft, lookup)
    angles = _angles(cells, f"angle {side}")
    offsets = cells.several(f"offset {side}", lambda value: parse_measure(value, cells.units))
    if not landings or angles is None or offsets is None:
        return End(Cut.COPE)
    from_points = _all_points(landings, draft, lookup)
    if not angles and not from_points and not lookup.points.known:
        cells.sound = False
    elif not angles and not from_points:
        cure = "measure the angle between the two axes; 90 is a square tee"
        cells.fault(f"angle {side}", "is needed at a cope", cure, got=None)
        return End(Cut.COPE)
    count = len(landings)
    for heading, values in ((f"angle {side}", angles), (f"offset {side}", offsets)):
        if values and len(values) != count:
            given = f"has {len(values)} value{'' if len(values) == 1 else 's'}"
            cure = "give one for each, joined by +" if count > 1 else "give one value"
            cells.fault(heading, f"{given}, but onto {side} names {count}", cure)
            return End(Cut.COPE)
    saddles = tuple(
        Saddle(one.onto, angle, offset.length, one.turn_deg, doubt, offset.tolerance, one.turn_tolerance)
        for one, (angle, doubt), offset in zip(
            landings, angles or [(90.0, 0.0)] * count, offsets or [Measure(Fraction(0))] * count, strict=True
        )
    )
    if from_points and any(one.onto.ends_short is not None or one.onto.ends_long is not None for one in saddles):
        cells.fault(f"onto {side}", "says where a tube ends, but its points already give that", "leave that part out")
        return End(Cut.COPE)
    if len(saddles) == 1 and not from_points:
        _fits(cells, side, draft, saddles[0])
    if not from_points:
        return End(Cut.COPE, saddles=saddles)
    angles_given, offsets_given = tuple(angle for angle, _ in angles), tuple(one.length for one in offsets)
    return End(Cut.COPE, saddles=saddles, from_points=True, angles_given=angles_given, offsets_given=offsets_given)


def _angles(cells: Cells, heading: str) -> list[tuple[float, float]] | None:
    """The angles between the axes, each from LEAST_COPE_DEG to 90, with their ±; the range of one may reach as far
    beyond 90, where its acute angle is on the other side."""
    angles = cells.several(heading, lambda value: cells.angle(heading, value, (LEAST_COPE_DEG, 180.0)))
    for angle, doubt in angles or ():
        if angle > MOST_COPE_DEG:
            cure = f"give the acute angle: {180 - angle:g}" if angle < 180 else "give the acute angle"
            cells.fault(heading, "must be 90 degrees or less between the axes of a cope", cure)
        elif angle < LEAST_COPE_DEG:
            cells.fault(heading, f"is under {LEAST_COPE_DEG:g} degrees, too flat for a saddle", "a square tee is 90")
        elif angle - doubt < LEAST_COPE_DEG:
            cells.fault(heading, f"may be under {LEAST_COPE_DEG:g} degrees, too flat for a saddle", "narrow the range")
        else:
            continue
        return None
    return angles


def _all_points(landings: list[Landing], draft: Draft, lookup: Lookup) -> bool:
    """Whether the member and all it lands on are given by points."""
    marks = [landing.onto.member for landing in landings]
    return draft.key in lookup.points.named and all(mark and squash(mark) in lookup.points.named for mark in marks)


def _fits(cells: Cells, side: str, draft: Draft, saddle: Saddle) -> None:
    """A saddle must be on its tube all round."""
    if draft.tube is None:
        return
    od, wide = draft.tube.od, saddle.onto.od
    if od > wide:
        rule = f"is narrower ({cells.show(wide)}) than the member itself ({cells.show(od)}), so no saddle can fit"
        cells.fault(f"onto {side}", rule, "cope the narrower tube to the wider one, or cut a mitre")
    elif od / 2 + abs(saddle.offset) + saddle.offset_tolerance > wide / 2:
        most = cells.show((wide - od) / 2)
        cure = f"give {most} at most, or land on a wider tube"
        cells.fault(f"offset {side}", "leaves part of the member off the tube it lands on", cure)
