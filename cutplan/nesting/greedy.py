"""Plans at once: the fullest bar for its money, again and again; and best fit by falling length, for a given mix of
bars or without any search."""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Sequence

from cutplan.nesting.clock import Clock, TimeUpError
from cutplan.nesting.instance import Instance
from cutplan.nesting.master import Column

_PICKED = 40
"""Pieces that a bar is filled from at a time."""


def take(demand: Sequence[int], column: Column) -> list[int]:
    """The demand left after one bar of this column."""
    left = list(demand)
    for item, count in column[1]:
        left[item] = max(0, left[item] - count)
    return left


def fullest(
    instance: Instance, demand: Sequence[int], limits: Sequence[int], bend: float, clock: Clock
) -> list[Column] | None:
    """Fill the bar that holds the most for its money, as often as it serves, until all is cut; None where
    the bars run out. ``bend`` above 1 favours long pieces. What is left once the time is up is cut without search."""
    left, lim = list(demand), list(limits)
    heavy = instance.weights[0]
    values = [max(1, round(1_000_000 * (weight / heavy) ** bend)) for weight in instance.weights]
    done: list[Column] = []
    while any(left):
        try:
            table = instance.table(values, left, clock)
        except TimeUpError:
            rest, over = at_once(instance, left, lim)
            return None if any(over) else done + rest
        whole = sum(v * n for v, n in zip(values, left, strict=True))
        offers = []
        for stock, capacity in enumerate(instance.capacities):
            if lim[stock]:
                worth, counts = table.patterns(capacity, 1)[0] if capacity >= 0 else (0, ())
                if counts:
                    price = instance.prices[stock]
                    # A bar that takes all that is left ends the plan: then only its price counts.
                    key = (0, price) if worth >= whole else (1, price / worth)
                    offers.append((key, stock, counts))
        if not offers:
            return None
        _, stock, counts = min(offers)
        times = min([lim[stock], *(left[i] // n for i, n in counts)])
        for _ in range(times):
            left = take(left, (stock, counts))
        done += [(stock, counts)] * times
        lim[stock] -= times
    return done


def best_fit(instance: Instance, demand: Sequence[int], mix: Sequence[int]) -> list[Column] | None:
    """The bars of ``mix``, each piece by falling length where it leaves the least; None where one is left
    over. Shared cuts are not counted on, so that it errs on the safe side."""
    rooms = [(instance.capacities[k], k) for k, n in enumerate(mix) for _ in range(n)]
    loads = [capacity for capacity, _ in rooms]
    bars: list[dict[int, int]] = [{} for _ in rooms]
    for item, count in enumerate(demand):
        weight = instance.weights[item]
        for _ in range(count):
            places = [(room, place) for place, room in enumerate(loads) if room >= weight]
            if not places:
                return None
            place = min(places)[1]
            loads[place] -= weight
            bars[place][item] = bars[place].get(item, 0) + 1
    return [(rooms[p][1], tuple(sorted(bar.items()))) for p, bar in enumerate(bars) if bar]


def at_once(instance: Instance, demand: Sequence[int], limits: Sequence[int]) -> tuple[list[Column], list[int]]:
    """Bars without any search, and what they leave over of each kind where the bars run out: each piece by falling
    length where it leaves the least, a bar opened where it fits none, each bar at last changed for the cheapest that
    holds as much. Shared cuts are not counted on. A plan for thousands of pieces within a fraction of a second."""
    kinds = [k for k, limit in enumerate(limits) if limit]
    orders = (
        sorted(kinds, key=lambda k: (instance.prices[k] / max(1, instance.capacities[k]), -instance.capacities[k], k)),
        sorted(kinds, key=lambda k: (-instance.capacities[k], instance.prices[k], k)),
    )
    plans = [_in_order(instance, demand, limits, order) for order in orders]
    return min(
        plans,
        key=lambda plan: (
            sum(n * weight for n, weight in zip(plan[1], instance.weights, strict=True)),
            sum(instance.prices[stock] for stock, _ in plan[0]),
        ),
    )


def _in_order(
    instance: Instance, demand: Sequence[int], limits: Sequence[int], order: Sequence[int]
) -> tuple[list[Column], list[int]]:
    """``at_once`` where bars are opened in this order of their kinds."""
    free = list(limits)
    stocks: list[int] = []
    bars: list[dict[int, int]] = []
    rooms: list[tuple[int, int]] = []
    over = [0] * len(demand)
    for item, count in enumerate(demand):
        weight = instance.weights[item]
        for placed in range(count):
            at = bisect_left(rooms, (weight, -1))
            if at < len(rooms):
                room, bar = rooms.pop(at)
            else:
                stock = next((k for k in order if free[k] and instance.capacities[k] >= weight), None)
                if stock is None:
                    over[item] = count - placed
                    break
                free[stock] -= 1
                room, bar = instance.capacities[stock], len(bars)
                stocks.append(stock)
                bars.append({})
            bars[bar][item] = bars[bar].get(item, 0) + 1
            insort(rooms, (room - weight, bar))
    for room, bar in rooms:
        load = instance.capacities[stocks[bar]] - room
        free[stocks[bar]] += 1
        stocks[bar] = min(
            (k for k in order if free[k] and instance.capacities[k] >= load),
            key=lambda k: (instance.prices[k], instance.capacities[k], k),
        )
        free[stocks[bar]] -= 1
    return [(stock, tuple(sorted(bar.items()))) for stock, bar in zip(stocks, bars, strict=True)], over


def filled(
    instance: Instance, demand: Sequence[int], limits: Sequence[int], few: int, longest_first: bool
) -> tuple[list[Column], list[int], list[int]]:
    """Bars filled to the end as far as some dozens of pieces at a time can do that, picked evenly from the longest to
    the shortest; the longest of all goes on every second bar where ``longest_first``. Bars that cost the least for
    their length come first, as long as there is more than a bar's length left and more than ``few`` pieces. Then these,
    the pieces left and the bars left. Shared cuts are not counted on."""
    left, free = list(demand), list(limits)
    order = sorted(
        (k for k, limit in enumerate(limits) if limit and instance.capacities[k] > 0),
        key=lambda k: (instance.prices[k] / instance.capacities[k], -instance.capacities[k], k),
    )
    weight, pieces = sum(w * d for w, d in zip(instance.weights, left, strict=True)), sum(left)
    plan: list[Column] = []
    for stock in order:
        capacity = instance.capacities[stock]
        while free[stock] and pieces > few and weight > capacity:
            kinds = [item for item, count in enumerate(left) if count and instance.weights[item] <= capacity]
            if not kinds:
                break
            first = kinds[:1] if longest_first and len(plan) % 2 else []
            counts = _best_filled(instance, capacity, kinds, left, first, len(plan))
            plan.append((stock, counts))
            free[stock] -= 1
            left = take(left, (stock, counts))
            weight -= sum(instance.weights[item] * count for item, count in counts)
            pieces -= sum(count for _, count in counts)
    return plan, left, free


def _best_filled(
    instance: Instance, capacity: int, kinds: Sequence[int], left: Sequence[int], first: Sequence[int], turn: int
) -> tuple[tuple[int, int], ...]:
    """What fills one bar best: ``first``, and others picked evenly, starting elsewhere each ``turn``. The sums that can
    be had are the bits of a whole number."""
    size = min(_PICKED, len(kinds))
    picked = sorted({kinds[(each * len(kinds) // size + turn) % len(kinds)] for each in range(size)})
    several = max(1, _PICKED // len(picked))
    units = [item for item in picked for _ in range(min(several, left[item] - (item in first)))]
    mask = (1 << capacity + 1) - 1
    reached = [1 << sum(instance.weights[item] for item in first)]
    for item in units:
        reached.append(reached[-1] | reached[-1] << instance.weights[item] & mask)
    total = reached[-1].bit_length() - 1
    counts = dict.fromkeys(first, 1)
    for item, before in zip(reversed(units), reversed(reached[:-1]), strict=True):
        if not before >> total & 1:
            counts[item] = counts.get(item, 0) + 1
            total -= instance.weights[item]
    return tuple(sorted(counts.items()))
