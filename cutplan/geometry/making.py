"""One member to its blanks: run, end shapes, parts, bending marks."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from cutplan.geometry import ends
from cutplan.geometry.bend import arc as arc_of
from cutplan.geometry.bend import growth
from cutplan.geometry.byhand import hand_end, runs_straight_on
from cutplan.geometry.derivation import Allowances, end_parts, to_tip
from cutplan.geometry.errors import GeometryError
from cutplan.geometry.estimates.lengths import Margin, is_doubtful, margin_of, range_faults
from cutplan.geometry.estimates.points import PointDoubt, points_in_doubt
from cutplan.geometry.figures import Figures
from cutplan.geometry.halves import mirrored
from cutplan.geometry.model import BendMark, Blank, EndShape, Estimate, Part
from cutplan.geometry.overhang import depth_in, overhang, turns
from cutplan.geometry.placing import CLEAR, CLOSE_DEG, PlacedEnd, Placer, between_deg, turn_of
from cutplan.geometry.pointrun import points_run
from cutplan.geometry.rounding import round_up
from cutplan.geometry.run import Run, bend_marks, bend_parts, bend_remarks, measured_run
from cutplan.geometry.saddle import SLACK_MM
from cutplan.job.faults import Fault, Remark
from cutplan.job.model import Cut, End, Job, Measured, Member, Tube
from cutplan.job.plates import show_plate

ShapeKey = tuple[str, int]
"""A tube's name and the ``id`` of an end, which its job keeps alive (hashing its fractions would take longer)."""


def is_simple(end: End) -> bool:
    """Whether ``end`` is coped onto one straight tube by measured angles."""
    if end.cut is not Cut.COPE or end.from_points or len(end.saddles) != 1:
        return False
    return runs_straight_on(end.saddles[0])


_WIDE = (
    "its points are too uncertain to say how it lands on or near the bend of {}: room is kept for every possibility "
    "(give its length with a ± in place of points to need less)"
)
_FAR_FROM_PLATE_MM = 150.0
"""A foot that ends further from its point than this may well be a slip: common practice, no source."""
_LEAST_REMARKED_MM = 0.1


@dataclass(frozen=True, slots=True)
class Misfit:
    """An end that does not sit on its tubes as it should, by ``mm``, and how to report it. ``third``: member,
    end and the other member that end runs into."""

    mm: float
    remark: Remark
    third: tuple[str, str, str] | None = None


@dataclass(frozen=True, slots=True)
class Made:
    """What came of one member. ``misfits``: of its ends, to be reported worst first."""

    blanks: tuple[Blank, ...] = ()
    faults: tuple[Fault, ...] = ()
    remarks: tuple[Remark, ...] = ()
    misfits: tuple[Misfit, ...] = ()


@dataclass(frozen=True, slots=True)
class Maker:
    """Lays out the members of a job one by one. ``shapes``: of the ends known beforehand."""

    job: Job
    figures: Figures
    shapes: Mapping[ShapeKey, EndShape | GeometryError]
    allowed: Allowances
    step_named: str
    placer: Placer

    def make(self, member: Member, tube: Tube) -> Made:
        """The member's blanks, or its faults; with remarks in either case."""
        run, faults = (points_run if member.points else measured_run)(member, tube, self.figures)
        if faults and member.points:
            return Made(faults=tuple(faults))
        placed: dict[str, PlacedEnd] = {}
        shapes: list[EndShape] = []
        remarks = bend_remarks(run, tube, self.figures)
        misfits: list[Misfit] = []
        for name, end in zip("ab", member.ends, strict=True):
            try:
                # A mitre with an angle of its own may be cut against something else than another mitre.
                if end.from_points or (end.angles_given and len(self.placer.corner(member, name)) == 1):
                    placed[name] = self.placer.placed(name, member)
                straight = 0.0 if not run.straights else run.straights[0 if name == "a" else -1].length
                mine = placed[name].end if name in placed else end
                shapes.append(self._shape(name, tube, mine, placed.get(name), straight))
                remarks += self._moved_remarks(member, name, placed.get(name))
                remarks += self._taken_remarks(member, name, tube, placed.get(name))
                remarks += self._curve_remarks(member, name, shapes[-1], end.measured)
                misfits += self._misfits(member, name, shapes[-1], placed.get(name))
            except GeometryError as error:
                faults.append(error.fault(member.place, self.figures, name))
        if faults:
            return Made(faults=tuple(faults))
        if self._taped(member):
            shapes = [replace(shape, taped=True) for shape in shapes]
        blank, faults = self._blank(member, tube, run, shapes, placed, remarks)
        if faults:
            return Made(faults=tuple(faults), remarks=tuple(remarks))
        if not member.pair:
            blank = replace(blank, hand=member.hand.value if member.hand else "")
            return Made((blank,), (), tuple(remarks), tuple(misfits))
        left, right = member.marks
        hands = replace(blank, mark=left), mirrored(replace(blank, mark=right))
        return Made(hands, (), tuple(remarks), tuple(misfits))

    def _taped(self, member: Member) -> bool:
        """Whether a tape gave the nodes of the frame that it is in, so that no angle there is known any better."""
        by_nodes = (one for one in (member, *self.job.members) if one.route is not None)
        return member.route is not None and any(one.tolerance for one in by_nodes)

    def _shape(self, name: str, tube: Tube, end: End, placed: PlacedEnd | None, straight: float) -> EndShape:
        known = self.shapes.get((tube.name, id(end)))
        if isinstance(known, GeometryError):
            raise known
        if known is not None:
            return known
        od = float(tube.od)
        if end.cut is Cut.SQUARE:
            return ends.square(od)
        if end.cut is Cut.MITRE:
            shape = ends.mitre(od, end.angle_deg)
            units = self.job.settings.units
            return shape if end.plate is None else replace(shape, plate=show_plate(end.plate, units))
        for one in end.saddles:
            if one.onto.bend is not None and one.onto.clr is None:
                rule = f"bend {one.onto.bend} of {one.onto.member} has no radius, and neither does its tube"
                raise GeometryError(rule, cure="give that bend's centreline radius", column="onto")
        if placed is None:
            found = hand_end(name, end, od / 2.0, straight, self.placer)
            return ends.cope(od, end.saddles, (), found.targets, straight)
        return ends.cope(od, end.saddles, placed.shifts, () if placed.plain else placed.targets, straight)

    def _moved_remarks(self, member: Member, name: str, placed: PlacedEnd | None) -> list[Remark]:
        """By how much axes that do not quite meet were taken to."""
        place = member.place.at(f"end {name}")
        if placed is not None and placed.end.plate is not None:
            far = abs(placed.shift)
            text = f"its plate is {self.figures.about(far)} {'short of' if placed.shift > 0 else 'beyond'} its point"
            here = member.place.at(f"onto {name}")
            return [Remark(here, f"{text}: it is cut there, if that is not a slip")] if far > _FAR_FROM_PLATE_MM else []
        return [
            Remark(place, f"by the points it misses {onto} by {self.figures.about(gap)}; treated as meeting it")
            for onto, gap in (placed.moved if placed else ())
            if gap >= _LEAST_REMARKED_MM
        ]

    def _taken_remarks(self, member: Member, name: str, tube: Tube, placed: PlacedEnd | None) -> list[Remark]:
        """What is taken of tubes that an end lands on, where nothing says which way they go."""
        end = member.end(name)
        if placed is not None or len(end.saddles) < 2:
            return []
        place = member.place.at(f"onto {name}")
        return [
            Remark(place, f"{one} is assumed to end on {other} here and to run on from the short side of its saddle")
            for one, other in hand_end(name, end, float(tube.od) / 2.0, 0.0, self.placer).taken
        ]

    def _misfits(self, member: Member, name: str, shape: EndShape, placed: PlacedEnd | None) -> Iterator[Misfit]:
        """Where an end hangs over the end of its tube, or another tube is in its way."""
        if shape.cut is not Cut.COPE:
            return
        place, radius = member.place.at(f"end {name}"), shape.od / 2.0
        if (over := overhang(shape.targets, radius)) is not None and over.mm >= _LEAST_REMARKED_MM:
            part = max(round(over.part * 100), 1)
            text = (
                f"hangs over the end of {over.name} by {self.figures.about(over.mm)}, on {part} % of its circumference"
            )
            cure = f" (let {over.name} run on past its node?)" if member.route is not None else ""
            yield Misfit(over.mm, Remark(place, f"{member.mark} {text}{cure}"))
        if placed is None:
            return
        line = ends.envelope(shape, turns(), radius)
        for third in self.placer.in_the_way(name, member, placed):
            depth = depth_in(third, line, radius)
            if depth >= _LEAST_REMARKED_MM:
                at = self.figures.place(placed.frame.origin)
                text = f"runs {self.figures.about(depth)} into {third.name} at {at}, which it does not land on"
                remark = Remark(place, f"{member.mark} {text} (add it to onto {name}?)")
                yield Misfit(depth, remark, (member.mark, name, third.name))

    def _curve_remarks(self, member: Member, name: str, shape: EndShape, measured: Measured) -> list[Remark]:
        """How far the answer for straight tubes would be out where an end lands on a bend, if it was given by hand."""
        if member.route is not None:
            return []
        if all(one.onto.clr is None for one in shape.saddles):
            return []
        flat = tuple(replace(one, onto=replace(one.onto, clr=None)) for one in shape.saddles)
        place = member.place.at(f"onto {name}")
        try:
            straight = ends.cope(shape.od, flat, shape.shifts)
        except GeometryError:
            return []
        more = to_tip(shape, measured) - to_tip(straight, measured)
        line = float(np.max(np.abs(ends.end_line(shape, turns()) - ends.end_line(straight, turns()))))
        length = "the same length"
        if abs(more) >= 5e-4:
            length = f"{self.figures.named(abs(more))} too {'short' if more > 0 else 'long'}"
        text = (
            f"lands on a bend; worked out for a straight tube, the blank would be {length} and the saddle line up to "
            f"{self.figures.named(line)} out"
        )
        return [Remark(place, text)]

    def _blank(
        self,
        member: Member,
        tube: Tube,
        run: Run,
        shapes: Sequence[EndShape],
        placed: Mapping[str, PlacedEnd],
        remarks: list[Remark],
    ) -> tuple[Blank, list[Fault]]:
        settings = self.job.settings
        at_a, at_b = (
            (self._shift_parts(name, end, placed[name]) if name in placed else [])
            + end_parts(name, shape, end, self.allowed, self.figures)
            for name, shape, end in zip("ab", shapes, member.ends, strict=True)
        )
        reaches = [sum(part.length for part in at) for at in (at_a, at_b)]
        parts: list[Part] = []
        for number, straight in enumerate(run.straights, 1):
            parts += straight.parts
            if number <= len(run.turns):
                parts += bend_parts(number, run.turns[number - 1], tube, self.figures)
        parts += [*at_a, *at_b]
        faults = self._room_faults(member, run, shapes) + self._arc_faults(run, tube)
        margin, wrong = self._margin(member, tube, run, shapes, placed, reaches, remarks)
        faults += wrong
        marks: tuple[BendMark, ...] = ()
        grips = [0.0, 0.0]
        if run.turns:
            grips = [max(0.0, float(tube.grip) - run.straights[k].length - reaches[k]) for k in (0, -1)]
            for name, extra in zip("ab", grips, strict=True):
                if extra:
                    parts.append(Part(f"end {name}: more for the bender to grip, cut off after bending", extra))
            first = run.straights[0].length + reaches[0] + grips[0]
            marks = bend_marks(run, tube, first, float(settings.die_mark))
        net = sum(part.length for part in parts)
        least = net - margin.less
        likely = length = round_up(net, settings.step)
        if least <= 0.0 and not faults:
            column = member.place.at("length") if member.length is not None else member.place
            rule = f"{'may leave' if net > 0.0 else 'leaves'} a blank of {self.figures.named(least)}"
            faults.append(Fault(column, rule, cure="check what it was measured to"))
        estimate = None
        if margin.most > float(settings.sure) + SLACK_MM:
            estimate = Estimate(round_up(least, settings.step), likely)
            length = round_up(net + margin.more, settings.step)
            parts.append(Part("room for the estimate, up to its greatest length", margin.more))
        turn = member.turn_deg if len(placed) < 2 else turn_of(placed["a"], placed["b"], member)
        if member.turn_given and between_deg(turn, member.turn_deg) > CLOSE_DEG:
            rule = f"by the points end b is turned {turn:.1f} degrees from end a"
            faults.append(Fault(member.place.at("turn"), rule, f"{member.turn_deg:g}", CLEAR))
        if not faults and not run.turns:
            faults += self._overlap_faults(member, least, shapes, turn)
        rounded = length.numerator / length.denominator - net - (margin.more if estimate else 0.0)
        parts.append(Part(f"rounded up to the next {self.step_named}", rounded))
        square = any(shape.cut is Cut.SQUARE for shape in shapes)
        blank = Blank(
            mark=member.mark,
            member=member.mark,
            tube=member.tube,
            count=member.count,
            length=length,
            parts=tuple(parts),
            end_a=shapes[0],
            end_b=shapes[1],
            turn_deg=turn,
            insured=member.insured,
            bends=marks,
            cut_off_a=grips[0],
            cut_off_b=grips[1],
            spread=margin.most,
            note=member.note,
            turn_known=len(placed) == 2 or member.turn_given or bool(member.turn_deg) or square,
            place=member.place,
            estimate=estimate,
        )
        return blank, faults

    def _margin(
        self,
        member: Member,
        tube: Tube,
        run: Run,
        shapes: Sequence[EndShape],
        placed: Mapping[str, PlacedEnd],
        reaches: Sequence[float],
        remarks: list[Remark],
    ) -> tuple[Margin, list[Fault]]:
        """By how much the blank may come out otherwise than likely; none where no number of it has a ±."""
        by_points = points_in_doubt(member, self.placer)
        if not by_points and not is_doubtful(member):
            return Margin(), []
        try:
            if by_points:
                doubt = PointDoubt(self.placer)
                margin, straights = doubt.margin_of(member, tube, run, shapes, placed, reaches)
                if margin.most > float(self.job.settings.sure) + SLACK_MM:
                    remarks += [Remark(member.place, _WIDE.format(name)) for name in doubt.near_bends]
            else:
                margin, straights = margin_of(member, tube, run, shapes, reaches, self.placer)
            return margin, range_faults(run, straights, self.figures)
        except GeometryError as error:
            return Margin(), [error.fault(member.place, self.figures)]

    def _shift_parts(self, name: str, end: End, placed: PlacedEnd) -> list[Part]:
        if end.measured is not Measured.CENTRE or abs(placed.shift) < 1e-6:
            return []
        if end.plate is not None:
            return [Part(f"end {name}: from its point to where its axis meets the plate", -placed.shift)]
        onto = placed.end.saddles[0].onto.member
        return [Part(f"end {name}: from its point to where its axis and that of {onto} come nearest", -placed.shift)]

    def _overlap_faults(self, member: Member, length: float, shapes: Sequence[EndShape], turn: float) -> list[Fault]:
        """On every line along the outside of a straight member something must be left between its two ends."""
        a, b = shapes
        # Most blanks are far longer than both their ends are deep, and need no look at every line.
        if length > a.throat + b.throat + self.allowed.most + SLACK_MM:
            return []
        # What is added for fitting and shrinkage does not stay.
        added = sum(part.length for at in (("a", a.cut), ("b", b.cut)) for part in self.allowed.parts[at])
        left = length - added - float(np.max(ends.end_line(a, turns()) + ends.end_line(b, turns() - turn)))
        if left > SLACK_MM:
            return []
        rule = f"its two ends overlap: along one side they run {self.figures.named(max(-left, 0.0))} past each other"
        place = member.place.at("length") if member.length is not None else member.place
        return [Fault(place, rule, cure="check the length and the angles of both ends")]

    def _arc_faults(self, run: Run, tube: Tube) -> list[Fault]:
        """A bend must not give back more than its arc is long."""
        faults = []
        for number, one in enumerate(run.turns, 1):
            arc, back = arc_of(one.angle_deg, one.radius), growth(one.angle_deg, float(tube.stretch))
            if back >= arc:
                named = self.figures.named
                rule = f"bend {number}: its arc of {named(arc)} is all used up by its stretch of {named(back)}"
                faults.append(Fault(one.place.at("angle"), rule, cure=f"check the stretch of {tube.name} in Tubes"))
        return faults

    def _room_faults(self, member: Member, run: Run, shapes: Sequence[EndShape]) -> list[Fault]:
        """An end's tip must be on the straight it ends, not in the bend beyond it."""
        if not run.turns:
            return []
        faults = []
        for straight, shape, end in zip((run.straights[0], run.straights[-1]), shapes, member.ends, strict=True):
            left = straight.length + to_tip(shape, end.measured)
            if left < 0:
                rule = f"with its tip included, is {self.figures.named(-left)} too short: it ends inside the bend"
                cure = "lengthen the straight, or check what it was measured to"
                faults.append(Fault(straight.place, rule, cure=cure))
        return faults
