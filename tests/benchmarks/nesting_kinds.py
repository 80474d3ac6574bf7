"""Seeded jobs of many kinds, most of them with next to no room: which stay open.

Run by hand: python tests/benchmarks/nesting_kinds.py [SECONDS [FIRST LAST [WORD]]]
Seeds from FIRST to before LAST, of the kinds with this word in their names. The limit is in seconds of the processor.
Plans are hard to find, and bounds hard to raise, where there is next to no room. So pieces are shortened until only as
much length is left over in all as was drawn by lot; or, where bars cannot be filled to their ends anyway ("brim"), they
are lengthened as long as the linear bound, rounded up, stays what it is. A plan that is not proven, or a proof that
took longer than five seconds, has its line; then how many were proven, how many plans take more than that bound, and
the mean and the worst time.
"""

import math
import random
import sys
import time
from bisect import bisect_right
from collections import Counter
from collections.abc import Callable, Iterator
from fractions import Fraction

from cutplan.nesting import Piece, Stock, pack
from cutplan.nesting.clock import Clock
from cutplan.nesting.instance import make
from cutplan.nesting.master import Master

Job = tuple[list[Piece], list[Stock]]
_LONG = 5.0


def unlike(dice: random.Random, capacity: int, count: int, low: Fraction, high: Fraction, most_room: int) -> Job:
    """So many pieces between these parts of a bar, and room of up to ``most_room`` units in all bars together."""
    shortest, longest = max(1, int(capacity * low)), int(capacity * high)
    lengths = [dice.randint(shortest, longest) for _ in range(count)]
    room = dice.randint(0, most_room)
    over = (sum(lengths) + room) % capacity
    while over:
        place = dice.randrange(count)
        less = min(over, lengths[place] - shortest, max(1, capacity // 50))
        lengths[place] -= less
        over -= less
    return [Piece(length, n) for length, n in Counter(lengths).items()], [Stock(capacity, 1)]


def parts(
    low: tuple[int, int], high: tuple[int, int], counts: range, capacities: tuple[int, ...], room: int
) -> Callable[[random.Random], Job]:
    """Jobs of unlike pieces between two parts of a bar."""

    def made(dice: random.Random) -> Job:
        return unlike(dice, dice.choice(capacities), dice.choice(counts), Fraction(*low), Fraction(*high), room)

    return made


def repeated(dice: random.Random) -> Job:
    """Few lengths, many of each."""
    pieces, stocks = unlike(
        dice, dice.choice((600, 1_000, 2_000)), dice.randint(20, 60), Fraction(1, 20), Fraction(1, 2), 8
    )
    return [Piece(piece.length, dice.randint(1, 9)) for piece in pieces], stocks


def priced(dice: random.Random) -> Job:
    """Several bars at prices nearly by their length."""
    kinds = dice.randint(2, 5)
    capacities = dice.sample(range(300, 1_200, 50), kinds)
    pieces, _ = unlike(dice, max(capacities), dice.randint(60, 160), Fraction(1, 12), Fraction(1, 2), 8)
    fit = [piece for piece in pieces if piece.length <= max(capacities)]
    return fit, [Stock(length, length + dice.randint(-length // 40, length // 40)) for length in capacities]


def limited(dice: random.Random) -> Job:
    """Several bars, all but the longest to be had only so often."""
    pieces, stocks = priced(dice)
    top = max(stock.length for stock in stocks)
    return pieces, [
        Stock(each.length, each.price, None if each.length == top else dice.randint(1, 12)) for each in stocks
    ]


def linear(lengths: list[int], capacity: int) -> Fraction:
    """The linear bound on the number of bars."""
    instance = make([Piece(length, n) for length, n in Counter(lengths).items()], [Stock(capacity, 1)], 0, None, None)
    penalties = [4.0 * weight / min(instance.weights) for weight in instance.weights]
    return Master(instance, instance.demand, [None], [1], penalties).generate(2_000, Clock(None)).bound


def brim(dice: random.Random) -> Job:
    """Unlike pieces, lengthened unit by unit as long as the linear bound allows."""
    capacity, count = 1_000, dice.choice((160, 180, 200))
    spans = dice.choice((((1, 800),), ((50, 700),), ((200, 600),), ((150, 350), (500, 700)), ((150, 330), (340, 660))))
    lengths = [dice.randint(*dice.choice(spans)) for _ in range(count)]
    order = [dice.randrange(count) for _ in range(2 * capacity)]

    def longer(times: int) -> list[int]:
        more = Counter(order[:times])
        return [min(length + more[place], capacity) for place, length in enumerate(lengths)]

    most = math.ceil(linear(lengths, capacity))
    times = bisect_right(range(len(order)), most, key=lambda each: math.ceil(linear(longer(each), capacity))) - 1
    return [Piece(length, n) for length, n in Counter(longer(times)).items()], [Stock(capacity, 1)]


KINDS: dict[str, Callable[[random.Random], Job]] = {
    "two a bar": parts((3, 10), (7, 10), range(80, 201, 20), (300, 500, 1_000, 2_500), 12),
    "triplets": parts((1, 4), (1, 2), range(60, 241, 30), (300, 500, 1_000, 2_500), 6),
    "four a bar": parts((1, 6), (1, 3), range(80, 201, 20), (500, 1_000, 2_500), 4),
    "wide": parts((1, 1_000), (4, 5), range(160, 201, 10), (1_000,), 6),
    "wide, finer": parts((1, 20), (7, 10), range(100, 201, 20), (1_500, 2_500), 4),
    "long bars": parts((1, 20), (2, 5), range(60, 121, 20), (30_000, 60_000), 20),
    "long bars, triplets": parts((1, 5), (1, 2), range(60, 151, 30), (30_000, 60_000), 20),
    "repeated": repeated,
    "priced": priced,
    "limited": limited,
    "brim": brim,
}


def jobs(first: int, last: int, word: str) -> Iterator[tuple[str, Job]]:
    """The jobs by name."""
    for seed in range(first, last):
        for name, kind in KINDS.items():
            if word in name:
                yield f"{name}, seed {seed}", kind(random.Random(f"{name} {seed}"))


def main() -> None:
    """A line for each job that is open or took long, and the count."""
    limit = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    first, last = (int(sys.argv[2]), int(sys.argv[3])) if len(sys.argv) > 3 else (0, 30)
    pack([Piece(9, 1)], [Stock(10, 1)])  # the solver's libraries are loaded once, before any time is taken
    times: list[float] = []
    proven = more = 0
    for name, (pieces, stocks) in jobs(first, last, "".join(sys.argv[4:5])):
        end = time.process_time() + limit
        packing = pack(
            pieces,
            stocks,
            second_aims=False,
            time_limit=100 * limit,  # never comes, but says that there is time
            stop=lambda at=end: time.process_time() > at,
        )
        times.append(time.process_time() - (end - limit))
        proven += packing.proven
        more += packing.cost is not None and packing.cost > math.ceil(packing.lp_bound or packing.cost)
        if not packing.proven or times[-1] > _LONG:
            count, capacity = sum(piece.count for piece in pieces), max(stock.length for stock in stocks)
            print(
                f"{name}, {count} pieces, {capacity}: {packing.cost} {packing.status.value}, bound {packing.bound} "
                f"({float(packing.lp_bound or 0):.4f}), {times[-1]:.1f} s",
                flush=True,
            )
    print(
        f"{proven} of {len(times)} proven, {more} beyond the bound; "
        f"mean {sum(times) / len(times):.2f} s, worst {max(times):.1f} s"
    )


if __name__ == "__main__":
    main()
