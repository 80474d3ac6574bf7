"""The spares of a plan, proved in plain arithmetic: room for them, and a bar to make each mistake good from."""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from cutplan.geometry.model import Blank
from cutplan.job.model import Job
from cutplan.plan.model import Bar, Cut, Plan, TubePlan
from cutplan.plan.verify.survival import bars_in

HAIR = Fraction(1, 10**6)
"""Millimetres that are no difference: decimals of an inch are not exact when read back from a file."""


def said(mm: Fraction, job: Job) -> str:
    return f"{float(mm / job.settings.units.mm):g} {job.settings.units.value}"


def held(rest: Fraction, length: Fraction, kerf: Fraction) -> int:
    """How many blanks of ``length`` a rest holds, the last of them without a kerf."""
    return int((rest + kerf + HAIR) // (length + kerf)) if length > 0 else 0


def room_complaints(plan: Plan, tube: TubePlan) -> Iterator[str]:
    kerf, spares = plan.job.settings.kerf, tube.spares
    mine = [blank for blank in plan.blanks if blank.tube == tube.tube]
    if spares.wanted:
        room = sum(held(bar.usable, spares.length, kerf) for bar in tube.bars)
        if room < spares.wanted:
            yield f"{tube.tube}: {spares.wanted} spares of {said(spares.length, plan.job)} promised, room for {room}"
        for bar in tube.bars:
            if bar.spares > held(bar.usable, spares.length, kerf):
                yield f"bar {bar.name}: {bar.spares} spares promised, but they do not fit"
    if sum(bar.spares for bar in tube.bars) != spares.wanted:
        yield f"{tube.tube}: the spares on its bars are not {spares.wanted}"
    yield from _insured(tube, mine)


def _insured(tube: TubePlan, mine: Sequence[Blank]) -> Iterator[str]:
    spares = tube.spares
    named, left_out = set(spares.insured), set(spares.not_insured)
    marks = Counter([*spares.insured, *spares.not_insured]) - Counter(blank.mark for blank in mine)
    for mark in marks:
        yield f"{mark}: is listed as insured or not, but is no blank of {tube.tube}, or is listed twice"
    for blank in mine:
        covered = spares.wanted > 0 and blank.length <= spares.length + HAIR
        if (blank.mark in named) != covered:
            yield f"{blank.mark}: is said to be {'insured' if not covered else 'not insured'}, but is not"
        if (blank.mark in left_out) == covered:
            yield f"{blank.mark}: is in the wrong list of the spares"


def recovery_complaints(plan: Plan, tube: TubePlan) -> Iterator[str]:
    bars = {bar.name: bar for bar in tube.bars}
    rests = sorted(bar.usable for bar in tube.bars)
    for bar in tube.bars:
        for one in bar.cuts:
            at = bisect_left(rests, one.blank - HAIR)
            if one.if_spoilt is None:
                if at < len(rests):
                    yield f"cut {one.number}: an offcut could replace it, but none is named"
            elif one.if_spoilt.bar not in bars or bars[one.if_spoilt.bar].usable < one.blank - HAIR:
                yield f"cut {one.number}: bar {one.if_spoilt.bar} cannot replace it"
            elif bars[one.if_spoilt.bar].usable > rests[at] + HAIR:
                yield f"cut {one.number}: a shorter offcut than bar {one.if_spoilt.bar}'s would replace it"
            else:
                yield from _following(one, bars, tube.spares.wanted)


def _following(cut: Cut, bars: Mapping[str, Bar], wanted: int) -> Iterator[str]:
    """The bars to turn to must serve, and the words must name those bars, in their order, and no other."""
    assert cut.if_spoilt is not None
    named = (cut.if_spoilt.bar, *cut.if_spoilt.following)
    if len(set(named)) < len(named) or len(named) > max(wanted, 1):
        yield f"cut {cut.number}: a bar is listed twice, or more bars are listed than spares"
    for name in cut.if_spoilt.following:
        if name not in bars or bars[name].usable < cut.blank - HAIR:
            yield f"cut {cut.number}: bar {name} cannot replace it"
    if bars_in(cut.if_spoilt.how) != named:
        yield f"cut {cut.number}: its text, {cut.if_spoilt.how!r}, does not name bar {', then bar '.join(named)}"


def two_mistakes_complaints(plan: Plan, tube: TubePlan) -> Iterator[str]:
    """Any two insured cuts, the same one twice too, must both find room where their recoveries say."""
    if tube.spares.wanted < 2:
        return
    kerf = plan.job.settings.kerf
    usable = {bar.name: bar.usable for bar in tube.bars}
    ways = {
        (cut.blank, (cut.if_spoilt.bar, *cut.if_spoilt.following)): cut.number
        for bar in tube.bars
        for cut in bar.cuts
        if cut.if_spoilt is not None and cut.mark in tube.spares.insured
    }
    longest: dict[str, tuple[Fraction, int]] = {}
    for (one, (named, *_)), number in ways.items():
        longest[named] = max(longest.get(named, (one, number)), (one, number))
    for (other, bars), second in ways.items():
        able = {bar for bar in bars if usable.get(bar, Fraction(0)) >= other}
        # Where two bars could serve, one is left whatever else was spoilt.
        if len(able) < 2:
            (bar,) = able or {""}
            one, number = longest.get(bar, (-kerf, second))
            if usable.get(bar, Fraction(0)) - one - kerf < other:
                yield f"cuts {number} and {second}: if both are spoilt, they need the same offcut"
