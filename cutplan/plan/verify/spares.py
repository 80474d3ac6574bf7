"""The spares of a plan, proved in plain arithmetic: room for them, and a bar to make each mistake good from.

Fitted one at a time: for every cut the new layout after a mistake is added up. Nothing is searched here and nothing is
shared with what made the plan: each mistake carries its layout, and it holds or it does not.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from cutplan.geometry.model import Blank
from cutplan.job.model import Job, Settings, Units
from cutplan.plan.model import SPOILT_PIECE, Bar, Plan, SawCut, TubePlan

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
            promised = f"{spares.wanted} spares of {said(spares.length, plan.job)} promised"
            yield f"{tube.tube}: {promised}, but there is room for {room}"
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
        yield f"{mark}: is listed as insured or not, but is not a blank of {tube.tube}, or is listed twice"
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


def _following(cut: SawCut, bars: Mapping[str, Bar], wanted: int) -> Iterator[str]:
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


def survival_complaints(plan: Plan, tube: TubePlan, goods: Mapping[str, Fraction]) -> Iterator[str]:
    """What is wrong with how ``tube`` survives one mistake at every insured cut.

    ``goods``: by bar name, the tube in mm that blanks may take, from its squared end.
    """
    blanks = {blank.mark: blank for blank in plan.blanks if blank.tube == tube.tube}
    kerf = plan.job.settings.kerf
    cuts = sorted(((cut, bar.name) for bar in tube.bars for cut in bar.cuts), key=lambda pair: pair[0].number)
    rests = dict(goods)
    for bar in tube.bars:
        numbers = [cut.number for cut in bar.cuts]
        if numbers != sorted(numbers):
            yield f"bar {bar.name}: its cuts are not numbered in their order along it"
    for at, (cut, name) in enumerate(cuts):
        rests[name] = goods[name] - cut.end - kerf
        to_cut = Counter(later.mark for later, _ in cuts[at:])
        yield from _mistake(plan.job, cut, rests, to_cut, blanks)
    yield from _said(plan, tube, blanks)


def bars_in(words: str) -> tuple[str, ...]:
    """The bars that ``words`` name, in their order."""
    return tuple(re.findall(r"\bbar (\S+?)(?=[,;]?(?: |$))", words))


def _mistake(
    job: Job, cut: SawCut, rests: Mapping[str, Fraction], to_cut: Counter[str], blanks: Mapping[str, Blank]
) -> Iterator[str]:
    recovery = cut.if_spoilt
    if recovery is None:
        return
    layout = dict(recovery.layout)
    if len(layout) != len(recovery.layout) or layout.keys() - rests.keys() - {SPOILT_PIECE}:
        yield f"cut {cut.number}, if spoilt: a bar is listed twice, or there is no such bar"
        return
    if Counter(mark for marks in layout.values() for mark in marks) != to_cut:
        yield f"cut {cut.number}, if spoilt: the new layout is not what is left to cut plus {cut.mark} once more"
        return
    if cut.mark not in layout.get(recovery.bar, ()) or recovery.bar == SPOILT_PIECE:
        yield f"cut {cut.number}, if spoilt: bar {recovery.bar} is named, but {cut.mark} is not laid on it"
    if bars_in(recovery.how)[:1] != (recovery.bar,):
        yield f"cut {cut.number}, if spoilt: the text, {recovery.how!r}, does not name bar {recovery.bar}"
    for name, marks in layout.items():
        room = _yield_of(blanks[cut.mark], job.settings) if name == SPOILT_PIECE else rests[name]
        needed = sum((blanks[mark].length for mark in marks), Fraction(0)) + job.settings.kerf * (len(marks) - 1)
        if marks and needed > room:
            laid = f"{said(needed, job)} laid on {name}, which gives {said(room, job)}"
            yield f"cut {cut.number}, if spoilt: {laid}"


def _yield_of(blank: Blank, settings: Settings) -> Fraction:
    """What a spoilt blank still yields: nothing if bent; else what salvage leaves (it loses a kerf and a grid step at
    the least), less what the vice must hold and the cut in front of that. An estimated one may have come out least."""
    if blank.bends:
        return Fraction(0)
    step = Fraction(1, 10) if settings.units is Units.MM else Fraction(254, 2560)
    least = blank.length if blank.estimate is None else blank.estimate.least
    left = least - max(settings.salvage, settings.kerf + step)
    return left - settings.saw_hold - settings.kerf if settings.saw_hold > 0 else left


def _said(plan: Plan, tube: TubePlan, blanks: Mapping[str, Blank]) -> Iterator[str]:
    """The spares must name as insured what survives at every cut, and insure all that was to be."""
    spares = tube.spares
    longest = max(one.length for one in (*plan.blanks, *(made.blank for made in plan.made)) if one.tube == tube.tube)
    if not 0 <= spares.length <= longest:
        length = said(spares.length, plan.job)
        yield f"{tube.tube}: mistakes in blanks of up to {length} are said to be covered, but no blank is that long"
    if spares.wanted != 1 or any(bar.spares for bar in tube.bars):
        yield f"{tube.tube}: one mistake at a time is covered, but other spares are promised"
    lost = {cut.mark for bar in tube.bars for cut in bar.cuts if cut.if_spoilt is None}
    for mark, blank in blanks.items():
        if (mark in spares.insured) == (mark in lost):
            yield f"{mark}: is said to be {'insured' if mark in lost else 'not insured'}, but is not"
        if (mark in spares.not_insured) == (mark in spares.insured):
            yield f"{mark}: must be in exactly one list of the spares"
        if blank.insured and blank.length <= spares.length and mark in lost:
            yield f"{mark}: a mistake in it cannot be made good, but it should be insured"
