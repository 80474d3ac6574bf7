"""What to buy, bar by bar what it is used for, and what is left of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from typing import Annotated

from cutplan.geometry.model import Blank
from cutplan.job.model import Fitted, Job, Settings, Source
from cutplan.plan import wording
from cutplan.plan.model import Bar, Plan, Purchase, TubePlan
from cutplan.plan.tables.columns import Count, Flag, Kind, Length, Money, Text


@dataclass(frozen=True, slots=True)
class BuyRow:
    """A line of the buy list. ``price``, ``cost`` None: no price was given. ``bar_mass``: kg, or lb in an inch job.
    ``cut_into``: what the shop cuts each bar into, in words; ``parts``: the same, each length."""

    tube: Text
    length: Length
    bars: Count
    price: Money
    cost: Money
    section: str
    bar_mass: float
    shop: Text
    cut_into: Text
    parts: tuple[Fraction, ...]


class StretchKind(Enum):
    """What a stretch of bar is. ``DOUBT``: what an estimated blank may take beyond its least. ``LOST``: at the far end,
    end trim and what the vice must hold."""

    TRIM = "trim"
    BLANK = "blank"
    DOUBT = "doubt"
    SPARE = "spare"
    OFFCUT = "offcut"
    LOST = "lost"


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of a bar in mm from its uncut end. ``text``: the mark, for a blank; ``cut``: its number; ``last``:
    that of the last cut, where several small blanks are drawn as one stretch. ``sawn``: it ends in a saw cut."""

    kind: StretchKind
    start: Fraction
    end: Fraction
    text: str = ""
    cut: int = 0
    last: int = 0
    sawn: bool = False

    @property
    def length(self) -> Fraction:
        """Its length in mm."""
        return self.end - self.start


@dataclass(frozen=True, slots=True)
class CutRun:
    """Cuts of one mark that follow one another on a bar: the first and the last number, each ``blank`` long, in words
    (``estimated``: what it may come out as)."""

    first: int
    last: int
    mark: str
    blank: str
    estimated: bool


@dataclass(frozen=True, slots=True)
class BarRow:
    """A bar. ``left``: what is left after its last cut. ``origin``: where from, in a word: to be bought, bought for
    this job before, or from the rack; ``title``: name, tube, length and origin; ``square``: what the saw list says of
    its sawn end, ``back``: what it says when it comes to the bar again; ``stretches``: the bar from end to end;
    ``rest``: what is left, in words, which is the least where an estimate is cut from it. ``cut_from``, ``parts``: of a
    part, how long the bar is that the shop cuts, and the names of all its parts."""

    bar: Text
    tube: Text
    source: Annotated[str, Kind.TEXT, "from"]
    label: Text
    length: Length
    price: Money
    cuts: Count
    spares: Count
    left: Length
    title: str
    square: str
    back: str
    use: str
    stretches: tuple[Stretch, ...]
    runs: tuple[CutRun, ...]
    rest: str
    shop: str
    origin: str
    cut_from: Fraction | None
    parts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OffcutRow:
    """What is left of a bar after its last cut, how much of it can still be cut, and what ``then`` becomes of it."""

    bar: Text
    tube: Text
    label: Text
    left: Length
    usable: Length
    spares: Count
    worth_keeping: Flag
    then: Text


def buy_rows(job: Job, lines: Iterable[Purchase]) -> Iterator[BuyRow]:
    """The buy list."""
    for line in lines:
        yield BuyRow(
            line.tube,
            line.length,
            line.count,
            line.price,
            line.cost,
            wording.ordered(job, line.tube),
            wording.mass(job, line.tube, line.length),
            line.shop,
            wording.cut_into(line.parts, job.settings),
            line.parts,
        )


def bar_rows(plan: Plan) -> Iterator[BarRow]:
    """The bars, tube by tube."""
    settings, blanks = plan.job.settings, plan.by_mark()
    for tube in plan.tubes:
        for bar in tube.bars:
            title = wording.bar_title(bar, settings)
            numbers = [cut.number for cut in bar.cuts]
            yield BarRow(
                bar.name,
                bar.tube,
                bar.source.value,
                bar.label,
                bar.length,
                bar.price,
                len(bar.cuts),
                bar.spares,
                bar.offcut,
                title,
                f"{title}. {wording.squared(bar, settings)}",
                f"Bar {bar.name} again. Measure from its sawn end.",
                _use(bar, numbers, settings),
                tuple(_stretches(bar, blanks, tube.spares.length, settings.kerf)),
                tuple(_runs(bar, blanks, settings)),
                _rest(bar, blanks, settings),
                bar.shop,
                "bought" if bar.bought else bar.source.value,
                bar.cut_from,
                bar.parts,
            )


def _use(bar: Bar, numbers: Sequence[int], settings: Settings) -> str:
    said = f"for {wording.cuts_among(numbers)}" if numbers else "kept whole, just in case"
    return said if bar.cut_from is None else f"{said}; part of {wording.measured(bar.cut_from, settings)}"


def _rest(bar: Bar, blanks: Mapping[str, Blank], settings: Settings) -> str:
    rest = f"{wording.found(bar.offcut, settings.units)} {settings.units.value}"
    return f"at least {rest}" if _guessed(bar, blanks) else rest


def _guessed(bar: Bar, blanks: Mapping[str, Blank]) -> bool:
    """Whether an estimate is cut from ``bar``."""
    return any(blanks[cut.mark].estimated for cut in bar.cuts)


def _stretches(bar: Bar, blanks: Mapping[str, Blank], spare: Fraction, kerf: Fraction) -> Iterator[Stretch]:
    """The stretches of ``bar`` from end to end; a blank takes the kerf after it along. ``spare``: of one, in mm."""
    at = bar.end_trim if bar.cuts else Fraction(0)
    if at:
        yield Stretch(StretchKind.TRIM, Fraction(0), at, "trim")
    trim = at
    for cut in bar.cuts:
        to = min(trim + cut.end + kerf, bar.length)
        sure = to - (blanks[cut.mark].length - blanks[cut.mark].least)
        yield Stretch(StretchKind.BLANK, at, sure, cut.mark, cut.number, cut.number, sawn=sure == to)
        if sure < to:
            yield Stretch(StretchKind.DOUBT, sure, to, "?", sawn=True)
        at = to
    usable = min(at + bar.usable, bar.length)
    for _ in range(bar.spares):
        to = min(at + spare + kerf, usable)
        yield Stretch(StretchKind.SPARE, at, to, "spare")
        at = to
    for kind, to, text in ((StretchKind.OFFCUT, usable, "left"), (StretchKind.LOST, bar.length, "lost")):
        if at < to:
            yield Stretch(kind, at, to, text)
            at = to


def _runs(bar: Bar, blanks: Mapping[str, Blank], settings: Settings) -> Iterable[CutRun]:
    runs: list[CutRun] = []
    for cut in bar.cuts:
        first = cut.number
        if runs and runs[-1].mark == cut.mark and runs[-1].last == cut.number - 1:
            first = runs.pop().first
        one = blanks[cut.mark]
        long = wording.estimate(one, settings) or wording.blank(cut.blank, settings)
        runs.append(CutRun(first, cut.number, cut.mark, long, one.estimated))
    return runs


def offcut_rows(plan: Plan) -> Iterator[OffcutRow]:
    """The bars again, when everything is cut."""
    keep = plan.job.settings.keep
    for tube in plan.tubes:
        for bar in tube.bars:
            worth = bar.offcut >= keep
            yield OffcutRow(
                bar.name, bar.tube, bar.label, bar.offcut, bar.usable, bar.spares, worth, _then(bar, tube, worth, plan)
            )


def left_over(offcuts: Iterable[OffcutRow], settings: Settings) -> Iterator[str]:
    """What is left of all bars together, a sentence a tube."""
    sums: dict[str, tuple[Fraction, Fraction]] = {}
    for row in offcuts:
        left, usable = sums.get(row.tube, (Fraction(0), Fraction(0)))
        sums[row.tube] = (left + row.left, usable + row.usable)
    for tube, (left, usable) in sums.items():
        both = f"{wording.found(left, settings.units)} {settings.units.value} in all, of it usable"
        yield f"{tube}: {both} {wording.found(usable, settings.units)} {settings.units.value}."


def _then(bar: Bar, tube: TubePlan, worth: bool, plan: Plan) -> str:
    rack = "to the rack" if worth else "scrap"
    # What was there before the job stays there; what the job itself has left is worth racking or it is not.
    before = {(row.tube, row.length) for row in plan.rack_before}
    if not bar.cuts and bar.source is Source.RACK and (bar.tube, bar.length) in before:
        rack = "back to the rack"
    if _guessed(bar, plan.by_mark()):
        rack = f"{rack}; at the least so much is left, as some of its blanks are estimates"
    if _needed(bar, tube):
        return f"keep until all is fitted, then {rack}"
    return rack if bar.cuts else f"not cut: {rack}"


def _needed(bar: Bar, tube: TubePlan) -> bool:
    """Whether what is left of ``bar`` is kept as a spare, or is where a cut's replacement would come from."""
    # One at a time, a mistake shows before the next cut: those before the bar's last can no more ask for what is left.
    last = bar.cuts[-1].number if bar.cuts and tube.spares.fitted is Fitted.ONE_AT_A_TIME else 0
    ways = [cut.if_spoilt for cut in tube.cuts if cut.number >= last and cut.if_spoilt]
    return bool(bar.spares) or any(bar.name in way.bars for way in ways)


@dataclass(frozen=True, slots=True)
class SpareRow:
    """What is kept of a tube, and for whom; with what the tube costs and how sure that is (see TubePlan).
    ``covers``: what the spares cover, a sentence each; ``costs``: cost and proof in words."""

    tube: Text
    kept: Count
    length: Length
    insured: Text
    not_insured: Text
    marks: tuple[str, ...]
    other_marks: tuple[str, ...]
    one_at_a_time: bool
    cost: Decimal
    bound: Decimal
    proven: bool
    priced: bool
    covers: tuple[str, ...]
    costs: str


def spare_rows(plan: Plan) -> Iterator[SpareRow]:
    """A row a tube."""
    for tube in plan.tubes:
        kept = tube.spares
        yield SpareRow(
            tube.tube,
            kept.wanted,
            kept.length,
            ", ".join(kept.insured),
            ", ".join(kept.not_insured),
            kept.insured,
            kept.not_insured,
            kept.fitted is Fitted.ONE_AT_A_TIME,
            tube.cost,
            tube.bound,
            tube.proven,
            tube.priced,
            wording.spares(kept, plan.job.settings),
            wording.tube_cost(tube, plan.job.settings, charged=plan.charged),
        )
