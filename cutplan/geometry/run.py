"""The run of a member: its straights to the tangent points and its bends, with the parts of each."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from cutplan.geometry import bend
from cutplan.geometry.figures import Figures, angle, trimmed
from cutplan.geometry.model import BendMark, Part
from cutplan.geometry.points import Lra
from cutplan.job.faults import Fault, Place, Remark
from cutplan.job.model import Bend, Member, To, Tube

LEAST_CLR_IN_OD = 3
"""Smallest centreline radius by the usual rule, in ODs (FIA Appendix J Art. 253-8.3.3)."""

LEAST_STRAIGHT_IN_OD = 2
"""Straight between two bends that a bender's clamp wants, in ODs (bending design procedure)."""

_POINT = {To.APEX: "the apex", To.OUTSIDE: "the outside corner"}


@dataclass(frozen=True, slots=True)
class Straight:
    """A straight from tangent point to tangent point (or end to tangent point), in mm, and how it came about."""

    length: float
    parts: tuple[Part, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Turn:
    """A bend: angle and rotation in degrees (clockwise from the bend before, seen from end a to end b), CLR in mm."""

    angle_deg: float
    radius: float
    rotation_deg: float
    place: Place


@dataclass(frozen=True, slots=True)
class Run:
    """A member's centreline: one straight more than bends."""

    straights: tuple[Straight, ...]
    turns: tuple[Turn, ...] = ()

    @property
    def table(self) -> Lra:
        """It as a table for the bender; the first bend's plane is that of the pose it is laid out in."""
        return Lra(
            tuple(one.length for one in self.straights),
            tuple(one.angle_deg for one in self.turns),
            tuple(one.radius for one in self.turns),
            (0.0, *(one.rotation_deg for one in self.turns[1:])),
        )


def measured_run(member: Member, tube: Tube, figures: Figures) -> tuple[Run, list[Fault]]:
    """The run of a member given by a length or by its bends; with faults, the run is not to be used."""
    if not member.bends:
        if member.length is None:
            return Run(()), [Fault(member.place.at("length"), "is empty", cure="give a length, or its bends or points")]
        length = float(member.length)
        spread = float(member.tolerance) if member.tolerance else 0.0
        between = " to ".join(end.measured.value for end in member.ends)
        part = Part(f"as measured, {between}", length, "", spread)
        return Run((Straight(length, (part,), member.place),)), []
    if member.length is not None:
        rule = "a bent member's length comes from its straights and bends"
        return Run(()), [Fault(member.place.at("length"), rule, figures.length(float(member.length)), "leave it empty")]
    turns, faults = _turns(member, tube)
    if faults:
        return Run(()), faults
    straights = tuple(_straight(member, i, turns, float(tube.od), figures) for i in range(len(member.bends)))
    for number, straight in enumerate(straights, 1):
        if straight.length < 0:
            rule = f"straight {number} is {figures.named(-straight.length)} shorter than its bends need"
            cure = "lengthen the straight, use a smaller radius, or check what it was measured to"
            got = figures.length(float(member.bends[number - 1].straight))
            faults.append(Fault(straight.place, rule, got, cure))
    return Run(straights, tuple(turns)), faults


def _turns(member: Member, tube: Tube) -> tuple[list[Turn], list[Fault]]:
    last = member.bends[-1]
    found = [_turn(row, after.to, tube) for row, after in pairwise(member.bends)]
    turns = [one for one in found if isinstance(one, Turn)]
    faults = [one for one in found if isinstance(one, Fault)]
    if last.angle_deg is not None:
        rule = "the last row of a member is its last straight and has no bend"
        cure = "add a row with the straight after this bend (0 if there is none)"
        faults.append(Fault(last.place.at("angle"), rule, trimmed(last.angle_deg, 3), cure))
    return turns, faults


def _turn(row: Bend, to_after: To, tube: Tube) -> Turn | Fault:
    """The bend at the end of a row, or what is wrong with it. ``to_after``: what the straight after it was measured
    to."""
    if row.angle_deg is None:
        cure = "give the bend's angle, or move the row to the end"
        return Fault(row.place.at("angle"), "is empty, though more straights follow", cure=cure)
    radius = row.radius if row.radius is not None else tube.clr
    if radius is None:
        rule = f"no radius here and no clr for tube {tube.name}"
        return Fault(row.place.at("radius"), rule, cure="give the bend's centreline radius")
    if float(radius) <= float(tube.od) / 2:
        rule = f"a centreline radius is more than half the tube's OD ({trimmed(float(tube.od) / 2, 3)} mm)"
        return Fault(row.place.at("radius"), rule, trimmed(float(radius), 3) + " mm")
    if not 0 < row.angle_deg <= 180:
        rule = "a bend turns by more than 0 and at most 180 degrees"
        return Fault(row.place.at("angle"), rule, trimmed(row.angle_deg, 3))
    if row.angle_deg == 180 and {row.to, to_after} != {To.TANGENT}:
        rule = "a bend of 180 degrees has no apex and no outside corner"
        return Fault(row.place.at("to"), rule, row.to.value, "measure to the tangent point")
    return Turn(float(row.angle_deg), float(radius), row.rotation_deg, row.place)


def _straight(member: Member, index: int, turns: list[Turn], od: float, figures: Figures) -> Straight:
    row = member.bends[index]
    number = index + 1
    to = f", to {_POINT[row.to]}" if row.to is not To.TANGENT else ", to the tangent point"
    parts = [Part(f"straight {number}{to}", float(row.straight), "", float(row.tolerance))]
    for bend_index in (index - 1, index):
        if 0 <= bend_index < len(turns) and row.to is not To.TANGENT:
            turn = turns[bend_index]
            back = bend.setback(row.to, turn.angle_deg, turn.radius, od)
            reach = figures.length(turn.radius)
            if row.to is To.OUTSIDE:
                reach = f"({reach} + {figures.length(od / 2)})"
            what = f"straight {number}: {_POINT[row.to]} of bend {bend_index + 1} back to its tangent point"
            parts.append(Part(what, -back, f"-{reach} × tan ({angle(turn.angle_deg)} / 2)"))
    return Straight(sum(part.length for part in parts), tuple(parts), row.place.at("straight"))


def bend_parts(number: int, turn: Turn, tube: Tube, figures: Figures) -> list[Part]:
    """The parts of bend ``number``: its arc, and what the tube grows in it, taken off."""
    length = bend.arc(turn.angle_deg, turn.radius)
    how = f"{figures.length(turn.radius)} × {trimmed(turn.angle_deg, 3)} × pi / 180"
    parts = [
        Part(f"bend {number}: arc of {angle(turn.angle_deg)} at radius {figures.length(turn.radius)}", length, how)
    ]
    if tube.stretch:
        grown = bend.growth(turn.angle_deg, float(tube.stretch))
        how = f"-{figures.length(float(tube.stretch))} × {trimmed(turn.angle_deg, 3)} / 90"
        parts.append(Part(f"bend {number}: stretch, which the bend gives back", -grown, how))
    return parts


def bend_marks(run: Run, tube: Tube, first: float, die_mark: float) -> tuple[BendMark, ...]:
    """The bends on the straight blank, the first starting ``first`` mm from end a."""
    marks = []
    start = first
    for number, turn in enumerate(run.turns, 1):
        length = bend.arc(turn.angle_deg, turn.radius) - bend.growth(turn.angle_deg, float(tube.stretch))
        straight = first if number == 1 else run.straights[number - 1].length
        marks.append(
            BendMark(number, straight, start, start + die_mark, length, turn.angle_deg, turn.radius, turn.rotation_deg)
        )
        start += length + run.straights[number].length
    return tuple(marks)


def bend_remarks(run: Run, tube: Tube, figures: Figures) -> list[Remark]:
    """Tight radii and short straights, as remarks with their source; the judgement is the reader's."""
    remarks = []
    od = float(tube.od)
    for number, turn in enumerate(run.turns, 1):
        if turn.radius < LEAST_CLR_IN_OD * od - 1e-6:
            least = figures.named(LEAST_CLR_IN_OD * od)
            text = (
                f"bend {number}: radius {figures.named(turn.radius)} is less than {LEAST_CLR_IN_OD} times the OD "
                f"({least}), the smallest that FIA Appendix J Art. 253-8.3.3 and FSAE 2021 F.5.2 allow"
            )
            remarks.append(Remark(turn.place.at("radius"), text))
    for number, straight in enumerate(run.straights[1:-1], 2):
        if straight.length < LEAST_STRAIGHT_IN_OD * od - 1e-6:
            least = figures.named(LEAST_STRAIGHT_IN_OD * od)
            text = (
                f"straight {number}: {figures.named(straight.length)} between two bends is under "
                f"{LEAST_STRAIGHT_IN_OD} times the OD ({least}), which the clamp needs (bending design procedure)"
            )
            remarks.append(Remark(straight.place, text))
    return remarks
