"""2,000 blanks of 60 lengths on four priced stock lengths, one of them limited, and 5,000 blanks, all unlike, on one
stock length and on these four: gap, time and peak memory.

Run by hand: python tests/benchmarks/nesting_large.py [SECONDS [WORD]]; only the jobs with this word in their names.
Seconds, limit too, are of the processor, so that a busy machine gets as far; every job has a process of its own.
Lengths in 0.1 mm. The aim: within 0.5 % of the bound in 10 s, under 600 MB; 5,000 blanks within 0.1 %.
"""

import random
import resource
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context

from cutplan.nesting import Piece, Stock, pack

STOCKS = [Stock(60_000, 4900), Stock(40_000, 3500), Stock(30_000, 2800), Stock(20_000, 2000, 30)]
SPANS = ((2_000, 18_000), (2_500, 24_000), (12_000, 32_000), (15_000, 31_000), (20_500, 40_000), (25_000, 45_000))


def jobs() -> dict[str, tuple[list[Piece], list[Stock]]]:
    """Seeded jobs by name."""
    found: dict[str, tuple[list[Piece], list[Stock]]] = {}
    for seed in range(3):
        dice = random.Random(seed)
        lengths = [dice.randint(2_500, 24_000) for _ in range(60)]
        counts = [1] * 60
        for _ in range(2_000 - 60):
            counts[dice.randrange(60)] += 1
        pieces = [Piece(length, count) for length, count in zip(lengths, counts, strict=True)]
        found[f"2,000 of 60 lengths, seed {seed}"] = (pieces, STOCKS)
    for low, high in SPANS:
        pieces = [Piece(length, 1) for length in random.Random(7).sample(range(low, high), 5_000)]
        found[f"5,000 unlike, {low} to {high}, one stock"] = (pieces, STOCKS[:1])
        found[f"5,000 unlike, {low} to {high}, four stocks"] = (pieces, STOCKS)
    return found


def solve(name: str, limit: float) -> str:
    """A line of what became of the job."""
    pieces, stocks = jobs()[name]
    start = time.process_time()
    packing = pack(pieces, stocks, kerf=20, stop=lambda: time.process_time() > start + limit)
    seconds = time.process_time() - start
    gap = 100 * ((packing.cost or 0) / packing.bound - 1)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    return f"{name}: {packing.cost} {packing.status.value}, gap {gap:.3f} %, {seconds:.1f} s, peak {memory} MB"


def main() -> None:
    """A line for each job."""
    limit = float(sys.argv[1]) if len(sys.argv) > 1 else 10.0
    for name in (name for name in jobs() if sys.argv[2:] == [] or sys.argv[2] in name):
        with ProcessPoolExecutor(1, get_context("spawn")) as alone:
            print(alone.submit(solve, name, limit).result(), flush=True)


if __name__ == "__main__":
    main()
