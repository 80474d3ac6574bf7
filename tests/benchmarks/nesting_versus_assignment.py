"""Against what one would write first: a CP-SAT model that assigns every blank to a bar.

Run by hand: python tests/benchmarks/nesting_versus_assignment.py [SECONDS [BLANKS ...]]
Seeded jobs, pairs of like blanks between 250 and 2,400 mm, bars of 6, 3 and 2 m at three prices, kerf 2.
Seconds, limit too, are of the processor, so that a busy machine compares as a quiet one does. The model has two
workers, whose seconds add up. An unproven run counts at the limit.
"""

import math
import random
import sys
import threading
import time

from ortools.sat.python import cp_model

from cutplan.nesting import Piece, Stock, pack

STOCKS = [Stock(6000, 4900), Stock(3000, 2800), Stock(2000, 2000)]
KERF = 2


def job(blanks: int) -> list[Piece]:
    """Pairs of like blanks, the same ones each time."""
    dice = random.Random(blanks)
    return [Piece(dice.randint(250, 2400), 2) for _ in range(blanks // 2)]


def assign(pieces: list[Piece], limit: float) -> tuple[int | None, bool, float]:
    """Cost, whether proven, and seconds of the assignment model."""
    start = time.process_time()
    model = cp_model.CpModel()
    blanks = [piece.length + KERF for piece in pieces for _ in range(piece.count)]
    # As many bars of each kind as first fit needs of it, the blanks taken longest first.
    bars = []
    for stock in STOCKS:
        rooms: list[int] = []
        for blank in sorted(blanks, reverse=True):
            place = next((p for p, room in enumerate(rooms) if room >= blank), None)
            if place is None and blank <= stock.length + KERF:
                rooms.append(stock.length + KERF - blank)
            elif place is not None:
                rooms[place] -= blank
        bars += [(stock, model.new_bool_var("")) for _ in rooms]
    holds = [[model.new_bool_var("") for _ in bars] for _ in blanks]
    for row in holds:
        model.add_exactly_one(row)
    for place, (stock, used) in enumerate(bars):
        load = sum(blank * row[place] for blank, row in zip(blanks, holds, strict=True))
        model.add(load <= (stock.length + KERF) * used)
        if place and bars[place - 1][0] is stock:
            model.add_implication(used, bars[place - 1][1])
    model.minimize(sum(stock.price * used for stock, used in bars))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 2
    done = threading.Event()

    def watch() -> None:
        while not done.wait(0.05):
            if time.process_time() - start > limit:
                solver.stop_search()

    watcher = threading.Thread(target=watch)
    watcher.start()
    answer = solver.solve(model)
    done.set()
    watcher.join()
    found = answer in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    cost = round(solver.objective_value) if found else None
    return cost, answer == cp_model.OPTIMAL, time.process_time() - start


def main() -> None:
    """Print both costs and times of each job, and the geometric mean of the ratios from 45 blanks up."""
    limit = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    sizes = [int(word) for word in sys.argv[2:]] or [12, 20, 30, 45, 60, 100, 200]
    pack([Piece(9, 1)], [Stock(10, 1)])  # the solver's libraries are loaded once, before any time is taken
    ratios = []
    for blanks in sizes:
        pieces = job(blanks)
        start = time.process_time()
        packing = pack(
            pieces,
            STOCKS,
            kerf=KERF,
            second_aims=False,
            stop=lambda end=start + limit: time.process_time() > end,
        )
        ours = time.process_time() - start if packing.proven else limit
        cost, proven, seconds = assign(pieces, limit)
        theirs = seconds if proven else limit
        if blanks >= 45:
            ratios.append(theirs / ours)
        print(
            f"{blanks:4} blanks: patterns {packing.cost} {packing.status.value} {ours:.2f} s; "
            f"assignment {cost} {'proven' if proven else 'found'} {theirs:.2f} s; ratio {theirs / ours:.1f}",
            flush=True,
        )
        assert cost is None or packing.cost is None or packing.cost <= cost
    if ratios:
        mean = math.exp(sum(map(math.log, ratios)) / len(ratios))
        print(f"geometric mean of the ratios from 45 blanks up: {mean:.1f}")


if __name__ == "__main__":
    main()
