"""Plans at once: the fullest bar for its money, again and again; and best fit by falling length."""

from __future__ import annotations

from collections.abc import Sequence

from cutplan.nesting.master import Column
from cutplan.nesting.task import Task


def take(demand: Sequence[int], column: Column) -> list[int]:
    """The demand left after one bar of this column."""
    left = list(demand)
    for item, count in column[1]:
        left[item] = max(0, left[item] - count)
    return left


def fullest(task: Task, demand: Sequence[int], limits: Sequence[int], bend: float) -> list[Column] | None:
    """Fill the bar that holds the most for its money, as often as it serves, until all is cut; None where
    the bars run out. ``bend`` above 1 favours long pieces."""
    left, lim = list(demand), list(limits)
    heavy = task.weights[0]
    values = [max(1, round(1_000_000 * (weight / heavy) ** bend)) for weight in task.weights]
    done: list[Column] = []
    while any(left):
        table = task.table(values, left)
        whole = sum(v * n for v, n in zip(values, left, strict=True))
        offers = []
        for stock, capacity in enumerate(task.capacities):
            if lim[stock]:
                worth, counts = table.patterns(capacity, 1)[0] if capacity >= 0 else (0, ())
                if counts:
                    price = task.prices[stock]
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


def best_fit(task: Task, demand: Sequence[int], mix: Sequence[int]) -> list[Column] | None:
    """The bars of ``mix``, each piece by falling length where it leaves the least; None where one is left
    over. Shared cuts are not counted on, so that it errs on the safe side."""
    rooms = [(task.capacities[k], k) for k, n in enumerate(mix) for _ in range(n)]
    loads = [capacity for capacity, _ in rooms]
    bars: list[dict[int, int]] = [{} for _ in rooms]
    for item, count in enumerate(demand):
        weight = task.weights[item]
        for _ in range(count):
            places = [(room, place) for place, room in enumerate(loads) if room >= weight]
            if not places:
                return None
            place = min(places)[1]
            loads[place] -= weight
            bars[place][item] = bars[place].get(item, 0) + 1
    return [(rooms[p][1], tuple(sorted(bar.items()))) for p, bar in enumerate(bars) if bar]
