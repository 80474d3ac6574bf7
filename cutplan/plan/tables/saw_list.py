"""Every cut in the order of sawing, and every blank that was cut before this plan was made."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby
from typing import Annotated

from cutplan.geometry.inside import Insides
from cutplan.job.stages import stages_of
from cutplan.plan import wording
from cutplan.plan.model import Plan, Recovery
from cutplan.plan.tables.columns import Count, Kind, Length, Text

_Maybe = Annotated[Fraction | None, Kind.LENGTH]


@dataclass(frozen=True, slots=True)
class SawRow:
    """A cut. ``start``, ``end``: of the blank, from the bar's squared end; ``first_end``: the end that lies nearer it;
    ``left``: of the bar after the cut; ``if_spoilt``: where its replacement would come from (None: nowhere).
    ``note``: what its ends do not show (``hints``), and the member's own note. ``stage``: the round of building (None:
    the job is not built in stages). ``short_ends``: both ends in few words.

    An estimated blank has no length to saw: ``blank`` and ``left`` are None, and ``measure_first`` says what it may
    come out as; ``left`` is None, too, for the cuts after it on its bar. ``room``, ``at_least``: what is kept for it,
    and what is left of the bar at the least."""

    cut: Count
    bar: Text
    tube: Text
    mark: Text
    blank: _Maybe
    end_a: Text
    end_b: Text
    left: _Maybe
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
    cuts = sorted((cut.number, cut.mark) for tube in plan.tubes for bar in tube.bars for cut in bar.cuts)
    staged = [(number, blanks[mark]) for number, mark in cuts if blanks[mark].stage]
    stages = stages_of(plan.job.members) if staged else {}
    standing = {
        mark: stages.get(member.mark, 0) for member in plan.job.members for mark in (member.mark, *member.marks)
    }
    for stage, group in groupby(staged, key=lambda cut: cut[1].stage):
        numbered = list(group)
        mine = list(dict.fromkeys(blank.mark for _, blank in numbered))
        stand = {mark for mark, of in standing.items() if of < stage}
        here = [blank for blank in plan.blanks if blank.mark in mine]
        measure = wording.measured_now([blank for blank in here if blank.estimated], stand)
        # What is known already only has to fit.
        onto = wording.measured_now([blank for blank in here if not blank.estimated], stand, "onto")
        says = "; ".join(text for text in (f"first measure {measure}" if measure else "", onto) if text)
        title = f"Stage {stage}: {says}" if says else f"Stage {stage}"
        yield StageRow(stage, numbered[0][0], numbered[-1][0], ", ".join(mine), measure, f"{title}.")


def saw_rows(plan: Plan, lie: Mapping[str, Insides]) -> Iterator[SawRow]:
    """The cuts in the order of sawing. ``lie``: how the ends of a blank lie to its bends, by mark."""
    blanks = plan.by_mark()
    pairs = ((cut, bar) for tube in plan.tubes for bar in tube.bars for cut in bar.cuts)
    guessed: set[str] = set()
    for cut, bar in sorted(pairs, key=lambda pair: pair[0].number):
        blank = blanks[cut.mark]
        if blank.estimated:
            guessed.add(bar.name)
        hints = wording.hints(blank, lie[cut.mark])
        end_a, end_b = wording.ends(cut, bar, blank, plan.job.settings.units)
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
            wording.ends(cut, bar, blank, plan.job.settings.units, short=True),
        )


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
    ends = [left_by_saw(row, square.get(row.mark, ()))["ba".index(row.first_end)] for row in rows[:-1]]
    mitres = [text for text in ends if text.startswith("mitre")]
    said = []
    if any("one cut with" not in text for text in mitres):
        said.append("After a mitre, tape and start from the bar's short side.")
    if any("one cut with" in text for text in mitres):
        said.append("After one cut for two, tape the bar's long side.")
    return "".join(f" {text}" for text in said)


def made_rows(plan: Plan, lie: Mapping[str, Insides]) -> Iterator[MadeRow]:
    """What is cut already."""
    units = plan.job.settings.units
    for made in plan.made:
        blank = made.blank
        ends = wording.end(blank.end_a, units), wording.end(blank.end_b, units)
        says = (made.to_do, wording.fitted_otherwise(made, plan.job.settings), wording.hints(blank, lie[blank.mark]))
        see = "; ".join(text for text in says if text)
        yield MadeRow(made.number, blank.mark, made.long, *ends, see, made.fitted)
