"""Plans with bars that a shop cuts into parts, against every purchase, number of parts and place of each blank tried.

Run by hand: ``cut_bars_versus_trying.py 300`` plans so many seeded small jobs and counts those that are dearer than the
least, falsely proven, or refused by their check; the last line says how many have parts, and in how many of these a
place of a cut is not the middle.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))
sys.path.insert(0, str(Path(__file__).parents[1] / "plan"))

from parts_judge import drawn, least_total

from cutplan.plan import complaints, make_plan
from cutplan.plan.model import Plan, StockError


def planned(seed: int) -> tuple[str, Plan | None]:
    """What came of one job, in a word."""
    wanted, blanks = drawn(seed)
    least = least_total(wanted, blanks)
    try:
        plan = make_plan(wanted, blanks)
    except StockError:
        return ("impossible" if least is None else "WRONG: not impossible"), None
    if plan.cost != least:
        return "WRONG: dearer or cheaper than the least", plan
    if complaints(plan):
        return "WRONG: does not hold", plan
    return ("proven" if plan.proven else "found"), plan


def main() -> int:
    """Plan and count; 1 where any was wrong."""
    parser = argparse.ArgumentParser()
    parser.add_argument("count", type=int)
    parser.add_argument("--first", type=int, default=0)
    args = parser.parse_args()
    said: Counter[str] = Counter()
    cut, off_middle, start = 0, 0, time.process_time()
    for seed in range(args.first, args.first + args.count):
        word, plan = planned(seed)
        said[word] += 1
        if word.startswith("WRONG"):
            print(f"seed {seed}: {word}", flush=True)
        parts = [line.parts for line in plan.buy if line.parts] if plan else []
        cut += bool(parts)
        off_middle += any(max(mine) - min(mine) > 10 for mine in parts)
    print(f"{args.count} jobs in {time.process_time() - start:.0f} s of processor time: {dict(said)}")
    print(f"{cut} with bars cut into parts, {off_middle} of them in parts that are not alike")
    return 1 if any(word.startswith("WRONG") for word in said) else 0


if __name__ == "__main__":
    sys.exit(main())
