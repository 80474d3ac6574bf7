"""A card for each piece unlike the others: what it looks like, and what is done to it in which order.

The figures are those of the tables of making, of the saw list and of the blanks; nothing is worked out anew.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from cutplan.geometry.inside import Insides
from cutplan.geometry.model import Blank, EndShape
from cutplan.geometry.outline import View
from cutplan.job.listing import listed
from cutplan.job.model import Cut, Job, Settings
from cutplan.plan import wording
from cutplan.plan.model import Plan
from cutplan.plan.tables.making import BendRow, Making, MarkRow, RoughRow, way_round
from cutplan.plan.tables.pictures import Picture, end_picture, lopsided, piece_picture
from cutplan.plan.tables.piece_ends import offsets
from cutplan.plan.tables.saw_list import SawRow
from cutplan.plan.tables.wraps import bends_landed_on


@dataclass(frozen=True, slots=True)
class Step:
    """Something to do: what it is, and the figures for it."""

    heading: str
    says: str


@dataclass(frozen=True, slots=True)
class CardEnd:
    """An end that is not square, as it is cut: its name and shape in words, and its picture, seen as ``seen`` says.
    ``about``: drawn with its tip on the right."""

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


def cards(plan: Plan, made: Sequence[Making], cuts: Sequence[SawRow], lie: Mapping[str, Insides]) -> Iterator[Card]:
    """The cards, in the order of the members, but for those that must be measured first. ``made``: what is done to each
    blank; ``cuts``: the saw list."""
    blanks = {blank.mark: blank for blank in plan.to_make}
    insured = {mark for tube in plan.tubes for mark in tube.spares.insured}
    done: set[str] = set()
    for one in made:
        if one.mark in done or blanks[one.mark].estimated:
            continue
        done.update(one.alike)
        yield _Maker(plan.job, blanks[one.mark], one, lie[one.mark]).card(
            one.alike,
            sum(blanks[mark].count for mark in one.alike),
            [row for row in cuts if row.mark in one.alike],
            one.mark in insured,
        )


@dataclass(frozen=True, slots=True)
class _Maker:
    """Writes the card of ``blank``."""

    job: Job
    blank: Blank
    made: Making
    lie: Insides

    @property
    def settings(self) -> Settings:
        return self.job.settings

    def card(self, marks: tuple[str, ...], count: int, cuts: Sequence[SawRow], insured: bool) -> Card:
        blank = self.blank
        mirrored = wording.hand(blank) == "right" and marks == (blank.mark,)
        flat = piece_picture(blank, self.lie, flat=True, mirrored=mirrored)
        shape = piece_picture(blank, self.lie, mirrored=mirrored) if blank.bends else None
        skew = any(abs(bend.rotation_deg % 180.0) > 1e-6 for bend in blank.bends[1:])
        above = None
        if skew:
            above = piece_picture(blank, self.lie, View.ABOVE, mirrored=mirrored)
        elif not blank.bends and lopsided(flat):
            above = piece_picture(blank, self.lie, View.ABOVE, flat=True, mirrored=mirrored)
        outside = ("", "") if shape is None else (self.long(shape.width), self.long(shape.height))
        whole = float(blank.length)
        dims = tuple(
            (whole - bend.mark if mirrored else bend.mark, f"{bend.number}: {wording.tape(bend.mark, self.settings)}")
            for bend in blank.bends
        )
        return Card(
            marks,
            wording.counted(count, "piece"),
            f"{blank.tube}, {wording.section(self.job, blank.tube)}"
            + (f"; made in stage {blank.stage}" if blank.stage else ""),
            f"{wording.blank(blank.length, self.settings)} {self.settings.units.value}",
            shape,
            outside,
            flat,
            above,
            dims,
            tuple(self.ends(mirrored)),
            tuple(self.steps(cuts)),
            tuple(self.joins()),
            tuple(self.care(mirrored, insured)),
        )

    def long(self, mm: float) -> str:
        """A length with its unit, to be found by tape."""
        return wording.taped(mm, self.settings)

    def both(self) -> Iterator[tuple[str, EndShape, float]]:
        """Both ends: name, shape, what is cut off there after bending."""
        yield "a", self.blank.end_a, self.blank.cut_off_a
        yield "b", self.blank.end_b, self.blank.cut_off_b

    def ends(self, mirrored: bool) -> Iterator[CardEnd]:
        """The pictures of the ends that are not square."""
        for name, shape, _ in self.both():
            if shape.cut is not Cut.SQUARE:
                yield CardEnd(
                    f"end {name}: {wording.end(shape, self.settings.units)}",
                    f"0 up, {270 if mirrored else 90} towards you",
                    end_picture(shape, mirrored=mirrored),
                    (name == "b") != mirrored,
                )

    def steps(self, cuts: Sequence[SawRow]) -> Iterator[Step]:
        """In the order they are done: what a bender needs to hold is cut off after bending, and only then is that end
        shaped."""
        start = [Step("Saw", self._saw(cuts))]
        if line := "; ".join(self._lines()):
            # A mitre is sawn by these lines; a saddle is only marked by them, on the sawn blank.
            sawn_by = Cut.MITRE in (self.blank.end_a.cut, self.blank.end_b.cut)
            start.insert(0 if sawn_by else 1, Step("Mark lines along the tube", line))
        yield from start
        shaped = {name: list(self._shaping(name, shape)) for name, shape, _ in self.both()}
        if shaped["a"] == shaped["b"] and not any(extra for _, _, extra in self.both()):
            yield from (Step(f"{what}, both ends", says) for what, says in shaped["a"])
        else:
            for name, _, extra in self.both():
                if not extra:
                    yield from (Step(f"{what}, end {name}", says) for what, says in shaped[name])
        if self.made.bends:
            for number, row in enumerate(self.made.bends):
                yield Step(f"Bend {row.bend}", self._bend(row, self.made.bends[number - 1] if number else None))
        for name, _, extra in self.both():
            if extra:
                yield Step("Take off the grip", f"cut {self.long(extra)} off end {name}")
                yield from (Step(f"{what}, end {name}", says) for what, says in shaped[name])
        yield Step("Fit", "; ".join(self._fit()))

    def _saw(self, cuts: Sequence[SawRow]) -> str:
        where = wording.cuts_among(row.cut for row in cuts) if cuts else "cut already"
        ends = [self._sawn(shape) if not extra else "square" for _, shape, extra in self.both()]
        both = f"end a {ends[0]}; end b {ends[1]}" if ends[0] != ends[1] else f"both ends {ends[0]}"
        return f"{wording.blank(self.blank.length, self.settings)} {self.settings.units.value} ({where}), {both}"

    def _sawn(self, shape: EndShape) -> str:
        if shape.cut is not Cut.MITRE:
            return "square"
        swing = self.settings.saw_swing
        if shape.angle_deg > swing + 1e-9:
            return f"square: the saw swings to {wording.degrees(swing)}° only (see below)"
        return f"mitred at {wording.degrees(shape.angle_deg)}° off square"

    def _lines(self) -> Iterator[str]:
        """How the ends and the bends lie to each other, round the tube."""
        blank, od = self.blank, self.blank.end_a.od
        both = Cut.SQUARE not in (blank.end_a.cut, blank.end_b.cut)
        if both and blank.turn_known:
            far = self._round(blank.turn_deg, od) + _seen(blank.turn_deg)
            yield f"end b's 0 is {way_round(blank.turn_deg)} end a's{far}"
        for name, turn, bend in (("a", self.lie.a, 1), ("b", self.lie.b, len(blank.bends))):
            if turn is not None:
                yield f"the inside of bend {bend} is {way_round(turn)} end {name}'s 0{self._round(turn, od)}"

    def _round(self, turn_deg: float, od: float) -> str:
        turn = abs((turn_deg + 180.0) % 360.0 - 180.0)
        if turn < 0.05:
            return ""
        return f" ({self.long(turn / 360.0 * 3.141592653589793 * od)} round)"

    def _shaping(self, name: str, shape: EndShape) -> Iterator[tuple[str, str]]:
        """Rough cuts and line of an end that the saw has not finished: what each is, and its figures."""
        if shape.cut is Cut.SQUARE:
            return
        by_hand = shape.cut is Cut.MITRE and shape.angle_deg > self.settings.saw_swing + 1e-9
        extra = self.blank.cut_off_a if name == "a" else self.blank.cut_off_b
        if shape.cut is Cut.MITRE and not by_hand:
            if extra:
                yield "Mitre", f"saw it at {wording.degrees(shape.angle_deg)}°, 0 on its short side"
            return
        rough = [row for row in self.made.rough_cuts if row.end == name]
        if rough:
            left = rough[-1].left_to_grind
            more = "" if left is None or left < 0.05 else f"; then at most {self.long(left)} to grind"
            first = "mark both first: " if len(rough) > 1 else ""
            yield "Rough cuts", f"{first}{'; then '.join(self._rough(row) for row in rough)}{more}"
        rows = [row for row in self.made.marks if row.end == name]
        yield "Mitre" if by_hand else "Cope", self._line(rows)

    def _rough(self, row: RoughRow) -> str:
        line = f"the line at {wording.degrees(round(row.turn, 1))}°"
        if row.turn:
            line += f" ({self.long(row.round)} round)"
        angle = wording.degrees(round(row.saw_angle, 1))
        return f"{angle}° off square, starting {self.long(row.start)} from the sawn end on {line}"

    def _line(self, rows: Sequence[MarkRow]) -> str:
        """The figures of an end's line, outside and inside."""
        said = []
        for number, row in enumerate(rows):
            depths = ((0, row.at_0), (90, row.at_90), (180, row.at_180), (270, row.at_270))
            figures = ", ".join(f"{turn}: {wording.tape(mm, self.settings)}" for turn, mm in depths)
            if not number:
                said.append(f"in from the tip at {figures}; throat {wording.tape(row.throat, self.settings)}")
                if row.tip_round is not None and row.tip_at is not None and row.tip_at % 90.0:
                    said.append(f"tip {self.long(row.tip_round)} round from 0")
                if row.second_ear_round is not None:
                    said.append(f"second ear {self.long(row.second_ear_round)} round from 0")
            else:
                said.append(f"on the inside of the wall {figures}")
        return "; ".join([*said, "or lay on its wrap"])

    def _bend(self, row: BendRow, before: BendRow | None) -> str:
        said = [
            f"bender's mark {self.long(row.benders_mark)} from the sawn end a",
            f"{wording.degrees(row.angle)}° at radius {wording.tape(row.radius, self.settings)}",
        ]
        if before is not None:
            said[0] += f", {self.long(row.benders_mark - before.benders_mark)} from the mark before"
            said.append(
                "the same way as the bend before"
                if not row.rotation
                else f"turn the tube: this bend's inside is {way_round(row.rotation)} that of bend {before.bend}"
            )
        return "; ".join(said)

    def _fit(self) -> Iterator[str]:
        if all(shape.cut is Cut.SQUARE for _, shape, _ in self.both()):
            yield "both ends square, as sawn"
            return
        for name, shape, _ in self.both():
            allowed = wording.fitting(self.blank, name)
            more = f", {self.long(allowed)} left on for fitting" if allowed else ""
            if shape.cut is Cut.COPE:
                onto = " and ".join(wording.onto(one.onto, self.settings.units) for one in shape.saddles)
                angles = " and ".join(f"{wording.degrees(one.angle_deg)}°" for one in shape.saddles)
                yield f"end {name} on {onto} at {angles}{more}"
            elif shape.plate:
                yield f"end {name} flat on its plate, {shape.plate}{more}"
            elif shape.cut is Cut.MITRE:
                yield f"end {name} to the other half of its mitre{more}"
            else:
                yield f"end {name} square, as sawn"

    def joins(self) -> Iterator[str]:
        """What it lands on, and what lands on it."""
        said = []
        for name, shape, _ in self.both():
            if shape.saddles:
                named = [wording.onto(one.onto, self.settings.units) for one in shape.saddles]
                bends = bends_landed_on(shape)
                said.append(f"End {name} lands on {listed(tuple(bends or named))}.")
        if said:
            yield " ".join(said)
        landing = [
            f"{member.mark} (end {name}{f', on bend {one.onto.bend}' if one.onto.bend else ''})"
            for member in self.job.members
            for name, end in (("a", member.end_a), ("b", member.end_b))
            for one in end.saddles
            if one.onto.member in (self.blank.mark, self.blank.member)
        ]
        if landing:
            yield f"{listed(tuple(landing))} {'lands' if len(landing) == 1 else 'land'} on it."

    def care(self, mirrored: bool, insured: bool) -> Iterator[str]:
        """What is easy to get wrong on this very piece. ``insured``: a spare can replace it."""
        blank = self.blank
        hints = wording.hints(blank, self.lie)
        for hand, other, letter in (("left", "right", "R"), ("right", "left", "L")):
            if f"{hand} hand" in hints:
                drawn = "; drawn from the other side, so end a is on the right" if mirrored else ""
                yield f"This is the {hand} hand; {blank.mark[:-1]}{letter}, the {other} hand, has its own card{drawn}."
        both = Cut.SQUARE not in (blank.end_a.cut, blank.end_b.cut)
        if both and not blank.turn_known:
            yield (
                "How far end b is turned from end a was not given: find it on the frame before you shape the second "
                "end. Drawn as if it were 0."
            )
        elif both:
            yield f"End b's short side is {way_round(blank.turn_deg)} end a's."
        if blank.bends:
            yield "All marks are measured from the sawn end a, none from end b."
        for name, shape, _ in self.both():
            lie = self.lie.a if name == "a" else self.lie.b
            if blank.bends and shape.cut is not Cut.SQUARE and lie is None:
                yield f"How end {name} is turned to its bend was not given: shape it after bending, on the frame."
            if any(abs(one.offset) >= 0.05 for one in shape.saddles):
                yield f"End {name} sits off centre{offsets(shape, self.settings.units)}."
        if not insured:
            yield "No spare is kept for it."


def _seen(turn_deg: float) -> str:
    """From where a turn is clockwise; nothing for a turn that is neither way."""
    return ", looking from a to b" if turn_deg % 180.0 else ""
