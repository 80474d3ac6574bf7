"""Shortages by the thousand against the judge of the tests, which assigns piece by piece.

Run by hand: python tests/benchmarks/shortage_versus_model.py [JOBS [FEWEST MOST [FIRST_SEED]]]
Prints how many answers were wrong, not proven, and not certain to the judge, and the slowest answer.
"""

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "nesting"))
from shortage_judge import most_served, short_job

from cutplan.nesting import Status, pack_most


def main() -> None:
    """Count."""
    words = [int(word) for word in sys.argv[1:]]
    jobs, fewest, most, first = words + [1000, 5, 30, 0][len(words) :]
    wrong, unproven, unsure, slowest = [], 0, 0, (0.0, 0)
    for seed in range(first, first + jobs):
        job = short_job(seed, fewest, most)
        start = time.perf_counter()
        packing, left = pack_most(job.pieces, job.stocks, kerf=job.kerf, spare=job.spare, time_limit=30)
        slowest = max(slowest, (time.perf_counter() - start, seed))
        truth = most_served(job, 5)
        if truth is None:
            if packing.status is not Status.IMPOSSIBLE:
                wrong.append(seed)
            continue
        served = [piece.count - n for piece, n in zip(job.pieces, left, strict=True)]
        ours = (sum(n * piece.length for n, piece in zip(served, job.pieces, strict=True)), sum(served))
        *best, certain = truth
        unproven += not packing.proven
        unsure += not certain
        if (packing.proven and ours < tuple(best)) or (certain and ours > tuple(best)):
            wrong.append(seed)
    print(
        f"{jobs} jobs of {fewest} to {most} pieces: {len(wrong)} wrong {wrong}, {unproven} not proven, "
        f"{unsure} the judge was not certain of, slowest {slowest[0]:.1f} s (seed {slowest[1]})"
    )


if __name__ == "__main__":
    main()
