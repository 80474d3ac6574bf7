"""Bars that a seller cuts into parts before they come, the places of the cuts free: cutting stock in two stages.

What is asked of such a bar is only that its pieces fall into groups, one to a part, each within a part's room and all
of them together within the bar (two stages after Gilmore and Gomory 1965, the widths of the first stage free). A part
is then as long as its group needs, and what is over goes to any of them. So there are no places to choose from:

- the value of the best pattern, which the linear program and its bound need, is the best sum of values of groups, by
  dynamic programming over the rooms (a group may take of a kind what another took too: the bound only gets weaker);
- whether given bars hold all pieces is settled by an integer program that puts pieces into parts.

A bar in so many parts is a stock of its own, so that each may have its price. `Stock.length` of it is that of a bar in
one part which holds all that it does, and more: what is impossible there is impossible here too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cutplan.nesting.clock import Clock
from cutplan.nesting.instance import Instance
from cutplan.nesting.knapsack import Counts
from cutplan.nesting.master import Duals, Master

_NEVER = -(1 << 60)


@dataclass(frozen=True, slots=True)
class Parts:
    """How a bar may be cut into ``count`` parts. Every piece takes its length and a kerf of its part's room: that of a
    part at an ``end`` of the bar, or in the ``middle``. What the parts take, and ``each`` (which may be below 0) for
    every one that is not empty, is no more than the ``whole``."""

    count: int
    end: int
    middle: int
    whole: int
    each: int

    @property
    def rooms(self) -> tuple[int, ...]:
        """The rooms of the parts, from one end of the bar to the other."""
        return (self.end, *(self.middle,) * (self.count - 2), self.end)

    @property
    def as_one(self) -> int:
        """The room of a bar in one part that holds all that this one does."""
        most = max(self.whole - self.each * used for used in (1, self.count))
        return max(0, min(most, sum(self.rooms)))


Loads = tuple[int, ...]
"""What the pieces of each part take of its room, from one end of the bar to the other."""


class CutMaster(Master):
    """The linear master where some stocks are bars in ``parts``, by stock."""

    parts: Sequence[Parts | None] = ()

    def _price(self, raw: Sequence[float], scale: int, clock: Clock) -> tuple[Duals, list[tuple[int, int, Counts]]]:
        duals, offers = super()._price(raw, scale, clock)
        if any(ends != (0, 0) for ends in self.instance.kinds):
            return duals, offers  # shared cuts: the bar in one part, which holds no less, gives a bound too
        cut = {stock: one for stock, one in enumerate(self.parts) if one is not None}
        if not cut:
            return duals, offers
        groups = Groups(self.instance, self.demand, duals.values, max(one.middle for one in cut.values()), clock)
        tops = list(duals.tops)
        offers = [offer for offer in offers if offer[0] not in cut]
        for one in dict.fromkeys(cut.values()):
            worth, pattern = groups.best(one)
            for stock in (stock for stock, same in cut.items() if same == one):
                tops[stock] = worth
                if self.limits[stock] is None or self.limits[stock]:
                    offers.append((stock, worth, pattern))
        return Duals(duals.values, tuple(tops), duals.scale), offers


class Groups:
    """The best value of a group of pieces within every room up to ``most``, and of several groups together."""

    def __init__(
        self, instance: Instance, demand: Sequence[int], values: Sequence[int], most: int, clock: Clock
    ) -> None:
        self.weights, self.demand, self.values = instance.weights, demand, values
        self.clock = clock
        best: NDArray[np.int64] = np.zeros(most + 1, dtype=np.int64)
        self._took: list[tuple[int, int, NDArray[np.bool_]]] = []
        for item, (weight, value) in enumerate(zip(self.weights, values, strict=True)):
            count = min(demand[item], most // weight)
            size = 1
            while value > 0 and count > 0:
                clock.check()
                here = min(size, count)
                count, size = count - here, size * 2
                offer = best[: most + 1 - weight * here] + value * here
                took = np.zeros(most + 1, dtype=np.bool_)
                took[weight * here :] = offer > best[weight * here :]
                best[weight * here :] = np.maximum(best[weight * here :], offer)
                self._took.append((item, here, took))
        self.worth = best
        self.steps: NDArray[np.int64] = np.flatnonzero(np.append(True, best[1:] != best[:-1])).astype(np.int64)
        """The rooms at which more can be had."""

    def best(self, parts: Parts) -> tuple[int, Counts]:
        """The greatest value of a pattern on a bar in ``parts``, and such a pattern, of no kind more than is wanted."""
        top, rooms = 0, list[int]()
        for used in range(1, parts.count + 1):
            left = parts.whole - parts.each * used
            at_ends = max(0, used - (parts.count - 2))
            caps = (*(parts.end,) * at_ends, *(parts.middle,) * (used - at_ends))
            if left < 0 or parts.end < 0:
                continue
            worth, taken = self._shared(caps, left)
            if worth > top:
                top, rooms = worth, taken
        counts: dict[int, int] = {}
        for room in rooms:
            for item, count in self._group(room).items():
                counts[item] = min(counts.get(item, 0) + count, self.demand[item])
        return top, tuple(sorted(counts.items()))

    def _shared(self, caps: Sequence[int], whole: int) -> tuple[int, list[int]]:
        """The best of one group within each of ``caps``, all of them within ``whole``; and their rooms."""
        first, *others = caps
        if not others:
            room = min(first, whole)
            return int(self.worth[room]), [room]
        if len(others) == 1:
            mine = self.steps[self.steps <= min(first, whole)]
            theirs = np.minimum(whole - mine, others[0])
            sums = self.worth[mine] + self.worth[theirs]
            at = int(np.argmax(sums))
            return int(sums[at]), [int(mine[at]), int(theirs[at])]
        # So many groups: the best of the first ones within every room, one group more at a time.
        held = self._within(first, whole)
        layers = []
        for cap in others[:-1]:
            self.clock.check()
            layer = held.copy()
            for room in self.steps[self.steps <= min(cap, whole)]:
                np.maximum(layer[room:], held[: whole + 1 - room] + self.worth[room], out=layer[room:])
            layers.append(held)
            held = layer
        mine = self.steps[self.steps <= min(others[-1], whole)]
        sums = self.worth[mine] + held[whole - mine]
        at = int(np.argmax(sums))
        rooms, left = [int(mine[at])], int(whole - mine[at])
        for cap, before in zip(reversed(others[:-1]), reversed(layers), strict=True):
            mine = self.steps[self.steps <= min(cap, left)]
            here = int(mine[np.argmax(self.worth[mine] + before[left - mine])])
            rooms.append(here)
            left -= here
        return int(sums[at]), [*rooms, min(first, left)]

    def _within(self, cap: int, whole: int) -> NDArray[np.int64]:
        """The best of one group within ``cap``, by the room there is."""
        held = np.full(whole + 1, self.worth[min(cap, whole)], dtype=np.int64)
        held[: min(cap, whole) + 1] = self.worth[: min(cap, whole) + 1]
        return held

    def _group(self, room: int) -> dict[int, int]:
        counts: dict[int, int] = {}
        for item, size, took in reversed(self._took):
            if took[room]:
                counts[item] = counts.get(item, 0) + size
                room -= self.weights[item] * size
        return counts


def held_in_parts(
    instance: Instance, parts: Sequence[Parts | None], mix: Sequence[int], clock: Clock
) -> tuple[tuple[int, Loads], ...] | bool | None:
    """Whether so many bars of each stock (``mix``) hold every piece of ``instance``, which shares no cuts: what the
    parts of each bar in parts take, with its stock; False: they do not; None: the time is up."""
    from ortools.sat.python import cp_model

    model: Any = cp_model.CpModel()
    weights, demand = instance.weights, instance.demand
    cut: list[tuple[int, list[Any]]] = []
    puts: list[list[Any]] = [[] for _ in weights]

    def part(room: int) -> Any:
        """What the pieces put into a part of this ``room`` take."""
        counts = [
            model.new_int_var(0, min(wanted, max(room, 0) // weight), "")
            for weight, wanted in zip(weights, demand, strict=True)
        ]
        for put, count in zip(puts, counts, strict=True):
            put.append(count)
        load = model.new_int_var(0, max(room, 0), "")
        model.add(load == sum(weight * count for weight, count in zip(weights, counts, strict=True)))
        return load

    for stock, (count, one) in enumerate(zip(mix, parts, strict=True)):
        firsts = []
        for _ in range(min(count, sum(demand))):
            if one is None:
                firsts.append(part(instance.capacities[stock]))
                continue
            loads = [part(room) for room in one.rooms]
            used = [model.new_bool_var("") for _ in loads]
            for load, room, filled in zip(loads, one.rooms, used, strict=True):
                model.add(load <= max(room, 0) * filled)
            model.add(sum(loads) + one.each * sum(used) <= one.whole)
            model.add(loads[0] >= loads[-1])
            for here, beyond in pairwise(loads[1:-1]):
                model.add(here >= beyond)
            cut.append((stock, loads))
            firsts.append(loads[0])
        for here, beyond in pairwise(firsts):
            model.add(here >= beyond)
    for put, wanted in zip(puts, demand, strict=True):
        model.add(sum(put) == wanted)
    solver, answer = clock.solve_model(model)
    if answer in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return tuple((stock, tuple(int(solver.value(load)) for load in loads)) for stock, loads in cut)
    return False if answer == cp_model.INFEASIBLE else None
