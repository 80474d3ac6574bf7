"""How far a job is by the ticks on its saw list: what is fitted, what is sawn, what comes next, on one screen."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence

from cutplan.job.faults import listed
from cutplan.job.model import Settings, Source
from cutplan.plan import wording
from cutplan.plan.model import Plan
from cutplan.plan.parts import wholes
from cutplan.plan.recut.ticks import Tick
from cutplan.plan.tables import SawRow, Tables

_MOST = 5
"""Cuts that are named ahead."""


def progress(plan: Plan, ticks: Sequence[Tick]) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Heading by heading what is to be said, a sentence each; a heading with nothing under it is left out."""
    made = {one.number: one for one in plan.made}
    marks = {cut.number: cut.mark for cut in plan.cuts} | {number: one.blank.mark for number, one in made.items()}
    done = {tick.cut for tick in ticks if tick.made}
    left = [row for row in Tables(plan).saw_list if row.cut not in done]
    good = [tick for tick in ticks if not tick.spoilt and (tick.done or tick.cut in made)]
    fitted = [tick.cut for tick in good if tick.fitted or (tick.cut in made and made[tick.cut].fitted)]
    to_fit = [tick.cut for tick in good if tick.cut not in fitted]
    to_do = dict.fromkeys(f"{marks[cut]}: {made[cut].to_do}." for cut in to_fit if cut in made and made[cut].to_do)
    spoilt = [f"cut {tick.cut}, {marks[tick.cut]}" for tick in ticks if tick.spoilt]
    said = (
        ("Fitted", _counted(marks[cut] for cut in fitted)),
        ("Sawn, to be fitted", (*_counted(marks[cut] for cut in to_fit), *to_do)),
        ("Spoilt", (f"{listed(spoilt)}: plan the rest before you go on sawing.",) if spoilt else ()),
        ("Measure now", _measure(plan, left)),
        ("Next cuts", _next(left, plan.job.settings)),
        ("To buy, unless you have it", _to_buy(plan, done)),
    )
    yield from ((heading, lines) for heading, lines in said if lines)


def _measure(plan: Plan, rows: Sequence[SawRow]) -> tuple[str, ...]:
    """The estimated members of the first stage in which something is still to be cut, and what to measure each against:
    members that are not still to be cut themselves."""
    blanks, settings = plan.by_mark(), plan.job.settings
    left = [blanks[row.mark] for row in rows]
    now = min((blank.stage for blank in left), default=0)
    waiting = {mark for blank in left for mark in (blank.mark, blank.member)}
    standing = {mark for member in plan.job.members for mark in (member.mark, *member.marks)} - waiting
    lines = []
    for blank in {blank.mark: blank for blank in left if blank.estimated and blank.stage == now}.values():
        against = wording.measured_now([blank], standing) or blank.mark
        lines.append(f"{against}: {wording.estimate(blank, settings)} {settings.units.value}")
    return (*lines, "Write it in the job, and run recut with --job.") if lines else ()


def _next(left: Sequence[SawRow], settings: Settings) -> tuple[str, ...]:
    known = [row for row in left if row.blank is not None]
    lines = [
        f"Cut {row.cut}, bar {row.bar}: {row.mark}, {wording.blank(row.blank, settings)} {settings.units.value}, "
        f"end a {row.end_a}, end b {row.end_b}"
        for row in known[:_MOST]
        if row.blank is not None
    ]
    if known:
        again = known[0].if_spoilt or "no tube is left for it, so buy another bar"
        lines.insert(1, f"  If it is spoilt: {again}.")
    if not known and left:
        lines.append("None until something is measured.")
    if len(left) > min(len(known), _MOST):
        lines.append(f"{wording.counted(len(left), 'cut')} left in all.")
    return tuple(lines) if left else ("Everything is cut.",)


def _to_buy(plan: Plan, done: Collection[int]) -> tuple[str, ...]:
    """The bars of the plan that nothing has been cut from yet: nobody ticks what is bought."""
    settings = plan.job.settings
    bars = [bar for bar in plan.bars if bar.source is Source.BUY]
    cut_into = {bar.name for bar in bars if any(cut.number in done for cut in bar.cuts)}
    in_parts = {parts[0].name: parts for parts in wholes(bars)}
    lines = []
    for bar in bars:
        parts = in_parts.get(bar.name, ())
        if cut_into & {bar.name, *bar.parts} or (bar.parts and not parts):
            continue
        long = wording.measured(bar.cut_from or bar.length, settings)
        what = f"{long} of {bar.tube}" + (f" from {bar.shop}" if bar.shop else "")
        lines.append(f"{what}, cut into {wording.in_parts(parts, settings)}" if parts else f"Bar {bar.name}: {what}")
    return tuple(lines)


def _counted(marks: Iterable[str]) -> tuple[str, ...]:
    """The marks in one line, those that come several times with how often."""
    counted = Counter(marks)
    return (", ".join(f"{mark} ({n})" if n > 1 else mark for mark, n in counted.items()),) if counted else ()
