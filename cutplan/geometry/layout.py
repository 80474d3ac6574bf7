"""From a job to its blanks: every member's length with its parts, end shapes and bending marks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from cutplan.geometry import ends
from cutplan.geometry.derivation import end_parts, to_tip
from cutplan.geometry.errors import GeometryError
from cutplan.geometry.figures import Figures
from cutplan.geometry.model import Blank, EndShape, Part
from cutplan.geometry.rounding import round_up
from cutplan.geometry.run import Run, bend_marks, bend_parts, bend_remarks, measured_run
from cutplan.job.faults import Fault, Remark
from cutplan.job.model import Cut, End, Job, Member, Saddle, Settings, Tube


@dataclass(frozen=True, slots=True)
class Layout:
    """Blanks in the order of the job's members (a pair gives two, ``-L`` then ``-R``), with what is wrong and what
    should be known. A member with a fault has no blank."""

    blanks: tuple[Blank, ...]
    faults: tuple[Fault, ...]
    remarks: tuple[Remark, ...]


def lay_out(job: Job) -> Layout:
    """Lay out every member of ``job``. Never raises for a bad job: each fault is returned with its place."""
    figures = Figures(job.settings.units)
    shapes = _simple_shapes(job)
    blanks: list[Blank] = []
    faults: list[Fault] = []
    remarks: list[Remark] = []
    for member in job.members:
        wrong = _onto_faults(member, job)
        try:
            tube = job.tube(member.tube)
        except KeyError:
            wrong.append(Fault(member.place.at("tube"), "is not in the Tubes sheet", member.tube))
        if not wrong:
            made = _Maker(member, tube, job.settings, figures, shapes).make()
            wrong += made.faults
            remarks += made.remarks
            blanks += made.blanks
        faults += wrong
    return Layout(tuple(blanks), tuple(faults), tuple(remarks))


_Key = tuple[float, Saddle]


def _simple_shapes(job: Job) -> dict[_Key, EndShape | GeometryError]:
    """The shapes of all ends coped onto one straight tube, worked out together."""
    ods = {tube.name: float(tube.od) for tube in job.tubes}
    keys = {
        (ods[member.tube], end.saddles[0]): None
        for member in job.members
        for end in (member.end_a, member.end_b)
        if member.tube in ods and _is_simple(end)
    }
    shapes = ends.simple_copes([od for od, _ in keys], [one for _, one in keys])
    return dict(zip(keys, shapes, strict=True))


def _is_simple(end: End) -> bool:
    if end.cut is not Cut.COPE or end.from_points or len(end.saddles) != 1:
        return False
    return end.saddles[0].onto.clr is None


def _onto_faults(member: Member, job: Job) -> list[Fault]:
    """Ends that land on the member itself, on a member that is not there, or on one that lands on it in turn."""
    by_mark = {mark: other for other in job.members for mark in (other.mark, *other.marks)}
    faults = []
    for name, end in (("a", member.end_a), ("b", member.end_b)):
        place = member.place.at(f"onto {name}")
        for one in end.saddles:
            mark = one.onto.member
            if mark is None:
                continue
            if mark not in by_mark:
                faults.append(Fault(place, "is no member's mark", mark))
            elif by_mark[mark] is member:
                faults.append(Fault(place, "a member cannot land on itself", mark))
            elif member.mark in _lands_on(mark, by_mark):
                rule = f"{mark} lands, directly or by others, on {member.mark} itself"
                faults.append(Fault(place, rule, mark, "let one of them run through"))
    return faults


def _lands_on(mark: str, by_mark: Mapping[str, Member]) -> set[str]:
    """Marks of all members that ``mark`` lands on, directly or by others."""
    found: set[str] = set()
    todo = [mark]
    while todo:
        member = by_mark.get(todo.pop())
        if member is None:
            continue
        for one in (*member.end_a.saddles, *member.end_b.saddles):
            other = by_mark.get(one.onto.member) if one.onto.member is not None else None
            if other is not None and other.mark not in found:
                found.add(other.mark)
                todo.append(other.mark)
    return found


@dataclass(frozen=True, slots=True)
class _Made:
    blanks: tuple[Blank, ...] = ()
    faults: tuple[Fault, ...] = ()
    remarks: tuple[Remark, ...] = ()


@dataclass(frozen=True, slots=True)
class _Maker:
    """Lays out one member."""

    member: Member
    tube: Tube
    settings: Settings
    figures: Figures
    shapes: Mapping[_Key, EndShape | GeometryError]

    def make(self) -> _Made:
        member = self.member
        run, faults = measured_run(member, self.tube, self.figures)
        shapes = []
        for name, end in (("a", member.end_a), ("b", member.end_b)):
            try:
                shapes.append(self._shape(end))
            except GeometryError as error:
                faults.append(error.fault(member.place, self.figures, name))
        if faults:
            return _Made(faults=tuple(faults))
        blank, faults = self._blank(run, shapes[0], shapes[1])
        remarks = tuple(bend_remarks(run, self.tube, self.figures))
        if faults:
            return _Made(faults=tuple(faults), remarks=remarks)
        if not member.pair:
            return _Made((blank,), (), remarks)
        left, right = member.marks
        return _Made((replace(blank, mark=left), mirrored(replace(blank, mark=right))), (), remarks)

    def _shape(self, end: End) -> EndShape:
        od = float(self.tube.od)
        if end.cut is Cut.SQUARE:
            return ends.square(od)
        if end.cut is Cut.MITRE:
            return ends.mitre(od, end.angle_deg)
        if _is_simple(end):
            shape = self.shapes[od, end.saddles[0]]
            if isinstance(shape, GeometryError):
                raise shape
            return shape
        return ends.cope(od, end.saddles)

    def _blank(self, run: Run, shape_a: EndShape, shape_b: EndShape) -> tuple[Blank, list[Fault]]:
        member, settings = self.member, self.settings
        at_a = end_parts("a", shape_a, member.end_a, settings, self.figures)
        at_b = end_parts("b", shape_b, member.end_b, settings, self.figures)
        reach_a, reach_b = sum(part.length for part in at_a), sum(part.length for part in at_b)
        parts: list[Part] = []
        for number, straight in enumerate(run.straights, 1):
            parts += straight.parts
            if number <= len(run.turns):
                parts += bend_parts(number, run.turns[number - 1], self.tube, self.figures)
        parts += [*at_a, *at_b]
        faults = self._room_faults(run, shape_a, shape_b)
        grip_a = grip_b = 0.0
        if run.turns:
            grip_a = max(0.0, float(self.tube.grip) - run.straights[0].length - reach_a)
            grip_b = max(0.0, float(self.tube.grip) - run.straights[-1].length - reach_b)
            for name, extra in (("a", grip_a), ("b", grip_b)):
                if extra:
                    what = f"end {name}: more for the bender to grip, cut off after bending"
                    parts.append(Part(what, extra))
        net = sum(part.length for part in parts)
        length = round_up(net, settings.step)
        if length <= 0 and not faults:
            column = member.place.at("length") if not member.bends else member.place
            faults.append(
                Fault(column, f"leaves a blank of {self.figures.named(net)}", cure="check what it was measured to")
            )
        parts.append(Part(f"rounded up to the next {self.figures.named(settings.step)}", float(length) - net))
        first = run.straights[0].length + reach_a + grip_a
        blank = Blank(
            member.mark,
            member.mark,
            member.tube,
            member.count,
            length,
            tuple(parts),
            shape_a,
            shape_b,
            member.turn_deg,
            member.insured,
            bend_marks(run, self.tube, first, float(settings.die_mark)) if run.turns else (),
            grip_a,
            grip_b,
            sum(part.spread for part in parts),
            member.note,
            member.place,
        )
        return blank, faults

    def _room_faults(self, run: Run, shape_a: EndShape, shape_b: EndShape) -> list[Fault]:
        """An end's tip must lie on the straight it ends, not in the bend beyond it."""
        if not run.turns:
            return []
        faults = []
        member = self.member
        for straight, shape, end in (
            (run.straights[0], shape_a, member.end_a),
            (run.straights[-1], shape_b, member.end_b),
        ):
            left = straight.length + to_tip(shape, end.measured)
            if left < 0:
                rule = f"ends {self.figures.named(-left)} inside the bend, tip and all"
                faults.append(
                    Fault(straight.place, rule, cure="a longer straight, or it was measured to another point")
                )
        return faults


# Below, 0.0 - x rather than -x: it leaves no negative zero on a sheet.


def mirrored(blank: Blank) -> Blank:
    """The other hand of ``blank``: the same length, with every turn, offset and rotation the other way round."""
    return replace(
        blank,
        end_a=_mirrored_end(blank.end_a),
        end_b=_mirrored_end(blank.end_b),
        turn_deg=0.0 - blank.turn_deg,
        bends=tuple(replace(mark, rotation_deg=0.0 - mark.rotation_deg) for mark in blank.bends),
    )


def _mirrored_end(shape: EndShape) -> EndShape:
    return replace(
        shape,
        saddles=tuple(
            replace(
                one,
                offset=-one.offset,
                turn_deg=0.0 - one.turn_deg,
                onto=replace(one.onto, side_deg=0.0 - one.onto.side_deg),
            )
            for one in shape.saddles
        ),
        tip_turn_deg=-shape.tip_turn_deg % 360.0,
        throat_turn_deg=-shape.throat_turn_deg % 360.0,
    )
