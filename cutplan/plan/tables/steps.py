"""The steps to make a piece, in the order they are done: what can be marked on the straight blank first, then the
bends, then what can only be marked on the frame.

An end whose place round the tube the job does not say is shaped last, once it has been marked against what it is to
meet. A mitre steeper than the saw swings is sawn with a wedge behind the tube, or roughed out at the saw's own limit
and ground to its line; a cope onto one straight tube may be cut with a hole saw as wide as that tube (all three
*common practice, no source*). The figures are those of the tables of making.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import cos, pi, radians

from cutplan.geometry.inside import Insides
from cutplan.geometry.model import Blank, EndShape
from cutplan.geometry.roughcut import RoughCut, depth_at, flatter_start, grind_most_at, left_to_grind, steepest_cut
from cutplan.job.model import Cut, Job, Settings
from cutplan.plan import wording
from cutplan.plan.tables import card_words
from cutplan.plan.tables.bend_steps import bends_said, round_it, seen
from cutplan.plan.tables.end_lines import Table, line_says, line_tables
from cutplan.plan.tables.hole_saws import hole_saw_said
from cutplan.plan.tables.landings import Landings
from cutplan.plan.tables.making import Making, RoughRow, way_round
from cutplan.plan.tables.saw_list import SawRow

_FLOOR = "z=0"
"""The plane of the floor, as it is shown: heights are measured from there."""


@dataclass(frozen=True, slots=True)
class Step:
    """Something to do: what it is, the figures for it in words, and those that are read off in ``tables``, the first
    row of each the heads."""

    heading: str
    says: str
    tables: tuple[Table, ...] = ()


def steps(
    job: Job, blank: Blank, made: Making, insides: Insides, cuts: Sequence[SawRow], lands: Landings | None = None
) -> tuple[Step, ...]:
    """The steps of ``blank``. ``made``: what is done to it; ``insides``: where the insides of its bends are; ``cuts``:
    the rows of the saw list that it is sawn by; ``lands``: what lands on it, and where."""
    return tuple(_Steps(job, blank, made, insides, cuts, lands).every())


def square_for_now(job: Job, blank: Blank, made: Making, insides: Insides, cuts: Sequence[SawRow]) -> tuple[str, ...]:
    """The mitred ends ("a", "b") of ``blank`` that the saw leaves square, as its `steps` say."""
    piece = _Steps(job, blank, made, insides, cuts, None)
    later = piece.later()
    mitres = (name for name in "ab" if blank.end(name).cut is Cut.MITRE)
    return tuple(name for name in mitres if not piece.mitred(name, name in later))


@dataclass(frozen=True, slots=True)
class _Steps:
    job: Job
    blank: Blank
    made: Making
    insides: Insides
    cuts: Sequence[SawRow]
    lands: Landings | None

    @property
    def settings(self) -> Settings:
        return self.job.settings

    def taped(self, mm: float) -> str:
        """A length with its unit, to be found by tape."""
        return card_words.taped(mm, self.settings)

    @property
    def wall(self) -> float:
        """Of the tube, in mm."""
        return float(self.job.tube(self.blank.tube).wall)

    def every(self) -> Iterator[Step]:
        later = self.later()
        if not later and self._found_on_frame():
            yield Step(
                "Find end b's 0",
                "before you saw: its turn from end a was not given, and both mitres share their cuts with other "
                "pieces; find it on the frame, or saw these apart",
            )
        start = [self._saw(later)]
        if line := "; ".join(self._lines(later)):
            # A mitre is sawn by these lines; a saddle is only marked by them, on the sawn blank.
            sawn_by = Cut.MITRE in (self.blank.end_a.cut, self.blank.end_b.cut)
            start.insert(0 if sawn_by else 1, Step("Mark lines along the tube", line))
        yield from start
        now = [name for name in "ab" if name not in later and not self.blank.cut_off(name)]
        if len(now) == 2 and all(self.blank.end(name).cut is Cut.COPE for name in now):
            yield from self._copes(("a", "b"))
        else:
            for name in now:
                yield from self._shaping(name, False)
        for row, says in bends_said(self.blank, self.made, self.insides, self.settings):
            yield Step(f"Bend {row.bend}", says)
        for name in (name for name in "ab" if name not in now):
            if self.blank.cut_off(name):
                yield Step("Take off the grip", f"cut {self.taped(self.blank.cut_off(name))} off end {name}")
            if name in later:
                yield self._find(name)
            yield from self._shaping(name, name in later)
        if self.lands is not None:
            yield Step("Mark where others land", self.lands.says, _only(_narrow(self.lands.table)))
        yield Step("Fit", "; ".join(self._fit()))

    def later(self) -> tuple[str, ...]:
        """The ends that are shaped once their place is found on the frame."""
        later = self._found_on_frame()
        if not self.blank.bends and any(self._shared(name) for name in later):
            # A mitre that shares its cut is sawn on the bar, so that its line must be known by then.
            return tuple(name for name in "ab" if not self._shared(name))
        return later

    def _found_on_frame(self) -> tuple[str, ...]:
        """The ends whose place round the tube is not known before the piece is held in its place."""
        blank = self.blank
        shaped = [name for name in "ab" if blank.end(name).cut is not Cut.SQUARE]
        if blank.bends:
            return tuple(name for name in shaped if self.insides.at(name) is None)
        if len(shaped) < 2 or blank.turn_known:
            return ()
        # What the saw finishes goes first, the other end is held against what it meets.
        return ("a",) if self._by_saw("b") and not self._by_saw("a") else ("b",)

    def _by_saw(self, name: str) -> bool:
        shape = self.blank.end(name)
        return shape.cut is Cut.MITRE and shape.angle_deg <= self.settings.saw_swing + 1e-9

    def _shared(self, name: str) -> bool:
        """Whether the mitre of end ``name`` is the cut that frees another blank too."""
        return any(row.one_with["ab".index(name)] is not None for row in self.cuts)

    def _saw(self, later: Sequence[str]) -> Step:
        where = wording.cuts_among(row.cut for row in self.cuts) if self.cuts else "cut already"
        ends = [self.sawn(name, name in later) for name in "ab"]
        both = f"end a {ends[0]}; end b {ends[1]}" if ends[0] != ends[1] else f"both ends {ends[0]}"
        length = f"{wording.blank(self.blank.length, self.settings)} {self.settings.units.value}"
        return Step("Saw", f"{length} ({where}), {both}{self._sides(later)}")

    def _sides(self, later: Sequence[str]) -> str:
        """How long the blank is sawn on the long and on the short side of its mitres, each side by its line."""
        sawn = {name: self.blank.end(name) for name in "ab" if self.mitred(name, name in later)}
        both = len(sawn) == 2
        if not sawn or (both and (self.blank.bends or not self.blank.turn_known)):
            return ""
        turn = {"a": 0.0, "b": self.blank.turn_deg if both else 0.0}
        along = way_round(turn["b"])
        lines = "a" if both and along in (way_round(0.0), way_round(180.0)) else "".join(sawn)
        said = []
        for name in lines:
            for place in (180, 0):
                off = sum(
                    (shape.short - shape.long) / 2.0 * (1.0 + cos(radians(place + turn[name] - turn[other])))
                    for other, shape in sawn.items()
                )
                of = "the " if len(sawn) == 1 or along == way_round(0.0) else f"end {name}'s "
                said.append(f"{self.taped(float(self.blank.length) - off)} on {of}{place} line")
        return "; " + ", ".join(said)

    def mitred(self, name: str, later: bool) -> bool:
        """Whether end ``name`` is a mitre that the saw leaves as it is to be."""
        return self._by_saw(name) and not later and not self.blank.cut_off(name)

    def sawn(self, name: str, later: bool) -> str:
        """How the saw leaves end ``name``."""
        shape = self.blank.end(name)
        if self.mitred(name, later):
            angle = wording.degrees(shape.angle_deg, taped=shape.taped)
            return f"mitred at {angle}° off square, {self._short_side(shape)}"
        return "square for now" if shape.cut is Cut.MITRE and not self.blank.cut_off(name) else "square"

    def _short_side(self, shape: EndShape) -> str:
        """By how much a mitre's short side is shorter than its long side; and what to do where a saw usually stops."""
        said = f"short side {self.taped(shape.short - shape.long)} in from the long side"
        more = shape.angle_deg - card_words.USUAL_SWING_DEG
        if more <= 0.0 or card_words.swing_given(self.settings):
            return said
        usual = wording.degrees(card_words.USUAL_SWING_DEG)
        return f"{said} (saw that stops at {usual}°: set to that, the tube on a wedge of {wording.degrees(more)}°)"

    def _lines(self, later: Sequence[str]) -> Iterator[str]:
        """How the ends and the bends are turned from each other."""
        blank, od = self.blank, self.blank.end_a.od
        if blank.both_shaped and blank.turn_known:
            far = round_it(blank.turn_deg, od, self.settings) + seen(blank.turn_deg)
            yield f"end b's 0 is {way_round(blank.turn_deg)} end a's{far}"
        for name, turn, bend in (("a", self.insides.a, 1), ("b", self.insides.b, len(blank.bends))):
            if turn is not None and name not in later:
                far = round_it(turn, od, self.settings)
                yield f"the inside of bend {bend} is {way_round(turn)} end {name}'s 0{far}"

    def _find(self, name: str) -> Step:
        """How to find the line of an end whose place round the tube the job does not give."""
        meets = "what it is to meet"
        if self.blank.end(name).saddles:
            meets = " and ".join(card_words.onto(one.onto, self.settings) for one in self.blank.end(name).saddles)
        if self.blank.bends:
            said = "how it is turned to its bend was not given: hold the bent piece in its place"
        else:
            other = "b" if name == "a" else "a"
            said = f"its turn from end {other} was not given: hold end {other} in its place"
        return Step(f"Find end {name}'s 0", f"{said} and mark end {name}'s short side against {meets}")

    def _shaping(self, name: str, later: bool) -> Iterator[Step]:
        """Rough cuts and line of an end that the saw has not finished: what each is, and its figures. ``later``: it
        was sawn square until its place round the tube is found."""
        shape = self.blank.end(name)
        if shape.cut is Cut.COPE:
            yield from self._copes((name,))
        elif shape.cut is Cut.MITRE and not self._by_saw(name):
            yield Step(f"Mitre, end {name}", self._steep(shape), self._line((name,), ""))
        elif shape.cut is Cut.MITRE and (self.blank.cut_off(name) or later):
            angle = wording.degrees(shape.angle_deg, taped=shape.taped)
            yield Step(f"Mitre, end {name}", f"saw it at {angle}°, 0 on its short side, {self._short_side(shape)}")

    def _copes(self, names: tuple[str, ...]) -> Iterator[Step]:
        """Rough cuts and lines of one coped end or of both; ends alike are given once."""
        where = f"end {names[0]}" if len(names) == 1 else "both ends"
        alike = len(names) == 2 and [*self._rough(("a",), "")] == [*self._rough(("b",), "")]
        alike = alike and self._line(("a",), "") == self._line(("b",), "")
        shown = names[:1] if alike else names
        rough = [*self._rough(shown)]
        if len(rough) > 1:
            says = ["before you saw, mark the cope's line (below) and every rough cut, all in from the sawn end"]
            says += [f"end b's from its own 0, {turned} end a's"] if (turned := self._own_zero(names)) else []
            says += ["each cut slopes out towards the end"]
            says += [text for name in shown if (text := self._grind(name, named=len(shown) > 1))]
            yield Step(f"Rough cuts, {where}", "; ".join(says), _only(_narrow(rough)))
        said = [line_says([(name, self.blank.end(name)) for name in shown], self.wall)]
        said += [f"end b's from its own 0, {turned} end a's"] if (turned := self._own_zero(names)) else []
        for name in shown:
            if text := hole_saw_said(self.blank.end(name), self.settings):
                said.append(f"or{f', end {name},' if len(shown) > 1 else ''} {text}")
        yield Step(f"Cope, {where}", "; ".join(said), self._line(shown, None if len(shown) > 1 else ""))

    def _own_zero(self, names: Sequence[str]) -> str:
        """Where end b's 0 is, of ends that are given together, where it is not on the line of end a's."""
        way = way_round(self.blank.turn_deg)
        return "" if len(names) < 2 or not self.blank.turn_known or way == way_round(0.0) else way

    def _rough(self, names: Sequence[str], called: str | None = None) -> Iterator[tuple[str, ...]]:
        """The rough cuts of ends; ``called``: in place of their names. On a saw that stops sooner a cut starts
        elsewhere, so that each angle is given with its own start."""
        steep = any(self._at_usual(row) != _cut(row) for row in self.made.rough_cuts if row.end in names)
        stops = f"saw stops at {wording.degrees(card_words.USUAL_SWING_DEG)}°"
        yield ("end", "cut", "on the line at", "saw angle, start", stops if steep else "")
        for name in names:
            for row in (row for row in self.made.rough_cuts if row.end == name):
                turn, usual = round(row.turn, 1), self._at_usual(row)
                far = f" ({self.taped(turn / 360.0 * pi * self.blank.end(name).od)} round)" if turn else ""
                instead = "same" if usual == _cut(row) else self._angle_and_start(usual)
                yield (
                    name if called is None else called,
                    row.cut,
                    f"{wording.degrees(turn)}°{far}",
                    self._angle_and_start(_cut(row)),
                    instead if steep else "",
                )

    def _angle_and_start(self, cut: RoughCut | None) -> str:
        if cut is None:
            return "leave out"
        return f"{wording.degrees(round(cut.saw_deg, 1))}° at {card_words.tape(cut.start, self.settings)}"

    def _at_usual(self, row: RoughRow) -> RoughCut | None:
        """A rough cut on a saw that swings no further than is usual, where the job does not say how far its saw does;
        None: it is left out."""
        steep = card_words.USUAL_SWING_DEG
        if row.saw_angle <= steep or card_words.swing_given(self.settings):
            return _cut(row)
        shape = self.blank.end(row.end)
        start = flatter_start(shape, self.wall, row.turn, steep)
        others = (one for one in self.made.rough_cuts if one.end == row.end and one.cut != row.cut)
        # Where the other cut is as deep already, the mark is gone and next to nothing is left to saw.
        deepest = max((0.5, *(depth_at(_cut(one), row.turn, shape.od) for one in others)))
        return RoughCut(steep, row.turn, start) if start > deepest else None

    def _grind(self, name: str, *, named: bool) -> str:
        """What the rough cuts of an end leave to the grinder, and where most of it is; nothing where it is nothing."""
        shape, rows = self.blank.end(name), [row for row in self.made.rough_cuts if row.end == name]
        cuts, usual = [_cut(row) for row in rows], [cut for row in rows if (cut := self._at_usual(row))]
        left, more = left_to_grind(shape, cuts), left_to_grind(shape, usual)
        if max(left, more) < 0.05:
            return ""
        at = wording.degrees(round(grind_most_at(shape, cuts)) % 360)
        said = f"then grind{f' end {name}' if named else ''} up to {self.taped(left)}, most of it at {at}°"
        if card_words.tape(more, self.settings) == card_words.tape(left, self.settings):
            return said
        return f"{said} ({self.taped(more)} if the saw stops at {wording.degrees(card_words.USUAL_SWING_DEG)}°)"

    def _line(self, names: Sequence[str], called: str | None = None) -> tuple[Table, ...]:
        """The lines of ends, to be marked; ``called``: in place of their names."""
        ends = [(name if called is None else called, self.blank.end(name)) for name in names]
        return line_tables(ends, self.wall, self.settings)

    def _steep(self, shape: EndShape) -> str:
        """A mitre steeper than the saw swings, in the two ways that it can be made."""
        swing = self.settings.saw_swing
        said = f"steeper than the saw swings ({wording.degrees(swing)}°)"
        if swing < 1.0:
            return f"{said}: lay on its wrap, or mark, and grind to the line"
        more, full = wording.degrees(shape.angle_deg - swing), wording.degrees(swing)
        cut = steepest_cut(shape, swing)
        return (
            f"{said}: clamp the tube on a wedge of {more}° that turns it further, and saw at {full}°, 0 on its short "
            f"side; or saw at {full}° from the tip, which takes {self.taped(cut.start)} off at 0, and grind at most "
            f"{self.taped(left_to_grind(shape, [cut]))} to the line: lay on its wrap, or mark"
        )

    def _fit(self) -> Iterator[str]:
        if all(self.blank.end(name).cut is Cut.SQUARE for name in "ab"):
            yield "both ends square, as sawn"
            return
        for name in "ab":
            shape = self.blank.end(name)
            allowed = wording.fitting(self.blank, name)
            more = f", {self.taped(allowed)} left on for fitting, in the blank already" if allowed else ""
            if shape.cut is Cut.COPE:
                angles = [wording.degrees(one.angle_deg, taped=shape.taped) for one in shape.saddles]
                onto = (
                    f"{card_words.onto(one.onto, self.settings)} at {angle}°"
                    for one, angle in zip(shape.saddles, angles, strict=True)
                )
                yield f"end {name} on {' and '.join(onto)}{more}"
            elif shape.plate:
                flat = "the floor" if shape.plate == _FLOOR else "its plate"
                yield f"end {name} flat on {flat}, {shape.plate}{more}"
            elif shape.cut is Cut.MITRE:
                yield f"end {name} to {self._half(name)}{more}"
            else:
                yield f"end {name} square, as sawn"

    def _half(self, name: str) -> str:
        """The other half of a mitre, with its name where the members' places are known."""
        halves = [(mark, card_words.other_half(self.job, mark, name)) for mark in self.made.alike]
        if not all(half for _, half in halves):
            return "the other half of its mitre"
        if len({half for _, half in halves}) == 1:
            return f"{halves[0][1]}, the other half of its mitre"
        return "the other half of its mitre: " + ", ".join(f"{half} ({mark})" for mark, half in halves)


def _cut(row: RoughRow) -> RoughCut:
    return RoughCut(row.saw_angle, row.turn, row.start)


def _only(table: Table) -> tuple[Table, ...]:
    """A table alone; none where it is empty."""
    return (table,) if table else ()


def _narrow(rows: Iterable[tuple[str, ...]]) -> tuple[tuple[str, ...], ...]:
    """A table without the columns that have nothing to say: those that are empty, and the end where it is one."""
    every = tuple(rows)
    if not every:
        return ()
    kept = [
        number
        for number, head in enumerate(every[0])
        if (any(row[number] for row in every[1:]) if head != "end" else len({row[number] for row in every[1:]}) > 1)
    ]
    return tuple(tuple(row[number] for number in kept) for row in every)
