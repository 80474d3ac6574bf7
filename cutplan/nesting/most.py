"""Where the stock cannot serve all: the greatest length of pieces that it can."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from cutplan.nesting.clock import Clock, TimeUpError
from cutplan.nesting.exact import MOST_PATTERNS, choose
from cutplan.nesting.greedy import at_once
from cutplan.nesting.master import Column, Master
from cutplan.nesting.realise import trim
from cutplan.nesting.task import Task


@dataclass(frozen=True)
class Served:
    """What can be served: the task of it alone, a plan for that, whether no more can be."""

    task: Task
    plan: list[Column]
    proven: bool


def serve_most(task: Task, lengths: Sequence[int], clock: Clock) -> Served | None:
    """The plan that serves the greatest length (``lengths`` by kind, without kerf), then the most pieces; None
    where nothing is known in time."""
    try:
        plan, proven = _most(task, lengths, clock)
    except TimeUpError:
        plan, over = at_once(task, task.demand, task.limits)
        if any(n and task.spare(item) for item, n in enumerate(over)):
            return None
        proven = False
    served = [0] * len(task.demand)
    for _, counts in plan:
        for item, count in counts:
            served[item] += count
    demand = tuple(min(a, b) for a, b in zip(served, task.demand, strict=True))
    members = tuple(kept[:count] for kept, count in zip(task.members, demand, strict=True))
    sub = replace(task, demand=demand, members=members)
    return Served(sub, trim(sub, plan), proven)


def _most(task: Task, lengths: Sequence[int], clock: Clock) -> tuple[list[Column], bool]:
    """The plan, and whether it is proven. Raises TimeUpError."""
    total = sum(task.demand)
    # One unit of length outweighs any count of pieces, and a spare all pieces together.
    fines = [(total + 1) * length + 1 for length in lengths]
    whole = sum(fine * count for fine, count in zip(fines, task.demand, strict=True)) + 1
    fines = [whole if task.spare(item) else fine for item, fine in enumerate(fines)]
    master = Master(task, task.demand, task.limits, [0] * len(task.prices), 0.0, fines)
    relaxed = master.generate(1000, clock)
    answer = choose(task, task.limits, master.columns, clock, fines)
    if answer is None:
        raise TimeUpError
    plan, lost = answer
    proven = lost <= -(-relaxed.bound // 1)
    if not proven:
        slack = int((lost - 1 - relaxed.bound) * relaxed.duals.scale) + 1
        try:
            columns = _near(task, relaxed.duals.values, relaxed.duals.tops, slack, clock)
        except TimeUpError:
            columns = None
        if columns is not None:
            answer = choose(task, task.limits, columns, clock, fines)
            if answer is not None:
                proven = not clock.up
                if answer[1] < lost:
                    plan = answer[0]
    return plan, proven


def _near(task: Task, values: tuple[int, ...], tops: tuple[int, ...], slack: int, clock: Clock) -> list[Column] | None:
    table = task.table(values, task.demand, clock, keep=True)
    columns: list[Column] = []
    for stock, limit in enumerate(task.limits):
        if limit:
            found = table.near(task.capacities[stock], tops[stock] - slack, MOST_PATTERNS)
            if found is None:
                return None
            columns += [(stock, counts) for counts in found]
    return columns
