"""Ends on tubes as they are, against solids: random nodes of two to five tubes that end, run through or bend.

Run by hand: python tests/benchmarks/nodes_versus_solids.py [NODES [FIRST_SEED]]
Prints how many ends were compared, how many were out by more than 0.05 mm, the worst, and how long one node takes to
lay out. Facets of the solids are some 0.01 mm off the true surface; lines that only graze it are left out.
"""

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "geometry"))
from node_judge import judge, mirrored, random_node

from cutplan.geometry import lay_out

CLOSE_MM = 0.05


def main() -> None:
    """Count."""
    nodes = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    ends = hanging = 0
    out: list[tuple[float, int, str, str]] = []
    refused: list[str] = []
    seconds = 0.0
    for seed in range(first, first + nodes):
        job = random_node(seed)
        if seed % 2:
            job = mirrored(job)
        start = time.perf_counter()
        lay_out(job)
        seconds += time.perf_counter() - start
        layout, verdicts = judge(job)
        refused += [f"{seed}: {fault}" for fault in layout.faults]
        for one in verdicts:
            ends += 1
            hanging += one.missed > 2
            worst = max(one.tip, one.line)
            if worst > CLOSE_MM:
                out.append((worst, seed, one.mark, one.end))
    print(
        f"{nodes} nodes, {ends} ends compared ({hanging} of them hanging over an end), {len(out)} out by more", end=" "
    )
    print(f"than {CLOSE_MM} mm; {1000 * seconds / nodes:.1f} ms a node to lay out; {len(refused)} ends refused")
    for worst, seed, mark, end in sorted(out, reverse=True)[:20]:
        print(f"  node {seed}, {mark} end {end}: {worst:.3f} mm")
    for text in refused[:10]:
        print(f"  refused, {text}")


if __name__ == "__main__":
    main()
