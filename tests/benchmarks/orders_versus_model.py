"""The least total of orders from several sellers, against every purchase tried and one CP-SAT model of the whole.

Run by hand: ``orders_versus_model.py --small 300`` counts small ones that are dearer than the least, or falsely proven;
``--large 3`` has three tubes, three sellers and 60 pieces each time, and tells the seconds of both, with the gap.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from cutplan.nesting import Piece, Spare, Status, Stock
from cutplan.nesting.orders import Seller, Wanted, buy_together
from tests.nesting.orders_judge import least_by_model, least_by_trying
from tests.nesting.test_orders import seeded


def small(count: int, first: int) -> int:
    """Seeded small problems; how many were wrong."""
    said: Counter[str] = Counter()
    for seed in range(first, first + count):
        wanted, sellers = seeded(seed)
        least = least_by_trying(wanted, sellers)
        found = buy_together(wanted, sellers)
        if found.cost != least:
            said["WRONG: dearer, or impossible"] += 1
            print(f"seed {seed}: {found.cost}, the least is {least}")
        elif found.bound > (least or 0) and least is not None:
            said["WRONG: bound too high"] += 1
        else:
            said[found.status.value] += 1
    print(f"{count} small problems: {dict(said)}")
    return sum(number for word, number in said.items() if word.startswith("WRONG"))


def drawn(seed: int) -> tuple[list[Wanted], list[Seller]]:
    """Three tubes, three sellers, 60 pieces, in tenths of a millimetre and cents."""
    draw = random.Random(seed)
    sellers = [Seller(2400, 26_000, 0), Seller(950, None, 5_000), Seller(1800, 15_000, 3_000)]
    wanted = []
    for _ in range(3):
        base = draw.randint(2500, 6500)
        stocks, sold = [], []
        for seller in range(3):
            factor = draw.uniform(0.9, 1.12)
            for length, share in ((60_000, 1.0), (30_000, 0.56)):
                stocks.append(Stock(length - 500, round(base * factor * share), 30))
                sold.append(seller)
        kinds = [draw.randint(3_000, 24_000) for _ in range(5)]
        pieces = [Piece(kind, 4) for kind in kinds]
        wanted.append(Wanted(pieces, stocks, sold, 20, Spare(max(kinds), 1)))
    return wanted, sellers


def large(count: int, seconds: float) -> int:
    """Large problems; how many were dearer than the model's best, or proven where the model found less."""
    wrong = 0
    for seed in range(count):
        wanted, sellers = drawn(seed)
        start = time.perf_counter()
        found = buy_together(wanted, sellers, time_limit=seconds)
        middle = time.perf_counter()
        best, bound = least_by_model(wanted, sellers, seconds)
        end = time.perf_counter()
        assert found.cost is not None
        wrong += best is not None and (found.cost < bound or (found.status is Status.PROVEN and best < found.cost))
        print(
            f"seed {seed}: {found.cost} {found.status.value}, bound {found.bound}, {middle - start:.1f} s; "
            f"one model {best}, bound {bound}, {end - middle:.1f} s"
        )
    return wrong


def main() -> None:
    """Run what was asked for; exit 1 if anything was wrong."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--small", type=int, default=0, metavar="N")
    parser.add_argument("--first", type=int, default=1000, help="the first seed of the small ones")
    parser.add_argument("--large", type=int, default=0, metavar="N")
    parser.add_argument("--seconds", type=float, default=60.0, help="for each of the large ones, and for the model")
    args = parser.parse_args()
    wrong = small(args.small, args.first) + large(args.large, args.seconds)
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
