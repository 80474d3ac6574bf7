"""Where the stock is not enough for every piece: the greatest length of pieces that can be cut from it.

Every kind of piece carries a penalty for each one left out: its length. The linear program over patterns bounds the
least penalty; every pattern that a better plan than the one in hand could use is listed (the gap between plan and bound
says how much a pattern may waste), and an integer program over these decides. A second one, at that penalty, leaves out
the fewest pieces.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from cutplan.nesting.clock import Clock, TimeUpError
from cutplan.nesting.enumeration import Program
from cutplan.nesting.extract import trim
from cutplan.nesting.greedy import at_once
from cutplan.nesting.instance import Instance
from cutplan.nesting.listing import near_all
from cutplan.nesting.master import Column, Duals, Master

_MOST_PATTERNS = 20_000


@dataclass(frozen=True)
class Served:
    """What can be cut: the instance of it alone, a plan for that, and whether it is proven that no more can be."""

    instance: Instance
    plan: list[Column]
    proven: bool


def room_for_spares(instance: Instance) -> bool:
    """Whether the bars, with nothing else cut from them, hold the spares. They are all of one length, so counting is
    a proof."""
    return all(
        count <= sum(n * max(0, c // weight) for c, n in zip(instance.capacities, instance.limits, strict=True))
        for item, (weight, count) in enumerate(zip(instance.weights, instance.demand, strict=True))
        if instance.spare(item)
    )


def serve_most(instance: Instance, lengths: Sequence[int], clock: Clock) -> Served | None:
    """The plan that serves the greatest length (``lengths`` by kind, without kerf), then the most pieces, and all
    spares (which must have room, see `room_for_spares`); None where nothing is known in time."""
    try:
        plan, proven = _Least(instance, lengths, clock).run()
    except TimeUpError:
        plan, over = at_once(instance, instance.demand, instance.limits)
        if any(n and instance.spare(item) for item, n in enumerate(over)):
            return None
        proven = False
    served = _served(plan, instance.demand)
    members = tuple(kept[:count] for kept, count in zip(instance.members, served, strict=True))
    sub = replace(instance, demand=served, members=members)
    return Served(sub, trim(sub, plan), proven)


def _served(plan: Sequence[Column], demand: Sequence[int]) -> tuple[int, ...]:
    """How many of each kind a plan serves."""
    held = [0] * len(demand)
    for _, counts in plan:
        for item, count in counts:
            held[item] += count
    return tuple(min(a, b) for a, b in zip(held, demand, strict=True))


class _Least:
    """The search for the least penalty."""

    def __init__(self, instance: Instance, lengths: Sequence[int], clock: Clock) -> None:
        self.instance, self.clock = instance, clock
        # None: may not be left out. The linear program, which must always have an answer, takes a whole bar's length.
        self.penalties = [None if instance.spare(item) else length for item, length in enumerate(lengths)]
        self.soft = [max(instance.capacities) if p is None else p for p in self.penalties]
        self.plan: list[Column] | None = None
        self.lost = 0

    def run(self) -> tuple[list[Column], bool]:
        """The plan, and whether both its length and its count are proven. Raises TimeUpError."""
        master = Master(
            self.instance,
            self.instance.demand,
            self.instance.limits,
            [0] * len(self.instance.prices),
            self.soft,
            exact=True,
        )
        relaxed = master.generate(1000, self.clock)
        self._take_at_once()
        self._improve(master.columns)
        if self.plan is None:
            raise TimeUpError
        columns, proven = self._close(relaxed.bound, relaxed.duals)
        few = self._fewest(columns or master.columns)
        return self.plan, proven and few

    def _close(self, bound: Fraction, duals: Duals) -> tuple[list[Column], bool]:
        """Close the gap between the bound and the plan in hand, as far as the patterns can be listed: where they are
        too many, those that waste half as much first, which may find a plan that leaves fewer to list. The patterns
        listed last, and whether the plan's penalty is proven the least."""
        columns: list[Column] = []
        waste, failed = self.lost - bound, None
        while not self.clock.up:
            listed = self._near(duals, int(waste * duals.scale) + 1)
            if listed is None:
                failed, waste = waste, waste / 2
                if waste * duals.scale < 1:
                    break
                continue
            columns = listed
            if not self._improve(columns):
                break
            if self.lost <= bound + waste:
                return columns, True
            if failed is None or self.lost - bound >= failed:
                break
            waste = self.lost - bound
        return columns, False

    def _take_at_once(self) -> None:
        """The plan that needs no search, where it keeps the spares."""
        plan, over = at_once(self.instance, self.instance.demand, self.instance.limits)
        if not any(n for n, penalty in zip(over, self.penalties, strict=True) if penalty is None):
            self._offer(plan)

    def _offer(self, plan: list[Column]) -> None:
        lost = self._lost(plan)
        if self.plan is None or lost < self.lost:
            self.plan, self.lost = plan, lost

    def _lost(self, plan: Sequence[Column]) -> int:
        return sum((penalty or 0) * n for penalty, n in zip(self.penalties, self._left_out(plan), strict=True))

    def _left_out(self, plan: Sequence[Column]) -> list[int]:
        demand = self.instance.demand
        return [wanted - n for wanted, n in zip(demand, _served(plan, demand), strict=True)]

    def _near(self, duals: Duals, waste: int) -> list[Column] | None:
        """Every pattern that wastes no more than this against the duals, or None where they are too many."""
        instance = self.instance
        table = instance.table(duals.values, instance.demand, self.clock, keep=True)
        floors = [[top - waste] for top in duals.tops]
        return near_all([table], instance.capacities, instance.limits, floors, _MOST_PATTERNS)

    def _improve(self, columns: list[Column]) -> bool:
        """Take up the plan of least penalty over these columns; whether it is known to be the least over them."""
        known = {} if self.plan is None else dict.fromkeys(self.plan)
        columns = list(dict.fromkeys(columns) | known)
        program = Program(self.instance, self.instance.limits, columns, self.penalties)
        answer = program.solve(self.clock)
        if answer:
            self._offer(program.plan())
        return program.settled

    def _fewest(self, columns: list[Column]) -> bool:
        """Among the plans of this penalty over these columns, take up the one that leaves out the fewest pieces;
        whether it is known to be that."""
        assert self.plan is not None
        columns = list(dict.fromkeys(columns) | dict.fromkeys(self.plan))
        program = Program(self.instance, self.instance.limits, columns, self.penalties, within=self.lost)
        if program.solve(self.clock):
            plan = program.plan()
            if self._lost(plan) <= self.lost and sum(self._left_out(plan)) < sum(self._left_out(self.plan)):
                self.plan, self.lost = plan, self._lost(plan)
        return program.settled
