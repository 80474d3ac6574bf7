"""How a piece is bent, in words for its card: from which end each mark is taken, which way each bend goes, and how much
of the tube is in it. Marks are those of the straight blank, all from its sawn end a."""

from __future__ import annotations

from collections.abc import Iterator
from math import pi, radians

from cutplan.geometry.inside import Insides
from cutplan.geometry.model import Blank
from cutplan.job.model import Cut, Settings
from cutplan.plan import wording
from cutplan.plan.tables import card_words
from cutplan.plan.tables.making import SAME_LINE_DEG, BendRow, Making, way_round


def bends_said(blank: Blank, made: Making, insides: Insides, settings: Settings) -> Iterator[tuple[BendRow, str]]:
    """Each bend of ``blank``, in their order, with what is done. ``insides``: where the insides of the bends are."""
    for number, row in enumerate(made.bends):
        before = made.bends[number - 1] if number else None
        said = (*_where(row, before, settings, blank.end_a.taped), _way(blank, made, insides, row, before, settings))
        yield row, "; ".join((*filter(None, said), _lengths(blank, made, row, before, settings)))


def _where(row: BendRow, before: BendRow | None, settings: Settings, taped: bool) -> Iterator[str]:
    past = float(settings.die_mark)
    more = f"{card_words.taped(past, settings)} past the start of the bend" if past else "the start of the bend"
    more += ", which runs from there towards b" if not past else ", which runs towards b"
    if before is not None:
        more = f"{card_words.taped(row.benders_mark - before.benders_mark, settings)} from the mark before"
    yield f"bender's mark {card_words.taped(row.benders_mark, settings)} from the sawn end a ({more})"
    angle = wording.degrees(row.angle, taped=taped)
    yield f"{angle}° at radius {card_words.taped(row.radius, settings)} to the centre line"


def _way(blank: Blank, made: Making, insides: Insides, row: BendRow, before: BendRow | None, settings: Settings) -> str:
    """Which way a bend goes: the first by the line of end a, or by one of its own where the next are turned from it."""
    same = way_round(0.0)
    if before is not None:
        if way_round(row.rotation) == same:
            return "the same way as the bend before"
        turned = way_round(row.rotation) + f" that of bend {before.bend}"
        turned += round_it(row.rotation, blank.end_a.od, settings) + seen(row.rotation)
        return f"turn the tube: this bend's inside is {turned}"
    if insides.a is not None and blank.end_a.cut is not Cut.SQUARE:
        return "its inside on the line marked for it"
    if all(way_round(later.rotation) == same for later in made.bends[1:]):
        return ""
    return "first mark a line along the tube for its inside: the next bends are turned from it"


def _lengths(blank: Blank, made: Making, row: BendRow, before: BendRow | None, settings: Settings) -> str:
    free = row.start - (0.0 if before is None else before.start + before.arc)
    said = f"straight before it {card_words.taped(free, settings)}, in the bend {card_words.taped(row.arc, settings)}"
    bent = radians(row.angle) * row.radius
    if card_words.tape(bent, settings) != card_words.tape(row.arc, settings):
        way = "stretches" if bent > row.arc else "is upset"
        said += f" (once bent {card_words.tape(bent, settings)}: the tube {way})"
    if row is made.bends[-1]:
        said += f", straight after it {card_words.taped(float(blank.length) - row.start - row.arc, settings)}"
    return said


def round_it(turn_deg: float, od: float, settings: Settings) -> str:
    """How far round a tube a turn is, in brackets, as far as it is said to be turned; empty for none."""
    turn = abs((turn_deg + 180.0) % 360.0 - 180.0)
    if turn < SAME_LINE_DEG:
        return ""
    turn = 180.0 if turn > 180.0 - SAME_LINE_DEG else turn
    return f" ({card_words.taped(turn / 360.0 * pi * od, settings)} round)"


def seen(turn_deg: float) -> str:
    """From where a turn is clockwise; nothing for a turn that is neither way."""
    return ", looking from a to b" if "clockwise" in way_round(turn_deg) else ""
