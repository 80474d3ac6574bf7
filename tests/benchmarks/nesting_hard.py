"""Tight jobs of 201 and 202 unlike pieces, a third of them without a plan on the linear bound, and the same with a
little room: how many are proven.

Run by hand: python tests/benchmarks/nesting_hard.py [SECONDS [SEEDS [CAPACITY [ROOM ...]]]]
For example 60 6 2500 0: six of each kind, without room. Capacity 10000 makes 402 and 403 pieces. The limit is in
seconds of the processor, so that a busy machine proves as many. Nothing else tells these jobs from one another: the
construction (see ../nesting/hard_cases.py) says which number of bars is the least. With room (one piece or two a unit
shorter) it does not: then a proof is one by the bound.
"""

import random
import resource
import sys
import time
from contextlib import suppress
from itertools import product
from pathlib import Path
from typing import NamedTuple

from cutplan.nesting import Piece, Stock, pack

sys.path.insert(0, str(Path(__file__).parents[1] / "nesting"))
from hard_cases import PETERSEN, PRISM, core, grown, halved

TRIPLETS = {2_500: 62, 10_000: 129}
ROOMS = (0, 1, 2)


class Kind(NamedTuple):
    """What the core is made from, whether one of its pieces is cut in two, and bars beyond the bound."""

    edges: list[tuple[int, int]]
    in_two: bool
    beyond: int


KINDS = {
    "no plan on the bound": Kind(PETERSEN, False, 1),
    "a plan, one piece in two": Kind(PETERSEN, True, 0),
    "a plan, three colours": Kind(PRISM, False, 0),
}


def made(seed: int, capacity: int, kind: Kind) -> list[int]:
    """The pieces; the core is made again where it leaves no room for so many triplets."""
    dice = random.Random(seed)
    while True:
        pieces = core(dice, capacity, kind.edges)
        if kind.in_two:
            pieces = halved(dice, pieces, capacity)
        with suppress(ValueError):
            return grown(dice, pieces, capacity, TRIPLETS[capacity])


def main() -> None:
    """A line for each job, and the count."""
    limit = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    seeds = int(sys.argv[2]) if len(sys.argv) > 2 else 3
    capacities = [int(sys.argv[3])] if len(sys.argv) > 3 else list(TRIPLETS)
    rooms = [int(word) for word in sys.argv[4:]] or ROOMS
    pack([Piece(9, 1)], [Stock(10, 1)])  # the solver's libraries are loaded once, before any time is taken
    times = []
    proven = 0
    for capacity, room, seed, name in product(capacities, rooms, range(seeds), KINDS):
        dice = random.Random(seed)
        pieces = made(seed, capacity, KINDS[name])
        for _ in range(room):
            pieces[dice.randrange(len(pieces))] -= 1
        end = time.process_time() + limit
        packing = pack(
            [Piece(length, 1) for length in pieces],
            [Stock(capacity, 1)],
            second_aims=False,
            time_limit=100 * limit,  # never comes, but says that there is time
            stop=lambda at=end: time.process_time() > at,
        )
        times.append(time.process_time() - (end - limit))
        least = "unknown" if room else TRIPLETS[capacity] + 3 + KINDS[name].beyond
        good = packing.proven and (room > 0 or packing.cost == least)
        proven += good
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
        print(
            f"{capacity:6} {name}, {len(pieces)} pieces, seed {seed}, room {room}, least {least}: {packing.cost} "
            f"{packing.status.value}, bound {packing.bound}, {times[-1]:.1f} s, {memory} MB so far",
            flush=True,
        )
    print(f"{proven} of {len(times)} proven; mean {sum(times) / len(times):.1f} s, worst {max(times):.1f} s")


if __name__ == "__main__":
    main()
