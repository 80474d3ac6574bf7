"""What a person wrote on a saw list, and whether it is possible."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from cutplan.job.faults import NOWHERE, Fault, Place
from cutplan.job.model import Settings
from cutplan.plan.model import Bar, Plan
from cutplan.plan.wording import measured

OVERLENGTH = Fraction(100)
"""By how much a bar may be longer than it was sold (mm), as mills do not cut short: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Tick:
    """What a person wrote against a cut. Both ``done`` and ``spoilt``: cut well, and spoilt later. ``left``: how much
    of a spoilt blank is still good (mm), if said. ``fitted``: tacked in and good, and so done."""

    cut: int
    done: bool
    spoilt: bool
    left: Fraction | None = None
    place: Place = field(default=NOWHERE, compare=False)
    fitted: bool = False

    def __post_init__(self) -> None:
        """What is fitted was cut."""
        object.__setattr__(self, "done", self.done or self.fitted)

    @property
    def made(self) -> bool:
        """Whether the cut was made, well or badly."""
        return self.done or self.spoilt


@dataclass(frozen=True, slots=True)
class BarNote:
    """What a person wrote against a bar. ``gone``: struck out. ``measured``: what the tape finds of it now (mm),
    from its sawn end, or where nothing is cut yet from end to end; None: as expected."""

    bar: str
    gone: bool = False
    measured: Fraction | None = None
    place: Place = field(default=NOWHERE, compare=False)


def faults_of(
    plan: Plan,
    ticks: Sequence[Tick],
    notes: Sequence[BarNote],
    got: Sequence[tuple[str, Fraction]],
    tubes: Sequence[str] = (),
) -> Iterator[Fault]:
    """Where ticks, notes on bars and bars got since (of these ``tubes``) contradict the plan or each other."""
    yield from _tick_faults(plan, ticks)
    yield from _note_faults(plan, notes, {tick.cut for tick in ticks if tick.made})
    for name, length in got:
        if name not in tubes:
            yield Fault(Place("the new bar"), "is not a tube of this job", name, f"choose from {', '.join(tubes)}")
        if length <= 0:
            yield Fault(Place("the new bar"), "must be more than 0", measured(length, plan.job.settings))


def _tick_faults(plan: Plan, ticks: Sequence[Tick]) -> Iterator[Fault]:
    lengths = {cut.number: cut.blank for cut in plan.cuts} | {made.number: made.blank.length for made in plan.made}
    seen: set[int] = set()
    waiting = _estimated(plan)
    for tick in ticks:
        if tick.cut not in lengths:
            yield Fault(tick.place, "is not a cut on this list", str(tick.cut), "undo the change to the number")
            continue
        if tick.cut in seen:
            yield Fault(tick.place, "the cut is on the list twice", str(tick.cut), "delete the copied row")
        seen.add(tick.cut)
        if tick.cut in waiting and tick.made:
            yield Fault(tick.place, waiting[tick.cut], cure=MEASURE_FIRST)
        if tick.left is not None and not tick.spoilt:
            rule = f"cut {tick.cut} has a length under still good but is not ticked spoilt"
            yield Fault(tick.place, rule, cure="tick it spoilt, or clear still good")
        elif tick.left is not None and tick.left > lengths[tick.cut]:
            blank, left = (measured(mm, plan.job.settings) for mm in (lengths[tick.cut], tick.left))
            rule = f"still good for cut {tick.cut} is more than its blank, {blank}"
            yield Fault(tick.place, rule, left, "give only what is still good of the spoilt blank")
    for number in sorted(lengths.keys() - seen):
        yield Fault(Place("Saw list"), f"cut {number} is missing", cure="put its row back")


def _note_faults(plan: Plan, notes: Sequence[BarNote], cut: set[int]) -> Iterator[Fault]:
    bars = {bar.name: bar for bar in plan.bars}
    noted = Counter(note.bar for note in notes)
    for note in notes:
        if note.bar not in bars:
            yield Fault(note.place, "is not a bar on this list", note.bar, "undo the change to the name")
        elif noted[note.bar] > 1:
            yield Fault(note.place, "the bar is on the list twice", note.bar, "delete the copied row")
        if note.gone and note.measured is not None:
            yield Fault(note.place, f"bar {note.bar} is both struck out and measured", cure="leave only one of the two")
    yield from _too_long(bars, cut, notes, plan.job.settings)


MEASURE_FIRST = "measure it, write what you measured in the job, then: cutplan recut SAWLIST --job JOB"


def _estimated(plan: Plan) -> dict[int, str]:
    """The cuts that cannot have been made from this list, as it gives them no length, and why."""
    blanks, settings = plan.by_mark(), plan.job.settings
    return {
        cut.number: (
            f"cut {cut.number} is ticked, but {cut.mark} is an estimate, {measured(blank.least, settings)} to "
            f"{measured(blank.length, settings)}, which this list gives no length for"
        )
        for cut in plan.cuts
        if (blank := blanks.get(cut.mark)) is not None and blank.estimated
    }


def _too_long(bars: Mapping[str, Bar], cut: set[int], notes: Sequence[BarNote], settings: Settings) -> Iterator[Fault]:
    """Bars said to be longer now than they can be: a slip, or measured before they were cut."""
    for note in notes:
        if note.measured is None or note.bar not in bars:
            continue
        bar = bars[note.bar]
        rest = bar.length - sum((one.blank for one in bar.cuts if one.number in cut), Fraction(0))
        if note.measured > (rest + OVERLENGTH if rest < bar.length else rest * 3 / 2):
            yield Fault(
                note.place,
                f"bar {note.bar} can have at most {measured(rest, settings)} left after the cuts made",
                measured(note.measured, settings),
                "give what the tape shows now, from the sawn end; if it is another bar, strike this out and add --bar",
            )
