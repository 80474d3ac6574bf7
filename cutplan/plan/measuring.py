"""What the estimates cost: a plan over estimates compared with the plans after some of them are measured.

A plan over estimates buys tube for their greatest lengths. Here each tube (or together all tubes from shops that charge
for an order) is priced again with every estimate at its likely length, and with one member at a time at its likely
length and the others at their greatest; then the fewest members are sought that save as much as all together. Every
saving is a difference of two costs, each with its bound, so it is proven or is between two figures. What a member saves
depends on the others: savings do not add up.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from itertools import combinations

from cutplan.geometry.model import Blank
from cutplan.job.faults import listed
from cutplan.job.model import Job
from cutplan.nesting import Status
from cutplan.plan.model import NoPlanInTimeError
from cutplan.plan.planner import kept_by_default, packed, problems
from cutplan.plan.problem import Limits, Problem
from cutplan.plan.shops import bought_together, ordered_together

_FEW = 6
"""Up to so many members, every choice of them is tried."""


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
        """Whether the saving is known exactly."""
        return self.least == self.most


@dataclass(frozen=True, slots=True)
class Measuring:
    """One tube with estimates, or several in one order, with so many ``spares`` kept: its price at their ``greatest``
    and at their ``likely`` lengths; what each member saves by itself; and the ``fewest`` members found that save as
    much as all (None: there is nothing to save). ``priced``: the figures are money, else length bought in the job's
    units."""

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
    groups = [mine for mine in _groups(job, blanks) if _members(mine)]
    limits = limits or Limits()
    prices = sum(2 + 2 * len(_members(mine)) for mine in groups)
    limits = limits.part(1 / max(prices, 1))
    return tuple(_Group(job, mine, limits).measuring() for mine in groups)


def _groups(job: Job, blanks: Sequence[Blank]) -> Iterator[tuple[Blank, ...]]:
    """The blanks that are priced together: those of the tubes that shops couple, and of each other tube by itself."""
    posed = problems(job, blanks)
    coupled = [one.tube for one in ordered_together(job, posed)]
    alone = [(one.tube,) for one in posed if one.tube not in coupled]
    for tubes in (*alone, tuple(coupled)):
        yield tuple(one for one in blanks if one.tube in tubes)


def _members(blanks: Sequence[Blank]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(one.member for one in blanks if one.estimated))


class _Group:
    """Prices one tube, or those that shops couple, with some of the estimates known, each choice once."""

    def __init__(self, job: Job, blanks: tuple[Blank, ...], limits: Limits) -> None:
        self.job, self.blanks, self.limits = job, blanks, limits
        self.tubes = tuple(tube.name for tube in job.tubes if any(one.tube == tube.name for one in blanks))
        self.spares = job.settings.spares
        self.prices: dict[frozenset[str], Price] = {}

    def measuring(self) -> Measuring:
        while self.spares and self._found(()) is None:
            self.spares -= 1
        members = _members(self.blanks)
        greatest, likely = self._price(()), self._price(members)
        each = tuple(self._saving((member,)) for member in members)
        fewest = self._fewest(members) if likely.cost < greatest.cost else None
        priced = all(problem.priced for problem in self._problems(()))
        return Measuring(listed(self.tubes), priced, self.spares, greatest, likely, each, fewest)

    def _fewest(self, members: tuple[str, ...]) -> Saving:
        """Leave out members one by one as long as that costs nothing, beginning with those that save least and are
        known best; where there are few members, also try every smaller choice."""
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

    def _problems(self, known: Collection[str]) -> tuple[Problem, ...]:
        return problems(self.job, self._known(known))

    def _found(self, known: Collection[str]) -> Price | None:
        """The price with these members known; None: the stock cannot serve. Raises NoPlanInTimeError."""
        kept = {
            tube: (min(count, self.spares), length)
            for tube, (count, length) in kept_by_default(self.job, self._known(known)).items()
        }
        posed = self._problems(known)
        if ordered_together(self.job, posed):
            bought = bought_together(self.job, posed, kept, self.limits)
            if bought.cost is None and bought.status is not Status.IMPOSSIBLE:
                raise NoPlanInTimeError
            return None if bought.cost is None else Price(bought.cost, bought.bound)
        (problem,) = posed
        packing, _ = packed(problem, *kept[problem.tube], self.limits, {}, second_aims=False)
        if packing.cost is None and packing.status is not Status.IMPOSSIBLE:
            raise NoPlanInTimeError
        return None if packing.cost is None else Price(problem.money(packing.cost), problem.money(packing.bound))

    def _price(self, known: Collection[str]) -> Price:
        """The price with the members ``known`` at their likely lengths, and room for the others at their greatest."""
        key = frozenset(known)
        if key not in self.prices:
            found = self._found(key)
            if found is None:
                raise NoPlanInTimeError
            self.prices[key] = found
        return self.prices[key]
