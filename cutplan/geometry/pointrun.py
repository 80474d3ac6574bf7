"""The run of a member given by points: its straights and bends from coordinates, with the parts of each."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import radians, tan

import numpy as np

from cutplan.geometry.centreline import Stretch, centreline, chords, coordinates, gaps, radii
from cutplan.geometry.figures import Figures, angle
from cutplan.geometry.model import Part
from cutplan.geometry.points import PointError, Vector, lra_from_points, minus, norm
from cutplan.geometry.run import Run, Straight, Turn
from cutplan.job.faults import Fault
from cutplan.job.model import Member, Tube

_LEAST_MM = 0.5
_APART_OD = 4.0
"""Places of a centreline nearer to each other along it than so many diameters are of one bend."""


def points_run(member: Member, tube: Tube, figures: Figures) -> tuple[Run, list[Fault]]:
    """The run of a member given by points; with faults, the run is not to be used."""
    points = coordinates(member)
    rounds = radii(member, tube)
    faults = []
    if member.length is not None:
        rule = "a member given by points takes its length from them"
        got = figures.length(float(member.length))
        faults.append(Fault(member.place.at("length"), rule, got, "leave it empty"))
    try:
        table, _ = lra_from_points(points, rounds)
    except PointError as error:
        place = member.points[error.index].place if error.index < len(member.points) else member.place
        return Run(()), [*faults, error.fault(place, figures)]
    turns = []
    corners = []
    for i, (turn, radius) in enumerate(zip(table.angles_deg, table.radii, strict=True)):
        row = member.points[i + 1]
        if turn == 0.0:
            continue
        if radius == 0.0:
            rule = f"no radius here and no clr for tube {tube.name}"
            faults.append(Fault(row.place.at("radius"), rule, cure="give the bend's centreline radius"))
        elif radius <= float(tube.od) / 2:
            least = figures.named(float(tube.od) / 2)
            rule = f"a centreline radius is more than half the tube's OD ({least})"
            faults.append(Fault(row.place.at("radius"), rule, figures.named(radius)))
        corners.append(i + 1)
        turns.append(Turn(turn, radius, table.rotations_deg[i], row.place))
    if not faults and len(turns) > 1:
        faults += _runs_into_itself(member, tube, figures)
    if faults:
        return Run(()), faults
    stops = [0, *corners, len(points) - 1]
    straights = []
    for number, (start, end) in enumerate(pairwise(stops), 1):
        ends_at = [turns[k] for k in (number - 2, number - 1) if 0 <= k < len(turns)]
        straights.append(_straight(number, member, points, start, end, ends_at, figures))
    return Run(tuple(straights), tuple(turns)), []


def _runs_into_itself(member: Member, tube: Tube, figures: Figures) -> list[Fault]:
    at = meets_itself(centreline(member, tube), float(tube.od) / 2.0)
    if at is None:
        return []
    place = member.place.at("via") if member.route is not None else member.points[0].place
    names = " + ".join(member.route.nodes[1:-1]) if member.route is not None else member.mark
    cure = "check the order of its corners, and where they are"
    return [Fault(place, f"takes the tube through itself at {figures.place(at)}", names, cure)]


def angles_of(member: Member, tube: Tube) -> tuple[float, ...]:
    """By how many degrees each bend of a sound ``member`` turns, those of its points too where it is given by them."""
    if member.points:
        return lra_from_points(coordinates(member), radii(member, tube))[0].angles_deg
    return tuple(float(row.angle_deg or 0.0) for row in member.bends[:-1])


def _straight(
    number: int, member: Member, points: list[Vector], start: int, end: int, turns: list[Turn], figures: Figures
) -> Straight:
    gap = minus(points[end], points[start])
    how = "sqrt(" + " + ".join(f"{figures.length(abs(way))}²" for way in gap) + ")"
    spread = float(member.tolerance) if number == 1 else 0.0
    parts = [Part(f"straight {number}: from point {start + 1} to point {end + 1}", norm(gap), how, spread)]
    for turn in turns:
        back = turn.radius * tan(radians(turn.angle_deg) / 2.0)
        how = f"-{figures.length(turn.radius)} × tan ({angle(turn.angle_deg)} / 2)"
        parts.append(Part(f"straight {number}: corner back to where the bend starts", -back, how))
    # What float noise leaves below nothing on a straight that its bends use up entirely is nothing.
    length = sum(part.length for part in parts)
    return Straight(0.0 if -1e-6 < length < 0.0 else length, tuple(parts), member.points[end].place)


def meets_itself(course: Sequence[Stretch], radius: float) -> Vector | None:
    """Where a centreline comes closer to itself than its tube is wide, away from both its ends, which may meet."""
    points, along = chords(course)
    if len(points) < 4:
        return None
    at, mm = np.array(points), np.array(along)
    distance, s, t = gaps(at[:-1], at[1:])
    here = mm[:-1, None] + s * np.diff(mm)[:, None]
    there = mm[None, :-1] + t * np.diff(mm)[None, :]
    od = 2.0 * radius
    close = (distance < od - _LEAST_MM) & (there - here > _APART_OD * od)
    close &= ~((here < _APART_OD * od) & (mm[-1] - there < _APART_OD * od))
    if not close.any():
        return None
    row, column = np.unravel_index(int(np.where(close, distance, np.inf).argmin()), distance.shape)
    x, y, z = (at[row] + s[row, column] * (at[row + 1] - at[row])).tolist()
    return x, y, z
