"""A card for each piece unlike the others: what it looks like, and what is done to it in which order.

The figures are those of the tables of making, of the saw list and of the blanks; nothing is calculated again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from cutplan.geometry.inside import Insides
from cutplan.geometry.model import Blank
from cutplan.geometry.outline import View
from cutplan.job.faults import listed
from cutplan.job.model import Cut, Job, Settings
from cutplan.plan import wording
from cutplan.plan.model import Plan
from cutplan.plan.tables import card_words
from cutplan.plan.tables.bend_steps import seen
from cutplan.plan.tables.landings import Frame, Landings, frame_of, landings, rests_on
from cutplan.plan.tables.making import SAME_LINE_DEG, Making, way_round
from cutplan.plan.tables.pictures import Picture, end_view, lopsided, piece_picture, two_sided
from cutplan.plan.tables.piece_ends import offsets
from cutplan.plan.tables.saw_list import SawRow
from cutplan.plan.tables.steps import Step, steps

_SKEW_DEG = 2.0
"""Bends turned from each other by less are in one plane to the eye."""


@dataclass(frozen=True, slots=True)
class CardEnd:
    """An end that is not square, as it is cut: its name, its shape in words, and its picture, seen as ``seen`` says.
    ``about``: drawn with its tip on the right."""

    name: str
    words: str
    seen: str
    picture: Picture
    about: bool


@dataclass(frozen=True, slots=True)
class Card:
    """A card. ``blank``: its length in words; ``shape``: the finished piece, where it is bent, with how large it is
    over its ``outside``; ``flat``: the blank before it is bent; ``above``: the piece from above, where that shows more;
    ``dims``: where on ``flat`` each bender's mark is, in mm from its left, with its bend and how far from end a it is.
    """

    marks: tuple[str, ...]
    pieces: str
    tube: str
    blank: str
    shape: Picture | None
    outside: tuple[str, str]
    flat: Picture
    above: Picture | None
    dims: tuple[tuple[float, str], ...]
    ends: tuple[CardEnd, ...]
    steps: tuple[Step, ...]
    joins: tuple[str, ...]
    care: tuple[str, ...]


def cards(plan: Plan, made: Sequence[Making], cuts: Sequence[SawRow], insides: Mapping[str, Insides]) -> Iterator[Card]:
    """The cards, in the order of the members, but for those that must be measured first. ``made``: what is done to each
    blank; ``cuts``: the saw list."""
    blanks = {blank.mark: blank for blank in plan.to_make}
    insured = {mark for tube in plan.tubes for mark in tube.spares.insured}
    frame = frame_of(plan)
    done: set[str] = set()
    for one in made:
        if one.mark in done or blanks[one.mark].estimated:
            continue
        done.update(one.alike)
        lands = landings(plan.job, one.alike, one.member, frame)
        maker = _Maker(plan.job, blanks[one.mark], one, insides[one.mark], lands, frame)
        yield maker.card([row for row in cuts if row.mark in one.alike], one.mark in insured)


@dataclass(frozen=True, slots=True)
class _Maker:
    """Writes the card of ``blank``."""

    job: Job
    blank: Blank
    made: Making
    insides: Insides
    lands: Landings | None
    frame: Frame

    @property
    def settings(self) -> Settings:
        return self.job.settings

    def card(self, cuts: Sequence[SawRow], insured: bool) -> Card:
        blank, settings = self.blank, self.settings
        mirrored = wording.hand(blank) == "right" and self.made.alike == (blank.mark,)
        flat = piece_picture(blank, self.insides, flat=True, mirrored=mirrored)
        shape = piece_picture(blank, self.insides, mirrored=mirrored) if blank.bends else None
        skew = any(abs((bend.rotation_deg + 90.0) % 180.0 - 90.0) > _SKEW_DEG for bend in blank.bends[1:])
        above = None
        if skew:
            above = piece_picture(blank, self.insides, View.ABOVE, mirrored=mirrored)
        elif not blank.bends and lopsided(flat):
            above = piece_picture(blank, self.insides, View.ABOVE, flat=True, mirrored=mirrored)
        outside = ("", "")
        if shape is not None:
            width, height = (card_words.taped(mm, settings) for mm in (shape.width, shape.height))
            outside = (f"{width} outside", f"{height} outside")
        whole = float(blank.length)
        dims = tuple(
            (whole - bend.mark if mirrored else bend.mark, f"{bend.number}: {card_words.tape(bend.mark, settings)}")
            for bend in blank.bends
        )
        return Card(
            self.made.alike,
            card_words.pieces(self.made.alike, blank.count),
            f"{blank.tube}, {wording.section(self.job, blank.tube)}"
            + (f"; made in stage {blank.stage}" if blank.stage else ""),
            f"{wording.blank(blank.length, settings)} {settings.units.value}",
            shape,
            outside,
            flat,
            above,
            dims,
            tuple(self.ends(mirrored)),
            steps(self.job, blank, self.made, self.insides, cuts, self.lands),
            tuple(self.joins()),
            tuple(self.care(mirrored, insured)),
        )

    def ends(self, mirrored: bool) -> Iterator[CardEnd]:
        """The pictures of the ends that are not square: both as seen on the straight piece on the bench, one view of
        one tube; from the other side too, where an end differs there."""
        blank = self.blank
        for name, shape in zip("ab", blank.ends, strict=True):
            if shape.cut is Cut.SQUARE:
                continue
            lying = name == "b" and blank.both_shaped and blank.turn_known and not blank.bends
            turn = blank.turn_deg if lying else 0.0
            # What it lands on is said below, with where.
            tubes = len(shape.saddles)
            cut = wording.end(shape, self.settings.units) if tubes < 3 else f"cope onto {tubes} tubes"
            words = f"end {name}: {cut}"
            for behind in (False, True) if two_sided(shape, turn) else (False,):
                away = behind != mirrored
                yield CardEnd(
                    name,
                    f"end {name} from its other side" if behind else words,
                    _turned(turn, away) if lying else f"0 up, {270 if away else 90} towards you",
                    end_view(shape, turn, behind=away),
                    (name == "b") != away,
                )

    def joins(self) -> Iterator[str]:
        """What it lands on, and where; and what lands on it at a place that is not among the steps."""
        rests = {
            name: "; and on ".join(rests_on(self.blank, name, shape, self.frame, self.settings))
            for name, shape in zip("ab", self.blank.ends, strict=True)
            if shape.saddles
        }
        if len(rests) == 2 and len(set(rests.values())) == 1:
            yield f"Both ends land on {rests['a']}."
        elif rests:
            yield " ".join(f"End {name} lands on {places}." for name, places in rests.items())
        landing = [
            (member.mark, f"{member.mark} (end {name}{f', on bend {one.onto.bend}' if one.onto.bend else ''})")
            for member in self.job.members
            for name, end in zip("ab", member.ends, strict=True)
            for one in end.saddles
            if one.onto.member in (self.blank.mark, self.blank.member)
            and (self.lands is None or (member.mark, name) not in self.lands.ends)
        ]
        if landing:
            marks = tuple(dict.fromkeys(mark for mark, _ in landing))
            said = f"{listed([text for _, text in landing])} {'lands' if len(landing) == 1 else 'land'} on it"
            yield f"{said}: marked on the frame when {listed(marks)} {'is' if len(marks) == 1 else 'are'} fitted."

    def care(self, mirrored: bool, insured: bool) -> Iterator[str]:
        """What is easy to get wrong on this piece. ``insured``: a spare can replace it."""
        blank = self.blank
        side, way = wording.hand(blank), way_round(blank.turn_deg)
        drawn = "; drawn from the other side, so end a is on the right" if mirrored else ""
        if side and f"{side} hand" in wording.hints(blank, self.insides):
            other = "right" if side == "left" else "left"
            its = f"{blank.mark[:-1]}{other[0].upper()}"
            yield f"This is the {side} hand; {its}, the {other} hand, has its own card{drawn}."
        elif side and len(self.made.alike) == 1 and self.lands is not None:
            yield f"This is the {side} hand, by where others land on it: the other hand has its own card{drawn}."
        if blank.both_shaped and not blank.turn_known:
            yield (
                "How far end b is turned from end a was not given: find it on the frame before you shape the second "
                "end. Drawn as if it were 0."
            )
        elif blank.both_shaped and way != way_round(0.0):
            yield f"End b's short side is {way} end a's{seen(blank.turn_deg)}."
        if blank.bends:
            yield "All marks are measured from the sawn end a, none from end b."
        for name, shape in zip("ab", blank.ends, strict=True):
            if blank.bends and shape.cut is not Cut.SQUARE and self.insides.at(name) is None:
                yield f"How end {name} is turned to its bend was not given: shape it after bending, on the frame."
            if any(abs(one.offset) >= 0.05 for one in shape.saddles):
                yield f"End {name} sits off centre{offsets(shape, self.settings.units)}."
        if not insured:
            yield "No spare is kept for it."


def _turned(turn_deg: float, behind: bool) -> str:
    """How an end is turned from the one whose 0 is up. ``behind``: seen from the side where its 270 would be nearer
    you."""
    turn = (turn_deg + 180.0) % 360.0 - 180.0
    if abs(turn) < SAME_LINE_DEG:
        return "same view as end a: its 0 up"
    if abs(turn) > 180.0 - SAME_LINE_DEG:
        return "same view as end a: its 0 down"
    way = "towards" if (turn > 0.0) != behind else "away from"
    return f"same view as end a: its 0 {wording.degrees(round(abs(turn), 1))}° from up, {way} you"
