"""Every cut in the order of sawing, and every blank that was cut before this plan was made."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby
from typing import Annotated

from cutplan.geometry.inside import Insides
from cutplan.geometry.model import EndShape
from cutplan.job.model import Cut, Settings, Units
from cutplan.job.stages import stages_of
from cutplan.plan import wording
from cutplan.plan.model import Bar, Made, Plan, Recovery, SawCut
from cutplan.plan.tables.columns import Count, Kind, Length, MaybeLength, Text
from cutplan.plan.tables.early import sawn_later


@dataclass(frozen=True, slots=True)
class SawRow:
    """A cut. ``start``, ``end``: of the blank, from the bar's squared end; ``first_end``: the end that is nearer it;
    ``left``: of the bar after the cut; ``if_spoilt``: where its replacement would come from (None: nowhere).
    ``note``: what its ends do not show and what it lands on that is sawn later (``hints``), and the member's own note.
    ``stage``: the round of building (None: the job is not built in stages). ``short_ends``: both ends in few words;
    ``mitres``: whether each is a mitre; ``one_with``: the number of the cut that the mitre of end a, and of end b, is
    one with (None: of no other).

    An estimated blank has no length to saw: ``blank`` and ``left`` are None, and ``measure_first`` says what it may
    come out as; ``left`` is None, too, for the cuts after it on its bar. ``room``, ``at_least``: what is kept for it,
    and what is left of the bar at the least."""

    cut: Count
    bar: Text
    tube: Text
    mark: Text
    blank: MaybeLength
    end_a: Text
    end_b: Text
    left: MaybeLength
    if_spoilt: Annotated[str | None, Kind.TEXT]
    note: Text
    start: Length
    first_end: Text
    measure_first: Text
    room: Fraction
    at_least: Fraction
    end: Fraction
    stage: Annotated[int | None, Kind.COUNT]
    recovery: Recovery | None
    shared: bool
    flipped: bool
    hints: str
    short_ends: tuple[str, str]
    mitres: tuple[bool, bool]
    one_with: tuple[int | None, int | None]


@dataclass(frozen=True, slots=True)
class MadeRow:
    """A blank cut before this plan was made, by the number it can still be ticked under. ``blank``: how long it is;
    ``see``: what is still to be done to it, and what its ends do not show."""

    cut: Count
    mark: Text
    blank: Length
    end_a: Text
    end_b: Text
    see: str
    fitted: bool


@dataclass(frozen=True, slots=True)
class StageRow:
    """A round of building: which blanks are cut in it, and ``measure``: what is estimated, and so to be measured
    before that, against what. ``title``: in a line, with what the others land on."""

    stage: Count
    first_cut: Count
    last_cut: Count
    marks: Text
    measure: Text
    title: str


def stage_rows(plan: Plan) -> Iterator[StageRow]:
    """The stages that something is still to be cut in; none where the job is not built in stages."""
    blanks = plan.by_mark()
    cuts = sorted((cut.number, cut.mark) for cut in plan.cuts)
    staged = [(number, blanks[mark]) for number, mark in cuts if blanks[mark].stage]
    stages = stages_of(plan.job.members) if staged else {}
    standing = {
        mark: stages.get(member.mark, 0) for member in plan.job.members for mark in (member.mark, *member.marks)
    }
    for stage, group in groupby(staged, key=lambda cut: cut[1].stage):
        numbered = list(group)
        mine = list(dict.fromkeys(blank.mark for _, blank in numbered))
        there = {mark for mark, of in standing.items() if of < stage}
        here = [blank for blank in plan.blanks if blank.mark in mine]
        measure = wording.measured_now([blank for blank in here if blank.estimated], there)
        # What is known already only has to fit.
        onto = wording.measured_now([blank for blank in here if not blank.estimated], there, "onto")
        says = "; ".join(text for text in (f"first measure {measure}" if measure else "", onto) if text)
        title = f"Stage {stage}: {says}" if says else f"Stage {stage}"
        yield StageRow(stage, numbered[0][0], numbered[-1][0], ", ".join(mine), measure, f"{title}.")


def saw_rows(plan: Plan, insides: Mapping[str, Insides]) -> Iterator[SawRow]:
    """The cuts in the order of sawing. ``insides``: where the insides of the bends are, by mark."""
    blanks, units = plan.by_mark(), plan.job.settings.units
    pairs = ((cut, bar) for bar in plan.bars for cut in bar.cuts)
    guessed: set[str] = set()
    for cut, bar in sorted(pairs, key=lambda pair: pair[0].number):
        blank = blanks[cut.mark]
        if blank.estimated:
            guessed.add(bar.name)
        said = wording.hints(blank, insides[cut.mark]), sawn_later(plan, cut)
        hints = "; ".join(text for text in said if text)
        shapes, one_with = (blank.end_a, blank.end_b), _one_with(cut, bar)
        end_a, end_b = _ends([wording.end(shape, units) for shape in shapes], one_with)
        yield SawRow(
            cut.number,
            bar.name,
            bar.tube,
            cut.mark,
            None if blank.estimated else cut.blank,
            end_a,
            end_b,
            None if bar.name in guessed else cut.left,
            cut.if_spoilt.how if cut.if_spoilt else None,
            "; ".join(text for text in (hints, blank.note) if text),
            cut.start,
            "b" if cut.flipped else "a",
            wording.estimate(blank, plan.job.settings),
            cut.blank,
            cut.left,
            cut.end,
            blank.stage or None,
            cut.if_spoilt,
            cut.shared,
            cut.flipped,
            hints,
            _ends([_in_short(shape, units) for shape in shapes], one_with),
            (blank.end_a.cut is Cut.MITRE, blank.end_b.cut is Cut.MITRE),
            one_with,
        )


def _one_with(cut: SawCut, bar: Bar) -> tuple[int | None, int | None]:
    """The cuts of ``bar`` that the mitres of a blank, at end a and at end b, are one with."""
    before = cut.number - 1 if cut.shared else None
    after = next((other.number for other in bar.cuts if other.shared and other.number == cut.number + 1), None)
    return (after, before) if cut.flipped else (before, after)


def _ends(texts: Sequence[str], one_with: Sequence[int | None]) -> tuple[str, str]:
    """Both ends in words, each with the cut whose mitre it shares."""
    a, b = (
        text if other is None else f"{text}, one cut with {other}" for text, other in zip(texts, one_with, strict=True)
    )
    return a, b


def _in_short(shape: EndShape, units: Units) -> str:
    """What the saw has to know of an end: of a cope, which is shaped later, only what it is onto."""
    if not shape.saddles:
        return wording.end(shape, units)
    more = f" + {len(shape.saddles) - 1} more" if len(shape.saddles) > 1 else ""
    return f"cope onto {wording.onto(shape.saddles[0].onto, units)}{more}"


def left_by_saw(row: SawRow, square: Collection[str]) -> tuple[str, str]:
    """Both ends in few words, as the saw leaves them. ``square``: the mitred ends that are sawn square for now."""
    end_a, end_b = (
        f"square now, {text} later" if name in square else text for name, text in zip("ab", row.short_ends, strict=True)
    )
    return end_a, end_b


def after_mitres(rows: Sequence[SawRow], square: Mapping[str, Collection[str]]) -> str:
    """Which side of the bar is taped after the mitres among its ``rows``, ready to follow a sentence. What one cut
    frees begins at its long point; else what is left, and the next blank, are counted from the bar's short side.
    ``square``: the mitred ends that are sawn square for now, by mark."""
    far = [(row, "ba".index(row.first_end)) for row in rows[:-1]]
    mitred = [(row, at) for row, at in far if row.mitres[at] and "ab"[at] not in square.get(row.mark, ())]
    shared = [row.one_with[at] is not None for row, at in mitred]
    said = ""
    if not all(shared):
        said += " After a mitre, tape and start from the bar's short side."
    if any(shared):
        said += " After one cut for two, tape the bar's long side."
    return said


def made_rows(plan: Plan, insides: Mapping[str, Insides]) -> Iterator[MadeRow]:
    """What is cut already."""
    units = plan.job.settings.units
    for made in plan.made:
        blank = made.blank
        ends = wording.end(blank.end_a, units), wording.end(blank.end_b, units)
        says = (made.to_do, _fitted_otherwise(made, plan.job.settings), wording.hints(blank, insides[blank.mark]))
        see = "; ".join(text for text in says if text)
        yield MadeRow(made.number, blank.mark, made.length, *ends, see, made.fitted)


def _fitted_otherwise(made: Made, settings: Settings) -> str:
    """Of a piece that was fitted before the job changed, what the job gives now; empty for any other."""
    if not made.fitted or made.sawn is None:
        return ""
    return f"fitted as it was cut; the job now gives {wording.blank(made.blank.length, settings)}"
