"""Jobs built in stages by the thousand: one at a time against brute force, after all cuts against the job without
stages, and the rest after cuts and mistakes; every plan through the check.

Run by hand: python tests/benchmarks/stages_versus_brute_force.py [JOBS [FIRST_SEED]]
Prints how many of each were wrong, and how many one at a time were not proven.
"""

import random
import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "plan"))
from small_jobs import job
from test_one_at_a_time import small
from test_stages import in_order, least, rest_of, staged, two_tubes

from cutplan.plan import StockError, complaints, make_plan


def sound(plan: object) -> bool:
    """Whether a plan passes the check and is in the order of its stages."""
    return complaints(plan) == () and in_order(plan) == sorted(in_order(plan))


def one_at_a_time(seed: int) -> str:
    """What came of a small job, its cost held against brute force."""
    stock, plain, settings = small(seed)
    blanks = staged(plain, random.Random(f"stages {seed}"))
    if not any(one.insured for one in blanks):
        return "nothing insured"
    want = least(stock, blanks, settings)
    try:
        plan = make_plan(job(stock, blanks, settings), blanks)
    except StockError:
        return "cannot be had" if want is None else f"WRONG: refused, seed {seed}"
    if plan.cost != want or not sound(plan):
        return f"WRONG: {plan.cost}, the least is {want}, seed {seed}"
    return "the least cost, proven" if plan.proven else "the least cost, not proven"


def after_all(seed: int) -> str:
    """What came of a job of two tubes, its cost held against the same without stages."""
    stock, blanks, settings = two_tubes(seed)
    plan = make_plan(job(stock, blanks, settings), blanks)
    plain = [replace(one, stage=0) for one in blanks]
    dearer = not settings.share_mitres and plan.cost != make_plan(job(stock, plain, settings), plain).cost
    return f"WRONG: after all cuts, seed {seed}" if dearer or not sound(plan) else "the cost of any order"


def rest(seed: int) -> str:
    """What came of the rest of such a job, cut up to somewhere with up to two mistakes."""
    after, _ = rest_of(seed)
    return "the rest, in stages" if after is None or sound(after) else f"WRONG: the rest, seed {seed}"


def main() -> None:
    """Count."""
    words = [int(word) for word in sys.argv[1:]]
    jobs, first = words + [1000, 1000][len(words) :]
    for judge in (one_at_a_time, after_all, rest):
        counts = Counter(judge(seed) for seed in range(first, first + jobs))
        print(f"{judge.__name__.replace('_', ' ')}: {dict(counts)}", flush=True)


if __name__ == "__main__":
    main()
