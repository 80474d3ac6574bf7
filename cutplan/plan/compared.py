"""What each way of buying would cost: from one shop or several, delivered or carried home."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import combinations, islice

from cutplan.geometry.model import Blank
from cutplan.job.model import Job
from cutplan.plan.parts import PartRow
from cutplan.plan.planner import kept_by_default, problems
from cutplan.plan.problem import Limits
from cutplan.plan.shops import Together, bought_together, ordered_together, ways_of

_MOST = 12
"""Ways that are priced: each alone, then two together, and so on."""


@dataclass(frozen=True, slots=True)
class WayCost:
    """A way of buying: the ``orders`` by shop, and whether carried home; what its bars, their cuts and the other
    charges come to, for the ``tubes`` that those shops sell, and whether nothing less is possible with these orders."""

    orders: tuple[tuple[str, bool], ...]
    bars: Decimal
    charges: Decimal
    proven: bool
    cuts: Decimal = Decimal(0)
    tubes: tuple[str, ...] = ()

    @property
    def cost(self) -> Decimal:
        """All together."""
        return self.bars + self.cuts + self.charges


def ways_compared(job: Job, blanks: Sequence[Blank], *, limits: Limits | None = None) -> tuple[WayCost, ...]:
    """The ways of buying what the job needs, with the spares it asks for, cheapest first: each shop by itself, and
    several together where the least total uses each of them. None where there is no choice."""
    limits, posed = limits or Limits(), problems(job, blanks)
    coupled = ordered_together(job, posed)
    ways = ways_of(job)
    if not coupled or len(ways) < 2:
        return ()
    kept = kept_by_default(job, blanks)
    sets = list(_sets(ways))
    share = limits.part(1 / len(sets))
    found: dict[frozenset[tuple[str, bool]], WayCost] = {}
    for allowed in sets:
        without = [way for way in ways if way not in allowed]
        bought = bought_together(job, coupled, kept, share, without)
        if bought.cost is not None and bought.used == frozenset(allowed):
            bars, cuts = _bars(bought), _cuts(bought, job)
            charges, tubes = bought.cost - bars - cuts, tuple(one.tube for one in coupled)
            found[bought.used] = WayCost(allowed, bars, charges, bought.bound == bought.cost, cuts, tubes)
    return tuple(sorted(found.values(), key=lambda one: (one.cost, len(one.orders), one.orders)))


def _sets(ways: Sequence[tuple[str, bool]]) -> Iterator[tuple[tuple[str, bool], ...]]:
    """Sets of ways with each shop once, the smallest first."""
    every = (chosen for size in range(1, len(ways) + 1) for chosen in combinations(ways, size))
    return islice((chosen for chosen in every if len({shop for shop, _ in chosen}) == len(chosen)), _MOST)


def _bars(bought: Together) -> Decimal:
    """What the bars cost at their price."""
    assert bought.bars is not None
    return sum(
        (
            (row.price or Decimal(0)) * count
            for problem, counts in zip(bought.posed, bought.bars, strict=True)
            for row, stock, count in zip(problem.rows, problem.stocks, counts, strict=True)
            if not stock.owned
        ),
        Decimal(0),
    )


def _cuts(bought: Together, job: Job) -> Decimal:
    """What the shops charge for cutting bars."""
    charged = {shop.name: shop.cut or Decimal(0) for shop in job.shops}
    parts = (row for problem in bought.posed for row in problem.rows if isinstance(row, PartRow))
    return sum((charged[row.shop] for row in parts if row.number), Decimal(0))
