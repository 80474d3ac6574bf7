"""Members that land on one another, fitted one at a time: how many a plan saws before what they land on, against the
fewest that any order of its cuts on their bars does in which each mistake can be made good.

Run by hand: python tests/benchmarks/landings_versus_every_order.py [JOBS [FIRST_SEED]]
Prints, by how many tubes need their order of cuts, how many plans there were, how many had something out of order, how
many of these could do with less; whether each says just what is out of order; and that it costs no more for it.
"""

import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "plan"))
from landing_jobs import fewest, landing_job, marks_in_order, out_of_order

from cutplan.job.model import Cut, End, Fitted
from cutplan.plan import StockError, complaints, make_plan


def judged(seed: int) -> list[str]:
    """What came of a job."""
    wanted, blanks, lands = landing_job(seed)
    try:
        plan = make_plan(wanted, blanks)
    except StockError:
        return ["cannot be had"]
    ordered = sum(tube.spares.fitted is Fitted.ONE_AT_A_TIME for tube in plan.tubes)
    early = out_of_order(marks_in_order(plan), lands)
    least = fewest(plan, lands)
    loose = tuple(replace(one, end_a=End(Cut.SQUARE)) for one in wanted.members)
    free = make_plan(replace(wanted, members=loose), blanks)
    found = [f"{ordered} tubes in order"]
    found += [f"{ordered} tubes in order, of them with something early"] if early else []
    found += [f"{ordered} tubes in order, of them more than the fewest"] if len(early) > least else []
    if complaints(plan) or {(one.mark, one.onto) for one in plan.early} != set(early):
        found.append(f"WRONG: seed {seed} does not say what is early")
    if (plan.cost, plan.bound) != (free.cost, free.bound) or len(early) < least:
        found.append(f"WRONG: seed {seed} costs more, or the fewest are not the fewest")
    return found


def main() -> None:
    """Count."""
    words = [int(word) for word in sys.argv[1:]]
    jobs, first = words + [300, 1000][len(words) :]
    counts = Counter(text for seed in range(first, first + jobs) for text in judged(seed))
    for text, count in sorted(counts.items()):
        print(f"{text}: {count}")


if __name__ == "__main__":
    main()
