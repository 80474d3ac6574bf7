"""Plans with bars that a shop cuts into parts, against every purchase, number of parts and place of each blank tried.

Run by hand: ``cut_bars_versus_trying.py 300`` plans so many seeded small jobs and counts those that are dearer than the
least, falsely proven, or refused by their check; the last line says how many have parts, and in how many of these a
place of a cut is not the middle. ``--large 6`` plans jobs of three tubes, three shops of which two cut, and 60 blanks,
and tells the seconds of each, and the gap where it is not proven.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections import Counter
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))
sys.path.insert(0, str(Path(__file__).parents[1] / "plan"))

from parts_judge import drawn, least_total
from small_jobs import bars, blank, job

from cutplan.geometry.model import Blank
from cutplan.job.model import Job, Settings, Shop
from cutplan.plan import complaints, make_plan
from cutplan.plan.model import Plan, StockError
from cutplan.plan.problem import Limits


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


def large(seed: int) -> tuple[Job, list[Blank]]:
    """Three tubes, 60 blanks; one shop delivers, two cut what is too long for the car, or deliver."""
    draw = random.Random(seed)
    shops = (
        Shop("North", Decimal(24), Decimal(260)),
        Shop("Hill", Decimal("9.5"), minimum=Decimal(50), carry=Fraction(3000), cut=Decimal("0.8"), kerf=Fraction(3)),
        Shop("Mill", Decimal(18), Decimal(150), Decimal(30), carry=Fraction(4000), cut=Decimal("1.5")),
    )
    blanks, stock = [], []
    for tube in "TUV":
        base = draw.randint(2500, 6500)
        blanks += [blank(f"{tube}{n}", draw.randint(300, 2400), 4, tube=tube) for n in range(5)]
        for shop in shops:
            factor = draw.uniform(0.9, 1.12)
            for length, share in ((6000, 1.0), (3000, 0.56)):
                row = bars(length, f"{round(base * factor * share) / 100}", tube=tube)
                stock.append(replace(row, shop=shop.name))
    settings = Settings(kerf=Fraction(2), end_trim=Fraction(5), saw_hold=Fraction(40), spares=1)
    return replace(job(stock, blanks, settings), shops=shops), blanks


def timed(seed: int, seconds: float) -> str:
    """What came of a large job, in words."""
    wanted, blanks = large(seed)
    start, took = time.perf_counter(), time.process_time()
    plan = make_plan(wanted, blanks, limits=Limits(seconds))
    start, took = time.perf_counter() - start, time.process_time() - took
    gap = "proven" if plan.proven else f"between {plan.bound} and {plan.cost}"
    cut = sum(line.count for line in plan.buy if line.parts)
    holds = "" if not complaints(plan) else ", WRONG: does not hold"
    return f"seed {seed}: {plan.cost}, {gap}, {cut} bars cut, {took:.1f} s of processor time, {start:.1f} s{holds}"


def main() -> int:
    """Plan and count; 1 where any was wrong."""
    parser = argparse.ArgumentParser()
    parser.add_argument("count", type=int, nargs="?", default=0)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--large", type=int, default=0, metavar="N")
    parser.add_argument("--seconds", type=float, default=60.0, help="for each of the large ones")
    args = parser.parse_args()
    for seed in range(args.large):
        print(timed(seed, args.seconds), flush=True)
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
