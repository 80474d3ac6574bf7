"""Nodes worked out from tape distances: a job whose nodes have places, and what the readings say of themselves.

The adjustment is :mod:`cutplan.survey`'s. Here its nodes and readings become a job's again: every ± of a node becomes
that of the members between nodes; what is not fixed, not certain or out becomes a fault or a remark in the job's words.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from cutplan.geometry.nodes import settled
from cutplan.job import read
from cutplan.job.faults import Fault, JobError, Place, Remark, listed
from cutplan.job.frame import Coordinate, GivenNode, Survey
from cutplan.job.model import Job, Node
from cutplan.job.read import BESIDE_NODES
from cutplan.job.tables import squash
from cutplan.plan.length_doubt import with_doubt
from cutplan.plan.moved_doubt import Doubts, moved_doubts

if TYPE_CHECKING:
    from cutplan.survey import Adjustment, Advice, Astray, Either, Known, Reading, Slip
    from cutplan.survey import Node as SurveyNode

_EXACT = 10**6
_LISTED = 4
_WORST = 5.0
"""How many times worse than their ± readings may agree. Beyond that some are wrong, or the ± is: common practice, no
source."""
_AXES = ("x", "y", "z")


@dataclass(frozen=True, slots=True)
class Located:
    """A job with its nodes in place. ``found``: how they were worked out (None: they were simply given)."""

    job: Job
    faults: tuple[Fault, ...] = ()
    remarks: tuple[Remark, ...] = ()
    found: Adjustment | None = None


def located(job: Job) -> Located:
    """``job`` with the places of its nodes worked out from its distances; the same job where it has none."""
    if job.survey is None or not job.survey.nodes:
        return Located(job)
    from cutplan.survey import Distance, SurveyError, adjust

    survey, mirror = job.survey, job.settings.mirror
    distances = [
        Distance(each.start, each.end, float(each.length), float(each.tolerance), each.across)
        for each in survey.readings
    ]
    plane = None if mirror is None else (mirror.axis.number, float(mirror.at))
    try:
        found = adjust([_node(each, job) for each in survey.nodes], distances, plane)
    except SurveyError as error:
        return Located(job, (Fault(Place("Distances"), error.rule, error.got, error.cure),))
    report = Report(job, survey, found)
    faults = tuple(report.faults())
    if faults:
        return Located(job, faults, tuple(report.remarks()), found)
    nodes = tuple(_placed(job, found))
    members = tuple(with_doubt(member, found, job) for member in job.members)
    made = replace(job, nodes=nodes, members=members, survey=None)
    return Located(made, (), tuple(report.remarks()), found)


def _node(given: GivenNode, job: Job) -> SurveyNode:
    """A node as the survey takes it."""
    from cutplan.survey import Node as SurveyNode
    from cutplan.survey import Side

    assert job.survey is not None
    names = {squash(each.name): each.name for each in job.survey.nodes}
    names |= {f"{key}-l": name for key, name in names.items()}
    known: list[Known | None] = []
    about: list[float | None] = []
    sides = []
    for axis, each in enumerate(given.xyz):
        known.append(_known(each, axis, job))
        about.append(None if each.about is None else float(each.about))
        if each.than is not None:
            than = names.get(squash(each.than), each.than) if isinstance(each.than, str) else float(each.than)
            sides.append(Side(axis, each.more, than))
    return SurveyNode(given.name, (known[0], known[1], known[2]), (about[0], about[1], about[2]), tuple(sides))


def _known(each: Coordinate, axis: int, job: Job) -> Known | None:
    from cutplan.survey import Known

    if each.value is None:
        return None
    mirror = job.settings.mirror
    if mirror is not None and mirror.axis.number == axis and abs(each.value - mirror.at) <= job.settings.meet_within:
        return Known(float(mirror.at))
    return Known(float(each.value), float(each.tolerance))


def _placed(job: Job, found: Adjustment) -> Iterator[Node]:
    mirror = job.settings.mirror
    for node in job.nodes:
        xyz = [Fraction(round(value * _EXACT), _EXACT) for value in found.place(node.base).xyz]
        if mirror is not None and node.is_image:
            xyz[mirror.axis.number] = 2 * mirror.at - xyz[mirror.axis.number]
        yield replace(node, x=xyz[0], y=xyz[1], z=xyz[2])


def _beyond_nought(one: Astray) -> bool:
    """Whether a rough place has the other sign: the wrong one, or the frame is its mirror image."""
    return one.about * one.here < 0.0


@dataclass(frozen=True, slots=True)
class Report:
    """What an adjustment says, in the words and at the places of its job."""

    job: Job
    survey: Survey
    found: Adjustment

    def length(self, mm: float) -> str:
        """To a tenth of a millimetre, or three decimals of an inch, without a unit."""
        units = self.job.settings.units
        return f"{mm:.1f}".rstrip("0").rstrip(".") if units.mm == 1 else f"{mm / float(units.mm):.3f}"

    def where(self, name: str) -> Place:
        """The row of a node."""
        return next(each.place for each in self.survey.nodes if each.name == name)

    def faults(self) -> Iterator[Fault]:
        """What must be measured or said before the nodes have a place."""
        loose = self.found.loose
        if loose:
            advice = [self.advised(each) for each in self.found.advice[:3]]
            cure = f"measure {' or '.join(advice)}" if advice else "measure more distances to it"
            several = f"{len(loose)} nodes are" if len(loose) > 1 else "is"
            names = ", ".join(loose[:8]) + (" ..." if len(loose) > 8 else "")
            rule = f"{several} not fixed yet by what was measured{f': {names}' if len(loose) > 1 else ''}"
            yield Fault(self.where(loose[0]), rule, None if len(loose) > 1 else loose[0], cure)
        if self.found.signs:
            # Its other sign was taken for the rest, and with that nothing else is wrong.
            yield self._wrong_sign()
            return
        wrong = list(self._wrong_coordinates())
        yield from wrong
        if self._useless() and not wrong:
            again = [self.named(self.found.readings[k]) for slip in self.found.slips for k in slip.suspects]
            cure = f"measure again {', '.join(again[:_LISTED])}" if again else "measure more distances"
            rule = f"{self._worse()}, about {self.found.widened:.0f} times as much"
            yield Fault(Place("Distances"), rule, None, f"{cure}; or give the tape's accuracy under tape on Job")
        if not self.found.unmet:
            yield from map(self._either, self.found.either)
        for name, side in self.found.unmet:
            axis = _AXES[side.axis]
            than = side.than if isinstance(side.than, str) else self.length(side.than)
            here = self.length(self.found.place(name).xyz[side.axis])
            rule = f"the distances, with what is written of the other nodes, put {name} at {axis} {here}"
            cure = "check its sign, what is written of the others, and its distances"
            yield Fault(self.where(name).at(axis), rule, f"{'>' if side.more else '<'} {than}", cure)
        for one in filter(_beyond_nought, self.found.astray):
            yield Fault(*self._astray(one))

    def _either(self, either: Either) -> Fault:
        """Two places that fit alike, and what to write for each."""
        axis, mirror = _AXES[either.axis], self.job.settings.mirror
        low, high = sorted((either.here, either.there))
        middle = self.length((low + high) / 2.0)
        rule = f"fits the distances equally well at {axis} {self.length(low)} and at {axis} {self.length(high)}"
        which = "say which"
        if others := [name for name in either.nodes if name != either.name]:
            rule += f"; {listed(others)} change{'s' if len(others) == 1 else ''} sides with it"
            which += f", of {either.name} alone"
        if mirror is not None and either.axis == mirror.axis.number and abs(low + high - 2.0 * float(mirror.at)) < 1.0:
            which = f"say which half you measured, by {either.name} alone"
        if either.two_sides:
            cure = f"{which}: under {axis} write < {middle} for the first, > {middle} for the second"
        else:
            cure = f"{which}: under {axis} write about {self.length(low)}, or about {self.length(high)}"
        return Fault(self.where(either.name).at(axis), rule, either.name, cure)

    def _astray(self, one: Astray) -> tuple[Place, str, str, str]:
        """A rough place that was written, and where the node is."""
        axis = _AXES[one.axis]
        rule = (
            f"the distances, with what is written of the other nodes, put {one.name} at {axis} {self.length(one.here)}"
        )
        cure = "check its sign, what is written of the others, and its distances"
        return self.where(one.name).at(axis), rule, f"about {self.length(one.about)}", cure

    def _wrong_sign(self) -> Fault:
        """The coordinate that has it, or several of which one has."""
        first, *others = self.found.signs
        place = self.where(first.name).at(_AXES[first.axis])
        other = self.length(-first.value)
        agree = "all readings agree" if not self.found.slips else "all readings but one agree"
        if not others:
            rule = f"{agree} with its other sign, {other}, and do not with this"
            return Fault(place, rule, self.length(first.value), f"write {other}, or leave it empty")
        each = [f"{_AXES[one.axis]} of {one.name} {self.length(one.value)}" for one in self.found.signs]
        rule = f"{agree} if one of these has the other sign, and do not as it is: {listed(each)}"
        return Fault(place, rule, None, "correct the one that is on the other side")

    def remarks(self) -> Iterator[Remark]:
        """What the readings say of each other."""
        count = len(self.survey.readings)
        for slip in self.found.slips:
            if not self._typed(slip):
                yield Remark(self.place(slip.suspects[0]), self._slip(slip))
        if not self.found.agrees and not self._useless():
            text = f"{self._worse()}: every ± is taken {self.found.widened:.1f} times as large"
            yield Remark(Place("Distances"), text)
        if count and self.found.spare_readings == 0:
            text = "there are no more readings than needed, so a slip of the tape would not be noticed"
            yield Remark(Place("Distances"), text)
        if self.found.weak:
            each = [f"{one.name} (± {self.length(one.doubt)} in {_AXES[one.axis]})" for one in self.found.weak]
            text = f"poorly fixed by what was measured: {listed(each)}"
            if better := [self.advised(one) for one in self.found.better]:
                text += f"; to fix {'it' if len(each) == 1 else 'them'} better, measure also {listed(better)}"
            yield Remark(self.where(self.found.weak[0].name), text)
        for one in self.found.astray:
            if not _beyond_nought(one):
                place, rule, got, _ = self._astray(one)
                yield Remark(place, f"{got} was written, but {rule}")
        if self.found.chosen:
            names = ", ".join(dict.fromkeys(name for name, _ in self.found.chosen))
            text = f"no place was given for the frame as a whole, so {names} were put at convenient coordinates"
            yield Remark(Place("Nodes"), text)

    def _slip(self, slip: Slip) -> str:
        """A reading to be measured again, or several of which one must be."""
        readings = [self.found.readings[k] for k in slip.suspects]
        first = readings[0]
        if not slip.alone and len(readings) > 1:
            names = [self.named(one) for one in readings[:_LISTED]] + (["..."] if len(readings) > _LISTED else [])
            return f"one of these is out, and the others cannot tell which; measure them again: {'; '.join(names)}"
        text = f"measure {self.named(first)} again: {self.contradicted(first)}"
        if not slip.alone:
            return f"{text}; it may be out, and was kept"
        text = f"{text}; it was left out"
        for one in (self.found.readings[k] for k in slip.also[:_LISTED]):
            text += f", or {self.named(one)}, typed as {self.length(one.value)}, is wrong ({self._others(one)} then)"
        return text

    def contradicted(self, reading: Reading) -> str:
        """What the others make of a reading."""
        if reading.others is None:
            return "the others cannot tell what it should be"
        if self.length(reading.others_doubt or 0.0) == self.length(0.0):
            return f"by the coordinates given it is {self.length(reading.others)}, not {self.length(reading.value)}"
        return f"the others make it {self._others(reading)}, not {self.length(reading.value)}"

    def _others(self, reading: Reading) -> str:
        """What all other readings make of one, with its ±."""
        doubt = self.length(reading.others_doubt or 0.0)
        return self.length(reading.others or 0.0) + ("" if doubt == self.length(0.0) else f" ± {doubt}")

    def _typed(self, slip: Slip) -> bool:
        """Whether what is out is a coordinate in Nodes, and no reading."""
        return all(self.found.readings[k].typed for k in slip.suspects)

    def _wrong_coordinates(self) -> Iterator[Fault]:
        """Coordinates given as exact that the readings contradict: measuring again cannot cure them."""
        for slip in filter(self._typed, self.found.slips):
            # A person who types 0 seldom means anything else.
            suspects = sorted(slip.suspects, key=lambda k: self.found.readings[k].value == 0.0)
            readings = [self.found.readings[k] for k in suspects]
            place, got = self.place(suspects[0]), self.length(readings[0].value)
            if len(readings) == 1:
                rule = f"the readings make it {self._others(readings[0])}"
                yield Fault(place, rule, got, "correct it, or leave it empty: the readings then give it")
                continue
            each = [f"{self.named(one)} {self.length(one.value)} ({self._others(one)})" for one in readings[:_LISTED]]
            rule = f"one of these does not fit the readings (in brackets what would): {', '.join(each)}"
            yield Fault(place, rule, None, "correct that one, or leave it empty")

    def _useless(self) -> bool:
        """Whether the readings agree so badly that lengths from them would be no use."""
        return not self.found.agrees and self.found.widened > _WORST

    def _worse(self) -> str:
        return "the readings disagree by more than their ± allows"

    def named(self, reading: Reading) -> str:
        """A reading by its nodes."""
        if reading.axis is not None:
            return f"{_AXES[reading.axis]} of {reading.start}"
        return f"{reading.start} to {reading.end}{'-R' if reading.across else ''}"

    def advised(self, one: Advice) -> str:
        """A further reading."""
        if one.axis is not None:
            return f"{_AXES[one.axis]} of {one.start}"
        return f"{one.start} to {one.end}{'-R' if one.across else ''}"

    def place(self, number: int) -> Place:
        """Where a reading of the adjustment was written: the distances come first, in their order."""
        reading = self.found.readings[number]
        if reading.axis is None:
            taped = [k for k, each in enumerate(self.found.readings) if each.axis is None]
            return self.survey.readings[taped.index(number)].place.at("distance")
        return self.where(reading.start).at(_AXES[reading.axis])


@dataclass(frozen=True, slots=True)
class Surveyed:
    """A job's nodes as far as they are known. ``read``: the job as it was read; ``job``: with its nodes in place, where
    that was possible; ``unfinished``: whether the rest of the job has faults."""

    read: Job
    job: Job
    located: Located
    faults: tuple[Fault, ...]
    remarks: tuple[Remark, ...]
    unfinished: bool = False
    moved: Mapping[str, Doubts] = field(default_factory=dict)
    """By node of a survey that was moved onto a tube, of two sides the one that was measured: its ± there."""


def surveyed(path: Path) -> Surveyed:
    """The nodes of the job at ``path``, of which no other sheet need be there yet. Raises JobError where its tables
    cannot be read at all, or those of the nodes have faults."""
    reading = read(path, nodes_only=True)
    beside = [fault for fault in reading.faults if fault.place.sheet in BESIDE_NODES]
    if reading.job is None or len(beside) < len(reading.faults):
        raise JobError(reading.faults)
    here = located(reading.job)
    if here.faults:
        return Surveyed(reading.job, reading.job, here, here.faults, here.remarks, bool(beside))
    if beside:
        # What meets at a node is not known before every member is.
        return Surveyed(reading.job, here.job, here, (), here.remarks, bool(beside))
    found = settled(here.job)
    moved = {} if here.found is None else moved_doubts(here.job, found.job, found.moved, here.found)
    return Surveyed(reading.job, found.job, here, found.faults, (*here.remarks, *found.remarks), moved=moved)
