"""What the second aims and the command add to the proof: engine time, engine time with the second aims, command time.

Run by hand: python tests/benchmarks/nesting_second_aims.py
Seconds of the processor, each command in a process of its own. Jobs of straight blanks, seeded; lengths in 0.1 mm.
"""

import csv
import random
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from cutplan.nesting import Piece, Stock, pack

PRICES = {60_000: 4900, 30_000: 2800, 20_000: 2000}
JOBS = {  # lengths, blanks of each, shortest, longest, kinds of bar
    "100 unlike, one stock": (100, 1, 2_500, 24_000, 1),
    "100 unlike, few a bar": (100, 1, 15_000, 28_000, 1),
    "120 unlike, three stocks": (120, 1, 2_500, 24_000, 3),
    "200 lengths, two of each": (200, 2, 2_500, 24_000, 1),
}


def write(folder: Path, pieces: list[Piece], stocks: list[Stock]) -> None:
    """The job as tables, without spares, so that the command packs once as the engine does."""
    sheets: dict[str, list[list[object]]] = {
        "Job": [["setting", "value"], ["name", "Timing"], ["kerf", 2], ["end trim", 0], ["spares", 0]],
        "Tubes": [["tube", "od", "wall"], ["T", 30, 2]],
        "Members": [["mark", "tube", "qty", "length"]],
        "Stock": [["tube", "length", "price", "from"]],
    }
    for number, piece in enumerate(pieces, 1):
        sheets["Members"].append([f"M{number}", "T", piece.count, f"{piece.length / 10:.1f}"])
    for stock in stocks:
        sheets["Stock"].append(["T", stock.length // 10, f"{stock.price / 100:.2f}", "buy"])
    for name, rows in sheets.items():
        with (folder / f"{name}.csv").open("w", newline="", encoding="utf-8") as file:
            csv.writer(file).writerows(rows)


def main() -> None:
    """A line for each job."""
    pack([Piece(9, 1)], [Stock(10, 1)])  # the solver's libraries are loaded once, before any time is taken
    for name, (kinds, each, low, high, bars) in JOBS.items():
        dice = random.Random(11)
        pieces = [Piece(length, each) for length in dice.sample(range(low, high), kinds)]
        stocks = [Stock(length, price) for length, price in list(PRICES.items())[:bars]]
        taken = []
        for aims in (False, True):
            start = time.process_time()
            packing = pack(pieces, stocks, kerf=20, second_aims=aims)
            taken.append(time.process_time() - start)
        with tempfile.TemporaryDirectory() as folder:
            write(Path(folder), pieces, stocks)
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            program = str(Path(sys.executable).parent / "cutplan")
            command = [program, "plan", folder, "--output", str(Path(folder) / "list.xlsx")]
            done = subprocess.run(command, capture_output=True, text=True, check=False)
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
        whole = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        print(
            f"{name}: {packing.cost} {packing.status.value}; proof {taken[0]:.2f} s, with the second aims "
            f"{taken[1]:.2f} s, command {whole:.2f} s ({'as it should' if done.returncode == 0 else done.stderr})",
            flush=True,
        )


if __name__ == "__main__":
    main()
