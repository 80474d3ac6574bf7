"""Small jobs whose members land on one another, and the fewest that any order of their cuts puts before what they land
on: worked out by trying every order, with nothing of the planner but the plan itself."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence
from fractions import Fraction

from small_jobs import bars, blank, packs, rack

from cutplan.geometry.model import Blank
from cutplan.job.model import Cut, End, Fitted, Job, Member, Onto, Saddle, Settings, StockRow, Tube
from cutplan.plan.model import Plan

F = Fraction
Lands = dict[str, set[str]]
"""By mark, what it lands on."""


def landing_job(seed: int) -> tuple[Job, list[Blank], Lands]:
    """A job of four to eight pieces of one tube or two, which land on one another as it happens, in no loop."""
    dice = random.Random(f"landing {seed}")
    tubes = dice.choice(["T", "T", "TU"])
    blanks: list[Blank] = []
    for number in range(dice.randint(4, 7)):
        count = 2 if dice.random() < 0.15 and len(blanks) < 6 else 1
        blanks.append(blank(f"P{number}", 10 * dice.randint(8, 60), count, tube=dice.choice(tubes)))
    built = dice.sample(blanks, len(blanks))
    lands = {
        one.mark: {other.mark for other in dice.sample(built[:at], min(at, dice.choice([0, 1, 1, 2])))}
        for at, one in enumerate(built)
    }
    stock: list[StockRow] = []
    for tube in tubes:
        mine = [one.length for one in blanks if one.tube == tube] or [F(100)]
        stock.append(bars(max(mine) + 10 * dice.randint(0, 60), str(dice.randint(8, 20)), tube=tube))
        stock.append(bars(10 * dice.randint(20, 100), str(dice.randint(4, 14)), tube=tube))
        if dice.random() < 0.4:
            stock.append(rack(10 * dice.randint(10, 70), 1, tube=tube))
    settings = Settings(
        kerf=F(dice.choice([0, 2])), spares=1, fitted=Fitted.ONE_AT_A_TIME, salvage=F(dice.choice([10, 50]))
    )
    return job_of(blanks, lands, stock, settings), blanks, lands


def job_of(blanks: Sequence[Blank], lands: Lands, stock: Sequence[StockRow], settings: Settings) -> Job:
    """A job of ``blanks``, each its own member with all its saddles at end a."""
    members = [
        Member(
            one.mark,
            one.tube,
            one.count,
            length=one.length,
            insured=one.insured,
            stage=one.stage or None,
            end_a=End(Cut.COPE, saddles=tuple(Saddle(Onto(F(40), onto, onto)) for onto in sorted(lands[one.mark])))
            if lands.get(one.mark)
            else End(Cut.SQUARE),
        )
        for one in blanks
    ]
    names = dict.fromkeys(row.tube for row in stock)
    return Job(settings, tuple(Tube(name, F(40), F(2)) for name in names), tuple(stock), tuple(members))


def marks_in_order(plan: Plan) -> list[str]:
    """The marks in the order of sawing."""
    cuts = ((cut.number, cut.mark) for tube in plan.tubes for bar in tube.bars for cut in bar.cuts)
    return [mark for _, mark in sorted(cuts)]


def out_of_order(marks: Sequence[str], lands: Lands) -> list[tuple[str, str]]:
    """Each with each that it lands on and comes before."""
    first = {mark: at for at, mark in reversed(list(enumerate(marks)))}
    last = {mark: at for at, mark in enumerate(marks)}
    return [(mark, onto) for mark in first for onto in lands[mark] if onto in last and first[mark] < last[onto]]


def fewest(plan: Plan, lands: Lands) -> int:
    """The fewest landings out of order in any order of the cuts on their bars of ``plan`` in which one mistake at any
    insured cut can be made good, as it must be of a tube whose spare needs that."""
    return _Orders(plan, lands).fewest()


class _Orders:
    def __init__(self, plan: Plan, lands: Lands) -> None:
        self.kerf = plan.job.settings.kerf
        self.lands = lands
        self.spoilt: dict[str, Fraction] = {}
        for one in plan.blanks:
            left = one.length - max(plan.job.settings.salvage, self.kerf + F(1, 10))
            self.spoilt[one.mark] = F(0) if one.bends or left <= 0 else left + self.kerf
        self.blanks = plan.by_mark()
        self.bars = [
            (bar.length + self.kerf, tube.tube, tuple(sorted(cut.mark for cut in bar.cuts)))
            for tube in plan.tubes
            for bar in tube.bars
        ]
        self.ordered = {tube.tube for tube in plan.tubes if tube.spares.fitted is Fitted.ONE_AT_A_TIME}
        self.insured = {mark for tube in plan.tubes for mark in tube.spares.insured}
        self.fits: dict[tuple[tuple[Fraction, ...], tuple[Fraction, ...]], bool] = {}
        self.known: dict[tuple[tuple[tuple[str, ...], ...], frozenset[str]], int | None] = {}

    def fewest(self) -> int:
        found = self._least(tuple(marks for _, _, marks in self.bars), frozenset())
        assert found is not None
        return found

    def _least(self, left: tuple[tuple[str, ...], ...], begun: frozenset[str]) -> int | None:
        if not any(left):
            return 0
        if (left, begun) not in self.known:
            best: int | None = None
            waiting = Counter(mark for marks in left for mark in marks)
            for at, marks in enumerate(left):
                for mark in set(marks):
                    rest = list(marks)
                    rest.remove(mark)
                    after = (*left[:at], tuple(rest), *left[at + 1 :])
                    if not self._survives(mark, after):
                        continue
                    early = 0 if mark in begun else sum(bool(waiting[onto]) for onto in self.lands[mark])
                    more = self._least(after, begun | {mark})
                    if more is not None and (best is None or early + more < best):
                        best = early + more
            self.known[left, begun] = best
        return self.known[left, begun]

    def _survives(self, mark: str, left: tuple[tuple[str, ...], ...]) -> bool:
        tube = self.blanks[mark].tube
        if tube not in self.ordered or mark not in self.insured:
            return True
        rooms = []
        needs = [self.blanks[mark].length + self.kerf]
        for (room, of, every), rest in zip(self.bars, left, strict=True):
            if of == tube:
                cut = Counter(every) - Counter(rest)
                rooms.append(room - sum((self.blanks[one].length + self.kerf) * n for one, n in cut.items()))
                needs += [self.blanks[one].length + self.kerf for one in rest]
        return packs(needs, [*rooms, self.spoilt[mark]], self.fits)
