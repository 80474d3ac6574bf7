"""Where on a piece others land, as a step of its card: how far from its end each joint reaches, and on which side.

Known where both members are given by points or nodes; :mod:`cutplan.geometry.footprints` works it out.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import degrees, radians

from cutplan.geometry.bodies import Body, bodies_in_place
from cutplan.geometry.footprints import Footprint, footprints, tip_of
from cutplan.geometry.model import Blank, EndShape
from cutplan.job.faults import listed
from cutplan.job.model import Job, Settings
from cutplan.plan import wording
from cutplan.plan.model import Plan
from cutplan.plan.tables import card_words
from cutplan.plan.tables.wraps import bend_name

_FEW = 2
"""Up to so many are put in a sentence, more in a table."""


@dataclass(frozen=True, slots=True)
class Landings:
    """What lands on a piece: in words what its figures mean, the figures as a table, and the ends that are in it, by
    member and end."""

    says: str
    table: tuple[tuple[str, ...], ...]
    ends: frozenset[tuple[str, str]]


def bodies(plan: Plan) -> Mapping[str, Body]:
    """The members of a plan that have a place in space, by their marks; none where none is given by points."""
    known = {member.mark for member in plan.job.members if member.points}
    blanks = {blank.mark: blank for blank in (*(made.blank for made in plan.made), *plan.blanks)}
    placed = [blank for blank in blanks.values() if blank.member in known and not blank.estimated]
    return {body.member: body for body in bodies_in_place(plan.job, placed)} if placed else {}


@dataclass(frozen=True, slots=True)
class Frame:
    """The members of a job that have a place in space, by their marks, and what lands on each of them, and where."""

    bodies: Mapping[str, Body]
    found: Mapping[str, tuple[Footprint, ...]]


def frame_of(plan: Plan) -> Frame:
    """The frame of a plan; empty where no member is given by points."""
    placed = bodies(plan)
    return Frame(placed, {member: footprints(body, placed, plan.job) for member, body in placed.items()})


def landings(job: Job, marks: tuple[str, ...], member: str, frame: Frame) -> Landings | None:
    """What lands on the pieces ``marks`` of ``member``, which are made alike; None where nothing is known to
    land on them."""
    body, found = frame.bodies.get(member), frame.found.get(member)
    if body is None or not found:
        return None
    zero = {
        "a": "end a's 0",
        "bend": "the inside of bend 1",
        "first": f"{found[0].mark}, whose line may be anywhere round the tube",
    }[found[0].by]
    others = [mark for mark in marks if mark != body.mark]
    sides = f"sides from {zero}, looking from a to b (round the tube)"
    mirrored = f"; on {', '.join(others)}, its mirror image, the other way round" if others else ""
    ends = frozenset((one.mark, one.end) for one in found)
    rows = list(_rows(found, body, job.settings))
    if len(rows) <= _FEW:
        said = (
            f"{what} lands {reach} from {where}" + (f", {side}" if number or found[0].by != "first" else "")
            for number, (what, where, reach, side) in enumerate(rows)
        )
        return Landings(f"{'; '.join(said)}; {sides}{mirrored}", (), ends)
    says = f"as far as each joint reaches, from the finished end's tip; {sides}{mirrored}"
    return Landings(says, (("what", "from", "reaches", "side"), *rows), ends)


def rests_on(blank: Blank, name: str, shape: EndShape, frame: Frame, settings: Settings) -> Iterator[str]:
    """What end ``name`` of ``blank``, whose shape this is, lands on, each with its place there, as far as it is known
    from points: the place is on that piece's card too, with the side of it. Then what it is without."""
    own = frame.bodies.get(blank.member)
    fitted, measured = [], []
    for one in shape.saddles:
        text = bend_name(one) if one.onto.clr is not None else wording.onto(one.onto, settings.units)
        target = next((body for body in frame.bodies.values() if one.onto.member in (body.mark, body.member)), None)
        if target is None or own is None:
            measured.append(text + (f", {wording.degrees(one.onto.arc_deg)}° along it" if one.onto.arc_deg else ""))
            continue
        mine = tuple(each for each in frame.found[target.member] if (each.mark, each.end) == (own.mark, name))
        place = next((f"{reach} from {_its(where)}" for _, where, reach, _ in _rows(mine, target, settings)), "")
        if place:
            yield f"{text}, {place}"
        else:
            fitted.append(text)
    if fitted:
        yield f"{listed(fitted)}, as it comes when it is fitted"
    if measured:
        yield f"{listed(measured)}, where it was measured to"


def _its(where: str) -> str:
    """A place on a piece as a place on another: its end a, the end of its bend 1."""
    return f"the {where.replace('of bend', 'of its bend')}" if "bend" in where else f"its {where}"


def _rows(found: tuple[Footprint, ...], body: Body, settings: Settings) -> Iterator[tuple[str, ...]]:
    tips = {name: tip_of(body, name) for name in "ab"}
    last = len(body.course) - 1
    for one in found:
        piece = body.course[one.number]
        side = _side(one.turn_deg, body.radius, settings)
        low, high, where = one.start, one.stop, "end a"
        if piece.radius is not None:
            reach = " to ".join(f"{wording.degrees(round(degrees(mm / piece.radius)))}°" for mm in (low, high))
            yield f"{one.mark} end {one.end}", f"start of bend {piece.bend}", reach, side
            continue
        if one.number == 0:
            low, high = low - tips["a"], high - tips["a"]
        elif one.number == last:
            low, high, where = piece.length - high - tips["b"], piece.length - low - tips["b"], "end b"
        else:
            where = f"end of bend {body.course[one.number - 1].bend}"
        reach = " to ".join(card_words.tape(mm, settings) for mm in (low, high))
        yield f"{one.mark} end {one.end}", where, reach, side


def _side(turn_deg: float, radius: float, settings: Settings) -> str:
    """A side of a tube: how far round it, as an angle and on the tape."""
    turn = round((turn_deg + 180.0) % 360.0 - 180.0)
    if abs(turn) in (0, 180):
        return "opposite" if turn else "in line"
    far = card_words.tape(radians(abs(turn)) * radius, settings)
    return f"{abs(turn)}° {'clockwise' if turn > 0 else 'anticlockwise'} ({far})"
