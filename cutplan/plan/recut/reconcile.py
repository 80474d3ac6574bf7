"""A job that changed after cutting began, reconciled with what has been cut.

What is sawn and still long enough stays, with what to take off; what is too short, or no longer wanted, is a piece in
hand of its sound length; what is not cut is planned as the job has it now.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from cutplan.geometry.model import Blank
from cutplan.job.faults import Fault, Place
from cutplan.job.model import Cut, Job, Settings, Source, StockRow
from cutplan.plan.model import Plan, SawCut
from cutplan.plan.prepare import Prepared
from cutplan.plan.recut.differences import (
    differences,
    made_already,
    own_stock,
    planned_blanks,
    renamed,
    same_bends,
    same_end,
    same_piece,
    what_changed,
)
from cutplan.plan.recut.for_sale import for_sale_now, on_the_rack
from cutplan.plan.recut.inventory import Account, Good, Inventory
from cutplan.plan.wording import measured


@dataclass(frozen=True, slots=True)
class Reconciled:
    """What to go on from: ``job`` (its stock is what is in hand and for sale), ``blanks`` still to cut, for each bar
    its cuts still ``waiting``, marks that are called otherwise now (``names``), the tubes that go on just as planned
    (``unchanged``), and what was on the ``rack`` before the first cut."""

    job: Job
    blanks: tuple[Blank, ...]
    waiting: Mapping[str, tuple[SawCut, ...]]
    names: Mapping[str, str]
    unchanged: frozenset[str]
    rack: tuple[StockRow, ...]


def job_faults(plan: Plan, now: Prepared) -> Iterator[Fault]:
    """Why ``plan`` cannot go on with the job ``now``."""
    units = plan.job.settings.units
    if now.job.settings.units is not units:
        yield Fault(
            Place("Job"),
            f"the saw list was planned in {units.value}",
            now.job.settings.units.value,
            "go back to these units",
        )
    names = {tube.name for tube in now.job.tubes}
    in_hand = {bar.tube for bar in plan.bars}
    before = {tube.name: tube for tube in plan.job.tubes}
    gone = [tube for name, tube in before.items() if name in in_hand and name not in names]
    for tube in now.job.tubes:
        if tube.name not in before and any((one.od, one.wall) == (tube.od, tube.wall) for one in gone):
            was = next(one.name for one in gone if (one.od, one.wall) == (tube.od, tube.wall))
            rule = f"bars in hand are listed as {was}, which is the same tube"
            yield Fault(tube.place.at("tube"), rule, tube.name, f"call it {was} until this job is done")


def reconcile(state: Inventory, plan: Plan, now: Prepared) -> Reconciled:
    """Reconcile ``state``, what the ticks of ``plan`` leave, with the job ``now``: its good blanks become blanks of
    that job, or pieces in hand, and it reports what changed."""
    job = _job(plan, now)
    state.said += differences(plan, now)
    old, new = planned_blanks(plan), {blank.mark: blank for blank in now.blanks}
    names = renamed(old, new)
    due = Counter({blank.mark: blank.count for blank in now.blanks})
    _Sorting(state, job.settings, new, names, due, made_already(now)).sort()
    blanks = tuple(replace(blank, count=due[blank.mark]) for blank in now.blanks if due[blank.mark])
    same = {mark for mark, blank in old.items() if mark in new and same_piece(blank, new[mark])}
    rack = _rack(state, plan, now)
    waiting = _waiting(state, new, names, due, same)
    tubes = {blank.tube for blank in (*old.values(), *new.values())}
    unlike = {blank.tube for marked in (old, new) for blank in marked.values() if blank.mark not in same}
    unlike |= {old[mark].tube for mark in same if _wanted(old[mark]) != _wanted(new[mark])}
    sawn_alike = _sawing(plan.job.settings) == _sawing(job.settings)
    return Reconciled(
        replace(job, stock=(*state.rows, *for_sale_now(plan, own_stock(now)))),
        blanks,
        waiting,
        names,
        frozenset(tubes - unlike if sawn_alike else ()),
        rack,
    )


def _wanted(blank: Blank) -> tuple[int, bool, int]:
    return blank.count, blank.insured, blank.stage


def _sawing(settings: Settings) -> tuple[object, ...]:
    return settings.kerf, settings.saw_hold, settings.salvage, settings.spares, settings.fitted


def _job(plan: Plan, now: Prepared) -> Job:
    """The job as it is now. What was asked for on the command line holds as long as its own figure is the same, and
    the tubes of bars in hand stay known."""
    settings, mine = now.job.settings, plan.job.settings
    if plan.source is not None:
        if settings.spares == plan.source.settings.spares:
            settings = replace(settings, spares=mine.spares)
        if settings.fitted is plan.source.settings.fitted:
            settings = replace(settings, fitted=mine.fitted)
    names = {tube.name for tube in now.job.tubes}
    gone = tuple(tube for tube in plan.job.tubes if tube.name not in names)
    return replace(now.job, settings=settings, tubes=now.job.tubes + gone)


@dataclass(frozen=True, slots=True)
class _Sorting:
    """Sorts the good blanks of ``state`` into those that stay and pieces in hand. ``new``: the blanks of the job now;
    ``names``: marks that are called otherwise now; ``due``: how many are wanted, and after sorting still to be cut;
    ``standing``: marks that the job says are there already."""

    state: Inventory
    settings: Settings
    new: Mapping[str, Blank]
    names: Mapping[str, str]
    due: Counter[str]
    standing: set[str]

    def sort(self) -> None:
        # What is fitted stays first, then what was cut first.
        order = sorted(self.state.good, key=lambda good: (not good.fitted, not good.earlier))
        self.state.good.clear()
        stay: list[tuple[Good, Blank]] = []
        for good in order:
            mark = self.names.get(good.blank.mark, good.blank.mark)
            new = self.new.get(mark)
            if new is None and mark in self.standing:
                self.state.said.append(f"Cut {good.number}, {mark}, is part of what is made already.")
            elif new is None or not self.due[mark]:
                self._to_hand(good, "is no longer wanted")
            elif new.tube != good.blank.tube:
                self._to_hand(good, f"is now to be made of {new.tube}")
            elif new.length > good.length and not good.fitted:
                short = measured(new.length - good.length, self.settings)
                self._to_hand(good, f"is {short} too short now")
            else:
                self.due[mark] -= 1
                stay.append((good, new))
        # Only now it is known what is still to cut, and so what a piece taken off may serve for.
        self.state.good += [self._stays(good, replace(new, count=1)) for good, new in stay]

    def _stays(self, good: Good, new: Blank) -> Good:
        if same_piece(good.blank, new):
            return replace(good, blank=new)
        if good.fitted:
            what = what_changed(good.blank, new, self.settings)
            self.state.said.append(
                f"{good.blank.mark} is fitted and stays as it is ({what}): if it has to come out, tick it spoilt."
            )
            return replace(good, blank=new, sawn=good.length if good.length != new.length else None)
        over = good.length - new.length
        so_far = "" if good.blank.estimated else good.to_do
        to_do = _to_do(replace(good.blank, length=good.length), new, self.settings)
        to_do = f"{so_far}; {to_do}" if so_far else to_do
        called = f" as {new.mark}" if good.blank.mark != new.mark else ""
        if over and not new.estimated:
            off = _rounded_down(over - self.settings.kerf - _shaped(good.blank), self.settings)
            waiting = (self.new[mark] for mark in +self.due)
            least = min((blank.length for blank in waiting if blank.tube == new.tube), default=self.settings.keep)
            serves = off >= min(least, self.settings.keep)
            name = self.state.keep_piece(new.tube, off) if serves else None
            self._book_taken_off(good, over, off if name else Fraction(0))
            if name:
                to_do += f"; {measured(off, self.settings)} of that is bar {name}: write that on it"
        self.state.said.append(f"Cut {good.number}, {good.blank.mark}, is sawn and stays{called}: {to_do}.")
        # Nothing is taken off before it is measured.
        return replace(good, blank=new, to_do=to_do, sawn=good.length if new.estimated else None)

    def _book_taken_off(self, good: Good, over: Fraction, off: Fraction) -> None:
        kerf = self.settings.kerf if off else Fraction(0)
        self.state.book(Account(good.blank.tube, kerf=kerf, in_hand=off, lost=over - off - kerf))
        self._unbook(good, over)

    def _unbook(self, good: Good, mm: Fraction) -> None:
        """So much of a good blank is no longer one; what was cut before this list is in no account yet."""
        tube = good.blank.tube
        self.state.book(Account(tube, had=mm) if good.earlier else Account(tube, made=-mm))

    def _to_hand(self, good: Good, why: str) -> None:
        """A good blank of which the job wants no more becomes a piece in hand: what is sound between its ends. What is
        bent, or fitted, is not counted on."""
        blank, state = good.blank, self.state
        lost = bool(blank.bends) or good.fitted
        rest = Fraction(0) if lost else _rounded_down(good.length - _shaped(blank), self.settings)
        name = state.keep_piece(blank.tube, rest)
        kept = rest if name else Fraction(0)
        state.book(Account(blank.tube, in_hand=kept, lost=good.length - kept))
        self._unbook(good, good.length)
        said = f"Cut {good.number}, {blank.mark}, is {'fitted' if good.fitted else 'sawn'} and {why}:"
        if good.fitted:
            state.said.append(f"{said} it has to come out. Once it is out, give what is still good of it with --bar.")
        elif blank.bends:
            state.said.append(
                f"{said} none of it is used again, as it may be bent already. If it is still straight, tick it spoilt "
                f"with its length under still good, and plan the rest again from that list."
            )
        elif name is None:
            state.said.append(f"{said} none of it can be used.")
        else:
            between = " between its shaped ends" if _shaped(blank) else ""
            state.said.append(f"{said} {measured(rest, self.settings)} of it{between} is bar {name}; write that on it.")


def _to_do(old: Blank, new: Blank, settings: Settings) -> str:
    """What makes the sawn blank ``old`` into ``new``, which is no longer."""
    said = []
    over = old.length - new.length
    if new.estimated:
        said.append("measure before you take anything off")
    elif over:
        said.append(f"take {measured(over, settings)} off {_where(old, new, over, settings)}")
    if what := what_changed(replace(old, length=new.length, estimate=new.estimate, bends=new.bends), new, settings):
        said.append(f"{what} (if it is shaped already and cannot be made so, tick it spoilt)")
    if old.bends and not same_bends(old, new, shift=_front(old, new)):
        said.append("bend it as this list says; if it is bent already, tick it spoilt")
    return "; ".join(said) or "mark it again"


def _where(old: Blank, new: Blank, over: Fraction, settings: Settings) -> str:
    """At which end to take off what a sawn blank is too long by."""
    if old.bends and new.bends and same_bends(old, new, shift=_front(old, new)):
        front = round(Fraction(_front(old, new)) / settings.step) * settings.step
        if front <= 0:
            return "at end b"
        if front >= over:
            return "at end a"
        return f"it in all: {measured(front, settings)} at end a, {measured(over - front, settings)} at end b"
    shaped = [side for side in "ab" if new.end(side).cut is not Cut.SQUARE]
    unlike = [side for side in "ab" if not same_end(old.end(side), new.end(side))]
    if len(unlike) == 1:
        return f"at end {unlike[0]}"
    if not shaped:
        return "at either end"
    if len(shaped) == 1:
        return f"at end {'b' if shaped == ['a'] else 'a'}"
    return "at the end that is not shaped yet; if both are, at either, and shape that one again"


def _front(old: Blank, new: Blank) -> float:
    return old.bends[0].start - new.bends[0].start if old.bends and new.bends else 0.0


def _shaped(blank: Blank) -> Fraction:
    """How much of a blank its two ends take up where they are shaped already, which nobody ticks."""
    return Fraction(blank.end_a.throat) + Fraction(blank.end_b.throat)


def _rounded_down(mm: Fraction, settings: Settings) -> Fraction:
    return math.floor(mm / settings.step) * settings.step if settings.step else mm


def _waiting(
    state: Inventory, new: Mapping[str, Blank], names: Mapping[str, str], due: Counter[str], same: set[str]
) -> dict[str, tuple[SawCut, ...]]:
    """The cuts not made, bar by bar, as far as the job still wants them from that tube. A mitre is shared on only where
    neither of its blanks has changed."""
    left = Counter(due)
    tube_of = {name: row.tube for name, row in state.named}
    waiting: dict[str, tuple[SawCut, ...]] = {}
    for name, cuts in state.waiting.items():
        here: list[SawCut] = []
        for cut in cuts:
            mark = names.get(cut.mark, cut.mark)
            if left[mark] <= 0 or new[mark].tube != tube_of.get(name):
                continue
            left[mark] -= 1
            shares = cut.shared and mark in same and bool(here) and here[-1].mark in same
            here.append(replace(cut, mark=mark, shared=shares))
        waiting[name] = tuple(here)
    return waiting


def _rack(state: Inventory, plan: Plan, now: Prepared) -> tuple[StockRow, ...]:
    """Put what is new on the job's own rack in hand, and strike out what is gone from there: what then was on the rack
    before the first cut."""
    if plan.source is None:
        return plan.rack_before
    own = own_stock(now)
    were, there = on_the_rack(plan.source.stock), on_the_rack(own)
    state.unplanned = [row for row in own if row.source is Source.RACK and row.tube not in state.accounts]
    for row in (were - there).elements():
        state.strike_out(row)
    come = [row for row in (there - were).elements() if row.tube in state.accounts]
    for row in come:
        state.lay_by(row)
    return (*plan.rack_before, *come)
