"""Thousands of unlike pieces: a bound and a plan by classes of pieces of nearly one weight.

A class has so many pieces that the linear program over classes is solved at once, where that over all pieces takes
minutes. Where a class weighs what its lightest piece weighs, its bound is one for all pieces (rounding weights down as
de la Vega and Lueker 1981 round them up). Where it weighs what its pieces do in the mean, its patterns say which pieces
belong together: each bar is filled after such a pattern, the last piece of it picked from all that are left.
"""

from __future__ import annotations

import random
from bisect import bisect_left, insort
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from operator import neg

import numpy as np

from cutplan.nesting.clock import Clock
from cutplan.nesting.instance import Instance
from cutplan.nesting.knapsack import whole_values
from cutplan.nesting.master import Column, Duals, Master, Relaxed, duals_of
from cutplan.nesting.shared_cuts import machine

_CLASSES = 40
_MOST_CLASSES = 210
_PAIRED = 320  # classes at most where no three pieces go on a bar: then most patterns are known from the start
_TRIED = 8  # pieces of a class tried for the last but one of a bar
_KEPT = 0.6  # of the bars that the linear program takes, so many are filled before it is solved again
_WASTE = 0.005  # of a bar, beyond what its pattern wastes
_STEEP = 3  # times what a length costs: a step of values that is steeper than this is no slope
_SCALE = 1 << 40
_Piece = tuple[int, int]  # weight and kind


def _solved(
    instance: Instance, weights: Sequence[int], demand: Sequence[int], limits: Sequence[int], clock: Clock
) -> Relaxed:
    """The linear program over classes of these weights, the heaviest first. Raises TimeUpError."""
    kinds = ((0, 0),) * len(weights)
    plain = machine(kinds, {})
    assert plain is not None
    classes = replace(instance, weights=tuple(weights), kinds=kinds, demand=tuple(demand), machine=plain, joints={})
    total = sum(demand)
    open_limits = [None if limit >= total else limit for limit in limits]
    master = Master(classes, demand, open_limits, instance.prices)
    for stock, capacity in enumerate(instance.capacities):
        for item, weight in enumerate(weights):
            if limits[stock] and capacity >= weight:
                master.add((stock, ((item, min(capacity // weight, demand[item])),)))
                partner = bisect_left(weights, weight - capacity, key=neg)
                if item < partner < len(weights):
                    master.add((stock, ((item, 1), (partner, 1))))
    return master.generate(400, clock)


def by_class(instance: Instance, clock: Clock) -> Iterator[Duals]:
    """Duals of all pieces after those of classes: the classes whose pieces may lose the most by being taken for the
    lightest of them are halved, again and again. A piece has the value of its class; at last its share of the step to
    the next class, too, unless the step is steep.

    Shared cuts are not counted on: only for an instance without them. Raises TimeUpError."""
    weights, demand = np.array(instance.weights[::-1]), np.array(instance.demand[::-1])
    shares = np.arange(_CLASSES) * int(demand.sum()) / _CLASSES
    starts = np.unique(np.searchsorted(np.cumsum(demand) - demand, shares, side="left").clip(max=len(weights) - 1))
    most = _PAIRED if 3 * instance.weights[-1] > max(instance.capacities) else _MOST_CLASSES
    while True:
        sizes = np.add.reduceat(demand, starts)
        solved = _solved(instance, weights[starts][::-1].tolist(), sizes[::-1].tolist(), instance.limits, clock).duals
        values = np.array(solved.values[::-1], dtype=np.int64)
        steps = np.append(np.diff(values), 0)
        ends = np.append(starts[1:], len(weights))
        lengths = ends - starts
        held = np.repeat(values, lengths)
        yield Duals(tuple(held[::-1].tolist()), solved.tops, solved.scale)
        lost = np.where(lengths > 1, (steps + steps.mean()) * sizes, -1)
        worst = np.argsort(-lost, kind="stable")[: max(1, len(starts) // 2)]
        finer = np.union1d(starts, (starts[worst] + ends[worst]) // 2)
        if len(finer) > most or len(finer) == len(starts):
            break
        starts = finer
    rates = [p / c for p, c in zip(instance.prices, instance.capacities, strict=True) if c > 0 and p > 0]
    widths = np.append(np.diff(weights[starts]), 1)
    slopes = np.where(
        (steps > 0) & (steps <= _STEEP * min(rates, default=0.0) * solved.scale * widths), steps / widths, 0.0
    )
    raw = (
        held / solved.scale
        + (weights - np.repeat(weights[starts], lengths)) * np.repeat(slopes, lengths) / solved.scale
    )
    shared, scale = whole_values(raw[::-1].tolist(), max(1, _SCALE // max(1, *instance.prices)), instance.demand)
    yield duals_of(instance, shared, scale, clock)


def by_halves(instance: Instance, clock: Clock) -> Iterator[Duals]:
    """Duals after the two bounds of Martello and Toth (1990): some small kinds are worth nothing, those that leave less
    of a bar than the least of the others are worth a bar, and what is between is worth its length, or half a bar.

    Shared cuts are not counted on: only for an instance without them. Raises TimeUpError."""
    weights, demand = np.array(instance.weights[::-1]), np.array(instance.demand[::-1])
    stocks = [s for s, c in enumerate(instance.capacities) if c >= weights[-1] and instance.prices[s]]
    if not stocks:
        return
    stock = min(stocks, key=lambda s: (instance.prices[s] / instance.capacities[s], s))
    capacity, price = instance.capacities[stock], instance.prices[stock]
    counted, summed = np.append(0, np.cumsum(demand)), np.append(0, np.cumsum(weights * demand))
    first = np.arange(int(np.searchsorted(weights, capacity // 2, side="right")))
    above = np.searchsorted(weights, capacity - weights[first], side="right")
    whole = 2 * capacity * (counted[-1] - counted[above])
    for between, held in (
        (2 * (summed[above] - summed[first]), 2 * weights),
        (capacity * (counted[above] - counted[first]), np.full(len(weights), capacity)),
    ):
        if held[0] == capacity:  # half a bar: of what there may be three in a bar it is too much
            between = np.where(3 * weights[first] > capacity, between, -whole)
        if len(first):
            at = int(np.argmax(whole + between))
            values = np.where(np.arange(len(weights)) >= above[at], 2 * capacity, held)
            values[: first[at]] = 0
            shared = tuple((values[::-1] * price).tolist())
            yield duals_of(instance, shared, 2 * capacity, clock)


def guided(
    instance: Instance, demand: Sequence[int], limits: Sequence[int], few: int, clock: Clock
) -> tuple[list[Column], list[int], list[int]]:
    """Bars filled after the patterns of a linear program over classes, which is solved again for what is left, as long
    as there are more than ``few`` pieces. Then these, the pieces left and the bars left. Shared cuts are not used.

    Raises TimeUpError."""
    dice = random.Random(0)
    left = sorted((w, i) for i, (w, n) in enumerate(zip(instance.weights, demand, strict=True)) for _ in range(n))
    free, plan = list(limits), []
    while len(left) > few:
        number = min(_CLASSES, len(left) // 4)
        classes = [left[k * len(left) // number : (k + 1) * len(left) // number] for k in reversed(range(number))]
        means = [max(1, round(sum(weight for weight, _ in pieces) / len(pieces))) for pieces in classes]
        use = _solved(instance, means, [len(pieces) for pieces in classes], free, clock).use
        part = _KEPT if len(left) > 4 * few else 1.0
        bars = [column for share, column in use for _ in range(int(part * share))]
        dice.shuffle(bars)
        for pieces in classes:
            dice.shuffle(pieces)
        before = len(left)
        for stock, counts in bars:
            capacity = instance.capacities[stock]
            most = capacity - sum(means[item] * count for item, count in counts) + int(_WASTE * capacity)
            slots = [item for item, count in counts for _ in range(count)]
            dice.shuffle(slots)
            chosen = _filled([(means[item], classes[item]) for item in slots], capacity, left) if free[stock] else []
            if not chosen or capacity - sum(weight for weight, _ in chosen) > most:
                for piece in chosen:
                    insort(left, piece)
                continue
            free[stock] -= 1
            plan.append((stock, tuple(sorted(Counter(item for _, item in chosen).items()))))
        if len(left) == before:
            break
    rest = [0] * len(demand)
    for _, item in left:
        rest[item] += 1
    return plan, rest, free


def _filled(slots: Sequence[tuple[int, list[_Piece]]], room: int, left: list[_Piece]) -> list[_Piece]:
    """Pieces for a bar, taken from those ``left``: of the class of each slot, given with its mean weight, one; but in
    place of the last, and as long as any fits, the heaviest of all. Of several for the last slot but one that is taken
    which leaves the least in the end."""
    chosen: list[_Piece] = []
    for turn, (mean, pieces) in enumerate(slots[:-1], 1):
        while pieces and not _among(left, pieces[-1]):
            pieces.pop()
        tried = [piece for piece in pieces[-_TRIED if turn == len(slots) - 1 else -1 :] if _among(left, piece)]
        if not tried:
            tried = [left[max(0, _place(left, mean))]] if left else []
        tried = [piece for piece in tried if piece[0] <= room]
        if not tried:
            break
        best = min(tried, key=lambda piece: (_over(left, room - piece[0]), piece))
        left.pop(bisect_left(left, best))
        chosen.append(best)
        room -= best[0]
    while left and left[0][0] <= room:
        chosen.append(left.pop(_place(left, room)))
        room -= chosen[-1][0]
    return chosen


def _among(left: Sequence[_Piece], piece: _Piece) -> bool:
    place = bisect_left(left, piece)
    return place < len(left) and left[place] == piece


def _place(left: Sequence[_Piece], room: int) -> int:
    """The place of the heaviest that fits; -1 where none does."""
    return bisect_left(left, (room + 1, -1)) - 1


def _over(left: Sequence[_Piece], room: int) -> int:
    """What the heaviest that fits leaves of the room."""
    place = _place(left, room)
    return room - (left[place][0] if place >= 0 else 0)
