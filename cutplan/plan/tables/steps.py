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


@dataclass(frozen=True, slots=True)
class Step:
    """Something to do: what it is, the figures for it in words, and those that are read off in ``tables``, the first
    row of each the heads."""

    heading: str
    says: str
    tables: tuple[Table, ...] = ()


def steps(
    job: Job, blank: Blank, made: Making, lie: Insides, cuts: Sequence[SawRow], lands: Landings | None = None
) -> tuple[Step, ...]:
    """The steps of ``blank``. ``made``: what is done to it; ``lie``: how its ends lie to its bends; ``cuts``: the rows
    of the saw list that it is sawn by; ``lands``: what lands on it, and where."""
    return tuple(_Steps(job, blank, made, lie, cuts, lands).every())


def square_for_now(job: Job, blank: Blank, made: Making, lie: Insides, cuts: Sequence[SawRow]) -> tuple[str, ...]:
    """The mitred ends ("a", "b") of ``blank`` that the saw leaves square, as its `steps` say."""
    piece = _Steps(job, blank, made, lie, cuts, None)
    return tuple(
        name
        for name in "ab"
        if piece.shape(name).cut is Cut.MITRE and piece.sawn(name, name in piece.later()).startswith("square")
    )


@dataclass(frozen=True, slots=True)
class _Steps:
    job: Job
    blank: Blank
    made: Making
    lie: Insides
    cuts: Sequence[SawRow]
    lands: Landings | None

    @property
    def settings(self) -> Settings:
        return self.job.settings

    def long(self, mm: float) -> str:
        """A length with its unit, to be found by tape."""
        return card_words.taped(mm, self.settings)

    @property
    def wall(self) -> float:
        """Of the tube, in mm."""
        return float(self.job.tube(self.blank.tube).wall)

    def shape(self, name: str) -> EndShape:
        return self.blank.end_a if name == "a" else self.blank.end_b

    def grip(self, name: str) -> float:
        """What is cut off end ``name`` after bending."""
        return self.blank.cut_off_a if name == "a" else self.blank.cut_off_b

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
        now = [name for name in "ab" if name not in later and not self.grip(name)]
        if len(now) == 2 and all(self.shape(name).cut is Cut.COPE for name in now):
            yield from self._copes(("a", "b"))
        else:
            for name in now:
                yield from self._shaping(name, False)
        for row, says in bends_said(self.blank, self.made, self.lie, self.settings):
            yield Step(f"Bend {row.bend}", says)
        for name in (name for name in "ab" if name not in now):
            if self.grip(name):
                yield Step("Take off the grip", f"cut {self.long(self.grip(name))} off end {name}")
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
        shaped = [name for name in "ab" if self.shape(name).cut is not Cut.SQUARE]
        if blank.bends:
            return tuple(name for name in shaped if (self.lie.a if name == "a" else self.lie.b) is None)
        if len(shaped) < 2 or blank.turn_known:
            return ()
        # What the saw finishes goes first, the other end is held against what it meets.
        return ("a",) if self._by_saw("b") and not self._by_saw("a") else ("b",)

    def _by_saw(self, name: str) -> bool:
        shape = self.shape(name)
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
        sawn = {
            name: shape
            for name in "ab"
            if self.sawn(name, name in later).startswith("mitred")
            for shape in (self.shape(name),)
        }
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
                said.append(f"{self.long(float(self.blank.length) - off)} on {of}{place} line")
        return "; " + ", ".join(said)

    def sawn(self, name: str, later: bool) -> str:
        """How the saw leaves end ``name``."""
        shape = self.shape(name)
        if shape.cut is not Cut.MITRE or self.grip(name):
            return "square"
        if later or not self._by_saw(name):
            return "square for now"
        return f"mitred at {wording.degrees(shape.angle_deg)}° off square, {self._short_side(shape)}"

    def _short_side(self, shape: EndShape) -> str:
        """By how much a mitre's short side is shorter than its long side; and what to do where a saw usually stops."""
        said = f"short side {self.long(shape.short - shape.long)} in from the long side"
        more = shape.angle_deg - card_words.USUAL_SWING_DEG
        if more <= 0.0 or card_words.swing_given(self.settings):
            return said
        usual = wording.degrees(card_words.USUAL_SWING_DEG)
        return f"{said} (saw that stops at {usual}°: set to that, the tube on a wedge of {wording.degrees(more)}°)"

    def _lines(self, later: Sequence[str]) -> Iterator[str]:
        """How the ends and the bends lie to each other, round the tube."""
        blank, od = self.blank, self.blank.end_a.od
        both = Cut.SQUARE not in (blank.end_a.cut, blank.end_b.cut)
        if both and blank.turn_known:
            far = round_it(blank.turn_deg, od, self.settings) + seen(blank.turn_deg)
            yield f"end b's 0 is {way_round(blank.turn_deg)} end a's{far}"
        for name, turn, bend in (("a", self.lie.a, 1), ("b", self.lie.b, len(blank.bends))):
            if turn is not None and name not in later:
                far = round_it(turn, od, self.settings)
                yield f"the inside of bend {bend} is {way_round(turn)} end {name}'s 0{far}"

    def _find(self, name: str) -> Step:
        """How an end gets its line that the job does not say the place of."""
        meets = "what it is to meet"
        if self.shape(name).saddles:
            meets = " and ".join(card_words.onto(one.onto, self.settings) for one in self.shape(name).saddles)
        if self.blank.bends:
            said = "how it is turned to its bend was not given: hold the bent piece in its place"
        else:
            other = "b" if name == "a" else "a"
            said = f"its turn from end {other} was not given: hold end {other} in its place"
        return Step(f"Find end {name}'s 0", f"{said} and mark end {name}'s short side against {meets}")

    def _shaping(self, name: str, later: bool) -> Iterator[Step]:
        """Rough cuts and line of an end that the saw has not finished: what each is, and its figures. ``later``: it
        was sawn square until its place round the tube is found."""
        shape = self.shape(name)
        if shape.cut is Cut.COPE:
            yield from self._copes((name,))
        elif shape.cut is Cut.MITRE and not self._by_saw(name):
            yield Step(f"Mitre, end {name}", self._steep(shape), self._line((name,), ""))
        elif shape.cut is Cut.MITRE and (self.grip(name) or later):
            angle = wording.degrees(shape.angle_deg)
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
        said = [line_says([(name, self.shape(name)) for name in shown], self.wall)]
        said += [f"end b's from its own 0, {turned} end a's"] if (turned := self._own_zero(names)) else []
        for name in shown:
            if text := hole_saw_said(self.shape(name), self.settings):
                said.append(f"or{f', end {name},' if len(shown) > 1 else ''} {text}")
        yield Step(f"Cope, {where}", "; ".join(said), self._line(shown, None if len(shown) > 1 else ""))

    def _own_zero(self, names: Sequence[str]) -> str:
        """Where end b's 0 is, of ends that are given together, where it is not on the line of end a's."""
        way = way_round(self.blank.turn_deg)
        return "" if len(names) < 2 or not self.blank.turn_known or way == way_round(0.0) else way

    def _rough(self, names: Sequence[str], called: str | None = None) -> Iterator[tuple[str, ...]]:
        """The rough cuts of ends; ``called``: in place of their names. On a saw that stops sooner a cut starts
        elsewhere, so that each angle is given with its own start."""
        usual = wording.degrees(card_words.USUAL_SWING_DEG)
        steep = any(self._flatter(row) for row in self.made.rough_cuts if row.end in names)
        yield ("end", "cut", "on the line at", "saw angle, start", f"saw stops at {usual}°" if steep else "")
        for name in names:
            od = self.shape(name).od
            for row in (row for row in self.made.rough_cuts if row.end == name):
                turn = round(row.turn, 1)
                line = f"{wording.degrees(turn)}°"
                line += f" ({self.long(turn / 360.0 * pi * od)} round)" if turn else ""
                yield (
                    name if called is None else called,
                    row.cut,
                    line,
                    f"{wording.degrees(round(row.saw_angle, 1))}° at {card_words.tape(row.start, self.settings)}",
                    (self._flatter(row) or "same") if steep else "",
                )

    def _flatter(self, row: RoughRow) -> str:
        """Where a rough cut starts on a saw that swings no further than is usual, the job saying nothing of it."""
        steep = card_words.USUAL_SWING_DEG
        if row.saw_angle <= steep or card_words.swing_given(self.settings):
            return ""
        shape = self.shape(row.end)
        start = flatter_start(shape, self.wall, row.turn, steep)
        others = (
            depth_at(RoughCut(one.saw_angle, one.turn, one.start), row.turn, shape.od)
            for one in self.made.rough_cuts
            if one.end == row.end and one.cut != row.cut
        )
        # Where the other cut is as deep already, the mark is gone and next to nothing is left to saw.
        if start <= max((0.5, *others)):
            return "leave out"
        return f"{wording.degrees(steep)}° at {card_words.tape(start, self.settings)}"

    def _grind(self, name: str, *, named: bool) -> str:
        """What the rough cuts of an end leave to the grinder, and where most of it is; nothing where it is nothing."""
        shape, rows = self.shape(name), [row for row in self.made.rough_cuts if row.end == name]
        cuts = [RoughCut(row.saw_angle, row.turn, row.start) for row in rows]
        left, more = left_to_grind(shape, cuts), left_to_grind(shape, self._flatter_cuts(rows))
        if max(left, more) < 0.05:
            return ""
        at = wording.degrees(round(grind_most_at(shape, cuts)) % 360)
        said = f"then grind{f' end {name}' if named else ''} up to {self.long(left)}, most of it at {at}°"
        if card_words.tape(more, self.settings) == card_words.tape(left, self.settings):
            return said
        usual = wording.degrees(card_words.USUAL_SWING_DEG)
        return f"{said} ({self.long(more)} if the saw stops at {usual}°)"

    def _flatter_cuts(self, rows: Sequence[RoughRow]) -> list[RoughCut]:
        """The rough cuts of an end as a saw makes them that swings no further than is usual."""
        steep, cuts = card_words.USUAL_SWING_DEG, []
        for row in rows:
            instead = self._flatter(row)
            if not instead:
                cuts.append(RoughCut(row.saw_angle, row.turn, row.start))
            elif instead != "leave out":
                start = flatter_start(self.shape(row.end), self.wall, row.turn, steep)
                cuts.append(RoughCut(steep, row.turn, start))
        return cuts

    def _line(self, names: Sequence[str], called: str | None = None) -> tuple[Table, ...]:
        """The lines of ends, to be marked; ``called``: in place of their names."""
        ends = [(name if called is None else called, self.shape(name)) for name in names]
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
            f"side; or saw at {full}° from the tip, which takes "
            f"{self.long(cut.start)} off at 0, and grind at most {self.long(left_to_grind(shape, [cut]))} to the line: "
            "lay on its wrap, or mark"
        )

    def _fit(self) -> Iterator[str]:
        if all(self.shape(name).cut is Cut.SQUARE for name in "ab"):
            yield "both ends square, as sawn"
            return
        for name in "ab":
            shape = self.shape(name)
            allowed = wording.fitting(self.blank, name)
            more = f", {self.long(allowed)} left on for fitting, in the blank already" if allowed else ""
            if shape.cut is Cut.COPE:
                onto = (
                    f"{card_words.onto(one.onto, self.settings)} at {wording.degrees(one.angle_deg)}°"
                    for one in shape.saddles
                )
                yield f"end {name} on {' and '.join(onto)}{more}"
            elif shape.plate:
                yield f"end {name} flat on its plate, {shape.plate}{more}"
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
