"""What not knowing costs: the plan over estimates against the plans of those who measure before they order.

A plan over estimates is bought for their greatest lengths. Here each tube is priced again with every estimate at its
likely length, and with one member at a time at its likely length and the others at their greatest; then the fewest
members are sought that save as much as all together. Every saving is a difference of two costs, each with its bound, so
it is proven, or is between two figures. What a member saves depends on the others: savings do not add up.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from itertools import combinations

from cutplan.geometry.model import Blank
from cutplan.job.model import Fitted, Job
from cutplan.nesting import Packing, Status
from cutplan.plan.model import NoPlanInTimeError
from cutplan.plan.planner import kept_by_default
from cutplan.plan.problem import Limits, Problem, problem_of
from cutplan.plan.sequential.course import at_once

_FEW = 6
"""Members of which every choice is tried."""


@dataclass(frozen=True, slots=True)
class Price:
    """What a tube costs, and what it costs at the least: as much, where that is proven."""

    cost: Decimal
    bound: Decimal

    def __add__(self, other: Price) -> Price:
        return Price(self.cost + other.cost, self.bound + other.bound)

    @property
    def proven(self) -> bool:
        """Whether no plan costs less."""
        return self.cost == self.bound


@dataclass(frozen=True, slots=True)
class Saving:
    """What is saved by measuring ``members`` before ordering, if they come out as likely: from ``least`` to ``most``,
    which is one figure where it is proven."""

    members: tuple[str, ...]
    least: Decimal
    most: Decimal

    @property
    def proven(self) -> bool:
        """Whether it is exactly that."""
        return self.least == self.most


@dataclass(frozen=True, slots=True)
class Measuring:
    """One tube with estimates, with so many ``spares`` kept: its price at their ``greatest`` and at their ``likely``
    lengths; what each member saves by itself; and the ``fewest`` members found that save as much as all (None: there
    is nothing to save). ``priced``: the figures are money, else length bought in the job's units."""

    tube: str
    priced: bool
    spares: int
    greatest: Price
    likely: Price
    each: tuple[Saving, ...]
    fewest: Saving | None


def measuring_first(job: Job, blanks: Sequence[Blank], *, limits: Limits | None = None) -> tuple[Measuring, ...]:
    """Tube by tube what measuring estimated members before ordering could save, with the spares that the job asks for,
    or as many as the stock allows; empty where nothing is estimated. ``limits.seconds`` is for all of it.

    Raises NoPlanInTimeError where time ran out before there was a plan.
    """
    tubes = [tube.name for tube in job.tubes if any(one.estimated and one.tube == tube.name for one in blanks)]
    limits = limits or Limits()
    if limits.seconds is not None:
        prices = sum(2 + 2 * len(_members(blanks, tube)) for tube in tubes)
        limits = replace(limits, seconds=limits.seconds / max(prices, 1))
    return tuple(_Tube(job, tuple(one for one in blanks if one.tube == tube), limits).measuring() for tube in tubes)


def _members(blanks: Sequence[Blank], tube: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(one.member for one in blanks if one.tube == tube and one.estimated))


class _Tube:
    """Prices one tube with some of its estimates known, each choice once."""

    def __init__(self, job: Job, blanks: tuple[Blank, ...], limits: Limits) -> None:
        self.job, self.blanks, self.limits = job, blanks, limits
        self.name = blanks[0].tube
        self.spares = job.settings.spares
        self.prices: dict[frozenset[str], Price] = {}

    def measuring(self) -> Measuring:
        while self.spares and self._packed(()).status is Status.IMPOSSIBLE:
            self.spares -= 1
        members = _members(self.blanks, self.name)
        greatest, likely = self._price(()), self._price(members)
        each = tuple(self._saving((member,)) for member in members)
        fewest = self._fewest(members) if likely.cost < greatest.cost else None
        return Measuring(self.name, self._problem(()).priced, self.spares, greatest, likely, each, fewest)

    def _fewest(self, members: tuple[str, ...]) -> Saving:
        """Members are left out one by one, those that save least by themselves and are known best first, as long as
        that costs nothing; where they are few, every fewer members are tried too."""
        everything = self._price(members).cost

        def rank(member: str) -> tuple[Decimal, Fraction, int]:
            doubt = sum((one.length - one.likely for one in self.blanks if one.member == member), Fraction(0))
            return self._saving((member,)).most, doubt, -members.index(member)

        kept = list(members)
        for member in sorted(members, key=rank):
            without = [one for one in kept if one != member]
            if self._price(without).cost <= everything:
                kept = without
        fewer = (some for size in range(1, len(kept)) for some in combinations(members, size))
        tried = fewer if len(members) <= _FEW else ()
        return self._saving(next((some for some in tried if self._price(some).cost <= everything), tuple(kept)))

    def _saving(self, members: tuple[str, ...]) -> Saving:
        before, after = self._price(()), self._price(members)
        # What holds the greatest lengths holds the likely ones, so nothing is ever lost by knowing.
        return Saving(members, max(before.bound - after.cost, Decimal(0)), max(before.cost - after.bound, Decimal(0)))

    def _known(self, known: Collection[str]) -> tuple[Blank, ...]:
        return tuple(
            replace(one, length=one.likely, estimate=None) if one.member in known else one for one in self.blanks
        )

    def _problem(self, known: Collection[str]) -> Problem:
        return problem_of(self.job, self.name, self._known(known))

    def _packed(self, known: Collection[str]) -> Packing:
        count, length = kept_by_default(self.job, self._known(known))[self.name]
        count, problem = min(count, self.spares), self._problem(known)
        packing = problem.solve(count, length, self.limits, second_aims=False)
        if self.job.settings.fitted is Fitted.ONE_AT_A_TIME and count == 1:
            packing, _ = at_once(problem, length, packing, self.limits, {})
        return packing

    def _price(self, known: Collection[str]) -> Price:
        """The price with the members ``known`` at their likely lengths, and room for the others at their greatest."""
        key = frozenset(known)
        if key not in self.prices:
            packing = self._packed(key)
            if packing.cost is None:
                raise NoPlanInTimeError
            problem = self._problem(key)
            self.prices[key] = Price(problem.money(packing.cost), problem.money(packing.bound))
        return self.prices[key]
