"""What the estimates cost, by the hundred, against brute force: every place of every piece, for every choice of what is
measured before ordering.

Run by hand: python tests/benchmarks/not_knowing_versus_brute_force.py [JOBS [FIRST_SEED]]
Counts how often both prices, what each member saves by itself, and the fewest members that save it all are right.
"""

import random
import sys
from collections import Counter
from decimal import Decimal
from fractions import Fraction
from itertools import chain, combinations
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "plan"))
from small_jobs import bars, least_cost, rack

from cutplan.geometry import lay_out
from cutplan.job.model import Job, Member, Settings, Tube
from cutplan.plan.measuring import measuring_first

F = Fraction
KERF = F(2)


def judge(seed: int) -> str:
    """What came of one job."""
    dice = random.Random(f"not knowing {seed}")
    members = [
        Member(f"M{i}", "T", length=F(dice.randrange(200, 900)), tolerance=F(dice.choice([0, 20, 50, 120])))
        for i in range(dice.randrange(3, 7))
    ]
    stock = [bars(1100, "11"), bars(dice.choice([1400, 1600, 1900]), "17")]
    if dice.random() < 0.5:
        stock.append(rack(dice.randrange(300, 900)))
    spares = dice.choice([0, 0, 1])
    rules = Settings(kerf=KERF, spares=spares, step=F(1))
    job = Job(rules, (Tube("T", F(38), F(2)),), tuple(stock), tuple(members))
    guessed = [one.mark for one in members if one.tolerance]
    shown = measuring_first(job, lay_out(job).blanks)
    if not guessed:
        return "nothing estimated" if shown == () else f"WRONG: {shown}, seed {seed}"
    cost: dict[tuple[str, ...], Decimal] = {}
    for known in chain.from_iterable(combinations(guessed, n) for n in range(len(guessed) + 1)):
        lengths = [one.length + (one.tolerance if one.mark not in known else 0) for one in members]
        found = least_cost(stock, [*lengths, *[max(lengths)] * spares], KERF)
        cost[known] = Decimal(int(found or 0))
    (one,) = shown
    whole = cost[()] - min(cost.values())
    if (one.greatest.cost, one.likely.cost) != (cost[()], cost[tuple(guessed)]):
        return f"WRONG: the prices, seed {seed}"
    if [each.least for each in one.each] != [cost[()] - cost[(mark,)] for mark in guessed]:
        return f"WRONG: what each saves, seed {seed}"
    if one.fewest is None:
        return "nothing to save" if not whole else f"WRONG: {whole} to save, seed {seed}"
    fewest = min(len(known) for known, price in cost.items() if cost[()] - price == whole)
    if cost[()] - cost[tuple(mark for mark in guessed if mark in one.fewest.members)] != whole:
        return f"WRONG: not all is saved, seed {seed}"
    right = len(one.fewest.members) == fewest
    return "the fewest that save it all" if right else f"WRONG: {len(one.fewest.members)}, not {fewest}, seed {seed}"


def main() -> None:
    """Count."""
    count, first = (int(text) for text in (*sys.argv[1:3], *("300", "0")[len(sys.argv[1:3]) :]))
    counts = Counter(judge(seed) for seed in range(first, first + count))
    for what, times in counts.most_common():
        print(f"{times:6} {what}")


if __name__ == "__main__":
    main()
