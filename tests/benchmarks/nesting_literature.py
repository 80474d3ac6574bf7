"""Published instances, all of them: how many are proven, and in what time.

Run by hand, with CUTPLAN_LITERATURE naming the folder of the instances:
    python tests/benchmarks/nesting_literature.py [SECONDS]
"""

import os
import statistics
import sys
import time
from pathlib import Path

from cutplan.nesting import Piece, Stock, pack


def main() -> None:
    """Solve every instance and print one line for each, then the count, the median and the worst time."""
    limit = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    text = (Path(os.environ["CUTPLAN_LITERATURE"]) / "falkenauer.txt").read_text(encoding="utf-8")
    times = []
    proven = 0
    for line in text.splitlines():
        if not line.strip() or line.startswith("#"):
            continue
        name, optimum, capacity, *words = line.split()
        pieces = [Piece(*map(int, word.split("x"))) for word in words]
        start = time.perf_counter()
        packing = pack(pieces, [Stock(int(capacity), 1)], second_aims=False, time_limit=limit)
        times.append(time.perf_counter() - start)
        good = packing.proven and packing.cost == int(optimum)
        proven += good
        print(f"{name:24} {packing.cost:5} {optimum:>5} {packing.status.value:8} {times[-1]:7.2f} s", flush=True)
    print(f"{proven} of {len(times)} proven; median {statistics.median(times):.2f} s, worst {max(times):.2f} s")


if __name__ == "__main__":
    main()
