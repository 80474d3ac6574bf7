"""Tight jobs of 201 unlike pieces, half of them without a plan on the linear bound, and the same with a little room:
how many are proven.

Run by hand: python tests/benchmarks/nesting_hard.py [SECONDS [SEEDS [CAPACITY ...]]]
The limit is in seconds of the processor, so that a busy machine proves as many. Nothing else tells these jobs from one
another: the construction (see ../nesting/hard_cases.py) says which number of bars is the least. With room (one piece or
two a unit shorter) it does not: then a proof is one by the bound.
"""

import random
import resource
import sys
import time
from itertools import product
from pathlib import Path

from cutplan.nesting import Piece, Stock, pack

sys.path.insert(0, str(Path(__file__).parents[1] / "nesting"))
from hard_cases import PETERSEN, PRISM, core, grown

TRIPLETS = 62
ROOMS = (0, 1, 2)


def main() -> None:
    """A line for each job, and the count."""
    limit = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    seeds = int(sys.argv[2]) if len(sys.argv) > 2 else 3
    capacities = [int(word) for word in sys.argv[3:]] or [2_500, 10_000]
    jobs = list(product(capacities, ROOMS, range(seeds), (PETERSEN, PRISM)))
    proven = jobs_made = 0
    for capacity, room, seed, edges in jobs:
        dice = random.Random(seed)
        try:
            pieces = grown(dice, core(dice, capacity, edges), capacity, TRIPLETS)
        except ValueError as error:
            print(f"{capacity:6} seed {seed}: {error}, left out", flush=True)
            continue
        for _ in range(room):
            pieces[dice.randrange(len(pieces))] -= 1
        jobs_made += 1
        end = time.process_time() + limit
        packing = pack(
            [Piece(length, 1) for length in pieces],
            [Stock(capacity, 1)],
            second_aims=False,
            time_limit=100 * limit,  # never comes, but says that there is time
            stop=lambda at=end: time.process_time() > at,
        )
        seconds = time.process_time() - (end - limit)
        least = "unknown" if room else TRIPLETS + 3 + (edges is PETERSEN)
        good = packing.proven and (room > 0 or packing.cost == least)
        proven += good
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
        print(
            f"{capacity:6} seed {seed}, room {room}, least {least}: {packing.cost} {packing.status.value}, "
            f"bound {packing.bound}, {seconds:.1f} s, {memory} MB so far",
            flush=True,
        )
    print(f"{proven} of {jobs_made} proven")


if __name__ == "__main__":
    main()
