"""The members as they are to be sawn: each blank, and the parts that its length is made up of."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Annotated

from cutplan.geometry.byhand import runs_on
from cutplan.geometry.inside import Insides
from cutplan.geometry.model import Blank, Part
from cutplan.job.faults import listed
from cutplan.job.model import Job
from cutplan.plan import wording
from cutplan.plan.tables.columns import Count, Flag, Kind, MaybeLength, Text, Worked


@dataclass(frozen=True, slots=True)
class MemberRow:
    """A blank. ``pieces``: wanted of this mark; ``turn`` None: not given; ``setup``: both ends in one line; ``said``:
    all else that should be known of it, for a list; ``aside``: its ± and what to cut off it, for its sum;
    ``parts``: what its length is made up of; ``spread``: the ± of the whole, in mm. An estimated one has no length to
    saw: ``blank`` is None, ``least``, ``likely`` and ``greatest`` are not; ``estimate`` is the range in words, ``room``
    the tube kept for it."""

    mark: Text
    member: Text
    tube: Text
    pieces: Count
    blank: MaybeLength
    end_a: Text
    end_b: Text
    turn: Annotated[float | None, Kind.ANGLE]
    bends: Count
    insured: Flag
    note: Text
    stage: Annotated[int | None, Kind.COUNT]
    least: MaybeLength
    likely: MaybeLength
    greatest: MaybeLength
    estimate: str
    room: Fraction
    section: str
    setup: str
    said: str
    aside: str
    parts: tuple[Part, ...]
    spread: float


@dataclass(frozen=True, slots=True)
class PartRow:
    """A part of a blank: they add up to its length."""

    mark: Text
    part: Text
    length: Worked
    how: Text


@dataclass(frozen=True, slots=True)
class StandingRow:
    """A piece that is made already: it is landed on and measured from, and neither cut nor bought. ``said``: all this
    in a few words, with its note."""

    mark: Text
    member: Text
    tube: Text
    pieces: Count
    note: Text
    section: str
    said: str


def standing_rows(job: Job) -> Iterator[StandingRow]:
    """The members that are made already, a row for each mark."""
    for member in job.members:
        for mark in member.marks if member.made else ():
            said = "; ".join(text for text in ("made already, not cut", member.note) if text)
            section = wording.section(job, member.tube)
            yield StandingRow(mark, member.mark, member.tube, member.count, member.note, section, said)


def member_rows(job: Job, blanks: Iterable[Blank], insides: Mapping[str, Insides]) -> Iterator[MemberRow]:
    """A row a blank. ``insides``: where the insides of the bends are, by mark."""
    units = job.settings.units
    for blank in blanks:
        yield MemberRow(
            blank.mark,
            blank.member,
            blank.tube,
            blank.count,
            None if blank.estimated else blank.length,
            wording.end(blank.end_a, units),
            wording.end(blank.end_b, units),
            blank.turn_deg if blank.turn_known else None,
            len(blank.bends),
            blank.insured,
            blank.note,
            blank.stage or None,
            blank.least if blank.estimated else None,
            blank.likely if blank.estimated else None,
            blank.length if blank.estimated else None,
            wording.estimate(blank, job.settings),
            blank.length,
            wording.section(job, blank.tube),
            wording.setup(blank, units),
            "; ".join(_said(blank, job, insides[blank.mark])),
            "; ".join(_aside(blank, job)),
            blank.parts,
            blank.spread,
        )


def part_rows(members: Iterable[MemberRow]) -> Iterator[PartRow]:
    """The parts of all ``members``."""
    return (PartRow(row.mark, part.what, part.length, part.how) for row in members for part in row.parts)


def assumed(job: Job, blank: Blank) -> Iterator[str]:
    """What is taken of the tubes that a blank lands on, in words."""
    for name, landed in runs_on(job, blank):
        verb = "is" if len(landed) == 1 else "are"
        yield f"End {name}: {listed(landed)} {verb} assumed to run on both ways past this joint."


def _said(blank: Blank, job: Job, insides: Insides) -> Iterator[str]:
    if blank.stage:
        yield f"stage {blank.stage}"
    if blank.estimated:
        yield f"measure first: likely {wording.blank(blank.likely, job.settings)}"
    yield from (text for text in (wording.hints(blank, insides), blank.note) if text)
    for side in "ab":
        if mm := blank.cut_off(side):
            yield f"cut {wording.taped(mm, job.settings)} off end {side} after bending"
    if not blank.insured:
        yield "not insured"


def _aside(blank: Blank, job: Job) -> Iterator[str]:
    if blank.estimated:
        yield f"an estimate: measure first, {wording.estimate(blank, job.settings)}; this is the room kept for it"
    elif blank.spread:
        yield f"± {wording.length(blank.spread, job.settings.units)} from the ± of the measurements"
    for side in "ab":
        if mm := blank.cut_off(side):
            yield f"cut {wording.tape(mm, job.settings)} off end {side} after bending"
