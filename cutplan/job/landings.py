"""What an end of a member lands on: the cell ``onto``.

It reads: a tube's name, another member's mark, an outside diameter, or several of these joined by +.
After a mark, ``bend 1 at 45 side 90`` lands on that bend of it, so many degrees along the arc, from that side; after
any of them ``ends short 20`` (or ``long``) says that the tube ends there, 20 from where the axes meet, on the member's
short (long) side; ``at 40`` turns that saddle about the member's own axis from the end's first one.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from cutplan.job.angles import parse_doubtful
from cutplan.job.bends import Courses, Draft
from cutplan.job.cells import PLUS_MINUS, Cells
from cutplan.job.material import Tubes
from cutplan.job.model import Bend, Onto, Point
from cutplan.job.tables import squash
from cutplan.job.units import LengthError, parse_length

if TYPE_CHECKING:
    from cutplan.job.nodes import Nodes

_WIDEST = Fraction(2000)
_PLAIN = r"[+-]?[\d.]+\s*(?:°|deg)?"
_NUMBER = rf"{_PLAIN}(?:\s*±\s*{_PLAIN}|\s+to\s+{_PLAIN})?"
_ONTO = re.compile(
    rf"(?P<name>.+?)(?:\s+bend\s+(?P<bend>\S+?)(?:\s+at\s+(?P<arc>{_NUMBER}))?(?:\s+side\s+(?P<side>{_NUMBER}))?)?"
    rf"(?:\s+ends\s+(?P<way>\w+)\s+(?P<far>.+?))?(?:\s+at\s+(?P<turn>{_NUMBER}))?",
    re.IGNORECASE | re.ASCII,
)


@dataclass(frozen=True, slots=True)
class Lookup:
    """What the ends of a member can refer to: tubes, members by every piece mark, courses of bent members."""

    tubes: Tubes
    drafts: Mapping[str, Draft]
    bends: Courses[Bend]
    points: Courses[Point]
    names: tuple[str, ...]
    """Every mark and tube, once."""
    marks_known: bool
    """Whether there is a column of marks to be named."""
    nodes: Nodes
    routed: Collection[str] = ()
    """The keys of members that run from node to node, whose ends are worked out where their rows are blank."""


@dataclass(frozen=True, slots=True)
class Landing:
    """What is landed on, and the turn of that saddle with its ±."""

    onto: Onto
    turn_deg: float = 0.0
    turn_tolerance: float = 0.0


def read_landings(cells: Cells, heading: str, draft: Draft, lookup: Lookup) -> list[Landing]:
    """What the end lands on; empty where any of it is faulty."""
    if not cells.given(heading):
        cells.fault(heading, "is needed at a cope", "give a tube, a mark or an outside diameter")
        return []
    text = cells.text(heading)
    if text is None:
        return []
    parts = PLUS_MINUS.sub("±", text).split("+")
    found = [_landing(cells, heading, part.strip(), draft, lookup) for part in parts]
    landings = [landing for landing in found if landing is not None]
    if len(landings) < len(found):
        return []
    if landings[0].turn_deg or landings[0].turn_tolerance:
        rule = "turns the first saddle, which the others are measured from"
        cells.fault(heading, rule, "leave out the at of the first")
        return []
    return landings


def _landing(cells: Cells, heading: str, text: str, draft: Draft, lookup: Lookup) -> Landing | None:
    whole = _named(cells, text, lookup)
    if whole is not None:
        faulty = _on_itself(cells, heading, whole, draft) or _ambiguous(cells, heading, whole, draft)
        return None if faulty else Landing(whole)
    match = _ONTO.fullmatch(text)
    if match is None:
        cure = "give a tube, a mark or an outside diameter, with + between several"
        cells.fault(heading, "names nothing to land on", cure)
        return None
    onto = _named(cells, match["name"], lookup)
    if onto is None:
        key = squash(match["name"])
        landed = lookup.drafts.get(key)
        if lookup.tubes.faulty(key) or not lookup.marks_known or (landed is not None and landed.tube is None):
            cells.sound = False
            return None
        cure = cells.guess(match["name"], lookup.names) or "give a tube, a mark or an outside diameter"
        cells.fault(heading, "is not a tube, mark or outside diameter", cure, got=match["name"])
        return None
    if _on_itself(cells, heading, onto, draft):
        return None
    given = [match[group] for group in ("turn", "arc", "side")]
    read = cells.read(heading, lambda: [_doubtful(one, cells) if one else (None, 0.0) for one in given])
    if read is None:
        return None
    (turn, turn_doubt), arc, (side, side_doubt) = read
    if match["bend"]:
        bent = _on_bend(cells, heading, onto, match["bend"], arc, lookup)
        if bent is None:
            return None
        onto = replace(bent, side_deg=side or 0.0, side_given=side is not None, side_tolerance=side_doubt)
    if match["way"]:
        ended = _ending(cells, heading, onto, match["way"], match["far"])
        if ended is None:
            return None
        onto = ended
    return Landing(onto, turn or 0.0, turn_doubt)


def _doubtful(text: str, cells: Cells) -> tuple[float, float]:
    """An angle in degrees, and its ±. Raises LengthError."""
    angle, doubt = parse_doubtful(text, cells.units)
    return angle.degrees, doubt


def _ending(cells: Cells, heading: str, onto: Onto, way: str, far: str) -> Onto | None:
    """``onto`` with its end, so far from where the axes meet."""
    if way.casefold() not in ("short", "long"):
        cure = "such as ends short 20: 20 from where the axes meet, on the member's short side"
        cells.fault(heading, "must say ends short or ends long", cure)
        return None
    if onto.bend is not None:
        cells.fault(heading, "names both a bend and an end", "land on the bend, or on the straight that ends")
        return None
    length = cells.read(heading, lambda: parse_length(far, cells.units))
    if length is None:
        return None
    if not 0 <= length <= _WIDEST:
        cells.fault(heading, "is not a possible distance", "measure from where the axes meet, 0 or more", got=far)
        return None
    return replace(onto, ends_short=length) if way.casefold() == "short" else replace(onto, ends_long=length)


def _on_itself(cells: Cells, heading: str, onto: Onto, draft: Draft) -> bool:
    """Whether a member is to land on itself, or on its twin: a fault."""
    if onto.member is None or squash(onto.member) != draft.key:
        return False
    cells.fault(heading, "is the member itself", "to land on its twin, give an outside diameter")
    return True


def _ambiguous(cells: Cells, heading: str, onto: Onto, draft: Draft) -> bool:
    """Whether a mark such as 38 may as well be the diameter of a tube wide enough to land on: a fault."""
    if onto.member is None or draft.tube is None:
        return False
    try:
        od = parse_length(onto.name, cells.units)
    except LengthError:
        return False
    if od in (onto.od, 0) or not draft.tube.od <= od <= _WIDEST:
        return False
    cure = f"for the diameter write {onto.name} {cells.units.value}; for the member give it a mark with a letter"
    cells.fault(heading, "could be a mark or an outside diameter", cure)
    return True


def _named(cells: Cells, name: str, lookup: Lookup) -> Onto | None:
    """The member, tube or diameter that ``name`` means, if any."""
    key = squash(name)
    member, tube = lookup.drafts.get(key), lookup.tubes.sound.get(key)
    if member is not None:
        # As the mark is spelt in its own row, with the hand of a side of a pair.
        spelt = member.mark if key == member.key else f"{member.mark}{key[-2:].upper()}"
        return None if member.tube is None else Onto(member.tube.od, spelt, member.mark)
    if tube is not None:
        return Onto(tube.od, tube.name)
    try:
        od = parse_length(name, cells.units)
    except LengthError:
        return None
    return Onto(od, name) if 0 < od <= _WIDEST else None


def _on_bend(
    cells: Cells, heading: str, onto: Onto, number: str, at: tuple[float | None, float], lookup: Lookup
) -> Onto | None:
    """``onto`` at a bend of the member it names; ``at``: how far along it, in degrees, and the ± of that."""
    arc, doubt = at
    if onto.member is None:
        cells.fault(heading, "names a bend, but only a member has bends", "give the mark of the member")
        return None
    key = squash(onto.member)
    if key not in lookup.bends.named | lookup.points.named and lookup.bends.known and lookup.points.known:
        cells.fault(heading, f"names a bend, but {onto.member} has none", "add its rows to Bends or Points")
        return None
    bends = _bends_of(lookup, key)
    if bends is None:
        cells.sound = False  # reported where its rows are
        return None
    if not number.isdecimal() or not 1 <= int(number) <= len(bends):
        has = f"bends 1 to {len(bends)}" if len(bends) > 1 else "only bend 1"
        cells.fault(heading, f"names bend {number}, but {onto.member} has {has}")
        return None
    radius, angle = bends[int(number) - 1]
    if arc is not None and not 0 <= arc <= angle:
        rule = f"is {arc:g} degrees along bend {number} of {onto.member}, which bends by only {angle:g}"
        cells.fault(heading, rule, f"give {angle:g} at most")
        return None
    if arc is not None and not doubt <= arc <= angle - doubt:
        rule = f"may be off bend {number} of {onto.member}, which bends by {angle:g} degrees"
        cells.fault(heading, rule, "narrow the range", got=f"{arc:g} ± {doubt:g}")
        return None
    tube = lookup.drafts[key].tube
    clr = tube.clr if radius is None and tube is not None else radius
    return replace(onto, clr=clr, bend=int(number), arc_deg=arc, arc_tolerance=doubt)


def _bends_of(lookup: Lookup, key: str) -> list[tuple[Fraction | None, float]] | None:
    """Radius and angle of each bend of a member (by points the angle is not known yet: up to 180)."""
    if key in lookup.bends.sound:
        return [(bend.radius, bend.angle_deg or 0.0) for bend in lookup.bends.sound[key][:-1]]
    if key in lookup.points.sound:
        return [(point.radius, 180.0) for point in lookup.points.sound[key][1:-1]]
    return None
