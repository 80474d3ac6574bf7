"""What is different between a job as it was planned and the job as it is now, in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import fields, replace
from enum import Enum
from fractions import Fraction

from cutplan.geometry.model import Blank, EndShape
from cutplan.job.model import Plane, Settings, Source, StockRow
from cutplan.job.stages import in_stages
from cutplan.plan import wording
from cutplan.plan.model import Plan
from cutplan.plan.prepare import Prepared
from cutplan.plan.recut.for_sale import on_the_rack

_HAIR = 0.05
"""Millimetres or degrees that nobody makes a piece again for."""


def differences(plan: Plan, now: Prepared) -> tuple[str, ...]:
    """What is different in the job ``now`` from that of ``plan``, a sentence each; empty: nothing that counts."""
    return (
        *_members(plan, now),
        *_settings(plan, now),
        *_tubes(plan, now),
        *(() if plan.source is None else _stock(plan.source.stock, now)),
    )


def planned_blanks(plan: Plan) -> dict[str, Blank]:
    """Every blank that ``plan`` is for, those cut before it included, by mark and with its full count."""
    blanks = {made.blank.mark: replace(made.blank, count=0) for made in plan.made} | plan.by_mark()
    for made in plan.made:
        blank = blanks[made.blank.mark]
        blanks[blank.mark] = replace(blank, count=blank.count + 1)
    return blanks


def made_already(now: Prepared) -> set[str]:
    """The marks of what the job ``now`` says is there already."""
    return {mark for member in now.job.members if member.made for mark in member.marks}


def renamed(before: Mapping[str, Blank], now: Mapping[str, Blank]) -> dict[str, str]:
    """The marks that have a new name, each with it: gone from the job, where one just like it is new."""
    new = [mark for mark in now if mark not in before]
    names = {}
    for mark, blank in before.items():
        if mark not in now and (found := next((one for one in new if same_piece(blank, now[one])), None)):
            names[mark] = found
            new.remove(found)
    return names


def same_piece(one: Blank, other: Blank) -> bool:
    """Whether two blanks are made alike; their names, and the names of what they land on, do not count."""
    return not any(_unlike(one, other))


def same_end(one: EndShape, other: EndShape) -> bool:
    """Whether two ends are shaped alike."""
    alike = one.cut is other.cut and len(one.saddles) == len(other.saddles)
    return alike and _near(_numbers(one), _numbers(other))


def _numbers(end: EndShape) -> Iterator[float]:
    yield from (end.od, end.angle_deg, end.face, end.long, end.short, end.throat, end.tip_turn_deg, end.throat_turn_deg)
    for one in end.saddles:
        yield from (one.angle_deg, float(one.offset), one.turn_deg, float(one.onto.od))


def same_bends(one: Blank, other: Blank, *, shift: float = 0.0) -> bool:
    """Whether two blanks are bent alike, the bends of ``one`` starting ``shift`` mm further from end a."""
    mine, its = (
        [n for bend in blank.bends for n in (bend.start - by, bend.angle_deg, bend.radius, bend.rotation_deg)]
        for blank, by in ((one, shift), (other, 0.0))
    )
    return len(mine) == len(its) and _near(mine, its)


def _near(one: Iterable[float], other: Iterable[float]) -> bool:
    return all(abs(mine - its) < _HAIR for mine, its in zip(one, other, strict=True))


def what_changed(one: Blank, other: Blank, settings: Settings) -> str:
    """What is different about a piece, in words; empty: nothing."""
    said = []
    for what in _unlike(one, other):
        if what == "tube":
            said.append(f"its tube was {one.tube}, is now {other.tube}")
        elif what == "length":
            said.append(f"was {_long(one, settings)}, is now {_long(other, settings)}")
        elif what in ("a", "b"):
            old, new = (wording.end(blank.end(what), settings.units) for blank in (one, other))
            said.append(f"end {what} was {old}, is now {new}" if old != new else f"end {what} ({new}) has a new shape")
        elif what == "turn":
            old, new = wording.degrees(one.turn_deg), wording.degrees(other.turn_deg)
            said.append(f"the turn between its ends was {old}, is now {new} degrees")
        else:
            said.append("its bends have moved")
    return "; ".join(said)


def _unlike(one: Blank, other: Blank) -> Iterator[str]:
    if one.tube != other.tube:
        yield "tube"
    if (one.length, one.estimate) != (other.length, other.estimate):
        yield "length"
    if not same_end(one.end_a, other.end_a):
        yield "a"
    if not same_end(one.end_b, other.end_b):
        yield "b"
    if abs(one.turn_deg - other.turn_deg) >= _HAIR:
        yield "turn"
    cut_off = abs(one.cut_off_a - other.cut_off_a) + abs(one.cut_off_b - other.cut_off_b)
    if not same_bends(one, other) or cut_off >= _HAIR:
        yield "bends"


def _members(plan: Plan, now: Prepared) -> Iterator[str]:
    settings = now.job.settings
    old, new = planned_blanks(plan), {blank.mark: blank for blank in now.blanks}
    names, standing = renamed(old, new), made_already(now)
    # A stage that nobody wrote only follows from the rest.
    written = in_stages(plan.job.members) or in_stages(now.job.members)
    yield from (f"{mark} is now called {name}." for mark, name in names.items())
    for mark, blank in old.items():
        its = new.get(names.get(mark, mark))
        if its is None:
            yield f"{mark} is {'made already' if mark in standing else 'no longer in the job'}."
            continue
        if what := what_changed(blank, its, settings):
            yield f"{mark}: {what}."
        if blank.count != its.count:
            yield f"{mark}: {wording.counted(blank.count, 'piece')} before, {its.count} now."
        if blank.insured is not its.insured:
            yield f"{mark} is {'now' if its.insured else 'no longer'} insured."
        if written and blank.stage != its.stage:
            yield f"{mark}: its stage was {blank.stage or '-'}, is now {its.stage or '-'}."
    taken = set(names.values())
    for mark, blank in new.items():
        if mark not in old and mark not in taken:
            how_many = f"{blank.count} of " if blank.count > 1 else ""
            yield f"{mark} is new: {how_many}{_long(blank, settings)} of {blank.tube}."


def _settings(plan: Plan, now: Prepared) -> Iterator[str]:
    before = plan.job.settings if plan.source is None else plan.source.settings
    after = now.job.settings
    # Without the job's own figures, what was asked for on the command line cannot be distinguished from them.
    left_out = {"name"} if plan.source is not None else {"name", "spares", "fitted"}
    for field in fields(Settings):
        old, new = getattr(before, field.name), getattr(after, field.name)
        if old != new and field.name not in left_out:
            name = field.name.replace("_", " ")
            yield f"{name}: was {_value(old, after)}, is now {_value(new, after)}."


def _value(value: object, settings: Settings) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Fraction):
        return wording.measured(value, settings)
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, Plane):
        return wording.plane(value, settings.units)
    if value is None:
        return "blank"
    return str(value.value) if isinstance(value, Enum) else str(value) or "blank"


def _tubes(plan: Plan, now: Prepared) -> Iterator[str]:
    units = now.job.settings.units
    new = {tube.name: tube for tube in now.job.tubes}
    for tube in plan.job.tubes:
        its = new.get(tube.name)
        if its is not None and (tube.od, tube.wall) != (its.od, its.wall):
            sizes = [f"{wording.length(one.od, units)} x {wording.length(one.wall, units)}" for one in (tube, its)]
            yield f"{tube.name}: was {sizes[0]}, is now {sizes[1]} {units.value}."


def own_stock(now: Prepared) -> tuple[StockRow, ...]:
    """The stock on the job's own sheet, without what a rack's file gave."""
    if now.source is not None:
        return now.source.stock
    return now.job.stock[: len(now.job.stock) - len(now.drawn)]


def _stock(before: Sequence[StockRow], now: Prepared) -> Iterator[str]:
    settings = now.job.settings
    own = own_stock(now)
    old = Counter(row for row in before if row.source is Source.BUY)
    new = Counter(row for row in own if row.source is Source.BUY)
    for row in old - new:
        yield f"changed or no longer for sale: {_bar(row, settings)}."
    for row in new - old:
        yield f"for sale now: {_bar(row, settings)}."
    were, there = on_the_rack(before), on_the_rack(own)
    yield from (f"no longer on the rack: {_bar(row, settings)}." for row in (were - there).elements())
    yield from (f"new on the rack: {_bar(row, settings)}." for row in (there - were).elements())


def _bar(row: StockRow, settings: Settings) -> str:
    said = [f"{wording.measured(row.length, settings)} of {row.tube}"]
    if row.price is not None:
        said.append(wording.money(row.price, settings.currency))
    if row.available is not None and row.source is Source.BUY:
        said.append(f"{row.available} available")
    if row.label:
        said.append(f"marked {row.label}")
    return ", ".join(said)


def _long(blank: Blank, settings: Settings) -> str:
    """A blank's length; of an estimate what it may come out as."""
    if blank.estimate is None:
        return wording.measured(blank.length, settings)
    return (
        f"an estimate, {wording.measured(blank.estimate.least, settings)} to {wording.measured(blank.length, settings)}"
    )
