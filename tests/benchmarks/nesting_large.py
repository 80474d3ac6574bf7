"""2,000 blanks of 60 lengths on four priced stock lengths, one of them limited: gap, time and memory.

Run by hand: python tests/benchmarks/nesting_large.py [SECONDS]
Lengths in 0.1 mm. The aim: within 0.5 % of the bound in 10 s, under 600 MB.
"""

import random
import resource
import sys
import time

from cutplan.nesting import Piece, Stock, pack

STOCKS = [Stock(60_000, 4900), Stock(40_000, 3500), Stock(30_000, 2800), Stock(20_000, 2000, 30)]


def main() -> None:
    """Three seeded jobs, one line for each."""
    limit = float(sys.argv[1]) if len(sys.argv) > 1 else 10.0
    for seed in range(3):
        dice = random.Random(seed)
        lengths = [dice.randint(2_500, 24_000) for _ in range(60)]
        counts = [1] * 60
        for _ in range(2_000 - 60):
            counts[dice.randrange(60)] += 1
        pieces = [Piece(length, count) for length, count in zip(lengths, counts, strict=True)]
        start = time.perf_counter()
        packing = pack(pieces, STOCKS, kerf=20, time_limit=limit)
        seconds = time.perf_counter() - start
        gap = 100 * ((packing.cost or 0) / packing.bound - 1)
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
        print(f"seed {seed}: {packing.cost} {packing.status.value}, gap {gap:.3f} %, {seconds:.1f} s, {memory} MB")


if __name__ == "__main__":
    main()
