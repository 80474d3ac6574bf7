"""This code against an earlier one, job by job in one run: seconds of the processor and their ratios.

Run by hand: python tests/benchmarks/nesting_before_after.py FOLDER [GROUP ...]
FOLDER is a checkout of the earlier code (git worktree add FOLDER COMMIT). Both solve the same job in turn, each in a
process of its own that has done a small job first, so that a busy machine is as busy for the one as for the other.
Groups: literature (CUTPLAN_LITERATURE names the folder of the instances), hard, fine, aims, command; without any, all.
A ratio below 1 says that this code is faster. Where they differ by more than a tenth, the job is done twice more and
the least time of each counts: what takes a fraction of a second varies by more. Where the answers differ, both
are shown.
"""

import json
import math
import os
import random
import resource
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from nesting_second_aims import JOBS, PRICES, write

from cutplan.nesting import Piece, Stock

sys.path.insert(0, str(Path(__file__).parents[1] / "nesting"))
from hard_cases import PETERSEN, PRISM, core, grown

HERE = Path(__file__).parents[2]
SECONDS = 60.0
WORKER = """
import json, sys, time
sys.path.insert(0, sys.argv[1])
from cutplan.nesting import Piece, Stock, pack
pack([Piece(9, 1)], [Stock(10, 1)])
for line in sys.stdin:
    pieces, stocks, kerf, aims, limit = json.loads(line)
    start = time.process_time()
    packing = pack(
        [Piece(*each) for each in pieces], [Stock(*each) for each in stocks], kerf=kerf, second_aims=aims,
        stop=lambda: time.process_time() > start + limit,
    )
    print(json.dumps([time.process_time() - start, packing.cost, packing.bound, packing.status.value]), flush=True)
"""
COMMAND = "import sys; sys.path.insert(0, sys.argv.pop(1)); from cutplan.cli.start import main; main()"


class Worker:
    """The engine of one checkout."""

    def __init__(self, tree: Path) -> None:
        pipe = subprocess.PIPE
        self.process = subprocess.Popen([sys.executable, "-c", WORKER, str(tree)], stdin=pipe, stdout=pipe, text=True)

    def solve(self, job: list[Any]) -> tuple[float, list[Any]]:
        """Seconds, and cost, bound and status."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        print(json.dumps(job), file=self.process.stdin, flush=True)
        seconds, *answer = json.loads(self.process.stdout.readline())
        return seconds, answer


def literature() -> Iterator[tuple[str, list[Any]]]:
    """The published instances."""
    text = (Path(os.environ["CUTPLAN_LITERATURE"]) / "falkenauer.txt").read_text(encoding="utf-8")
    for line in text.splitlines():
        if line.strip() and not line.startswith("#"):
            name, _, capacity, *words = line.split()
            yield name, [[list(map(int, word.split("x"))) for word in words], [[int(capacity), 1]], 0, False, SECONDS]


def hard() -> Iterator[tuple[str, list[Any]]]:
    """Tight jobs of 201 pieces, with and without a plan on the bound."""
    for seed in (0, 1, 4):
        for edges in (PETERSEN, PRISM):
            dice = random.Random(seed)
            lengths = grown(dice, core(dice, 2_500, edges), 2_500, 62)
            name = f"{'no plan' if edges is PETERSEN else 'a plan'} on the bound, seed {seed}"
            yield name, [[[length, 1] for length in lengths], [[2_500, 1]], 0, False, SECONDS]


def fine() -> Iterator[tuple[str, list[Any]]]:
    """Long bars on a fine grid."""
    for seed in range(3):
        lengths = random.Random(seed).sample(range(20_000, 35_000), 100)
        yield (
            f"20,000 to 35,000 in 100,000, seed {seed}",
            [[[n, 1] for n in lengths], [[100_000, 1]], 0, False, SECONDS],
        )


def second_aims() -> Iterator[tuple[str, list[Piece], list[Stock]]]:
    """The jobs of the benchmark of that name."""
    for name, (kinds, each, low, high, bars) in JOBS.items():
        dice = random.Random(11)
        pieces = [Piece(length, each) for length in dice.sample(range(low, high), kinds)]
        yield name, pieces, [Stock(length, price) for length, price in list(PRICES.items())[:bars]]


def aims() -> Iterator[tuple[str, list[Any]]]:
    """The engine with its second aims."""
    for name, pieces, stocks in second_aims():
        lists = [[[each.length, each.count] for each in pieces], [[each.length, each.price] for each in stocks]]
        yield f"{name}, engine", [*lists, 20, True, SECONDS]


def command(tree: Path, folder: str) -> float:
    """Seconds of ``plan`` with the workbook."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    words = ["plan", folder, "--output", str(Path(folder) / "list.xlsx")]
    subprocess.run([sys.executable, "-c", COMMAND, str(tree), *words], capture_output=True, text=True, check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def show(name: str, before: float, after: float, answers: str) -> float:
    """A line, and the ratio."""
    print(f"{name:44} {before:7.2f} s, now {after:7.2f} s, ratio {after / before:5.2f}  {answers}", flush=True)
    return after / before


def main() -> None:
    """A line for each job; for each group the totals, the geometric mean of the ratios and the worst."""
    earlier, groups = Path(sys.argv[1]), sys.argv[2:] or ["literature", "hard", "fine", "aims", "command"]
    workers = (Worker(earlier), Worker(HERE))
    engine = {"literature": literature, "hard": hard, "fine": fine, "aims": aims}
    for group in groups:
        lines = []
        if group == "command":
            for name, pieces, stocks in second_aims():
                with tempfile.TemporaryDirectory() as folder:
                    write(Path(folder), pieces, stocks)
                    lines.append((f"{name}, command", command(earlier, folder), command(HERE, folder), ""))
                show(*lines[-1])
        else:
            for turn, (name, job) in enumerate(engine[group]()):
                order = workers if turn % 2 else workers[::-1]
                tries = [{worker: worker.solve(job) for worker in order}]
                if abs(math.log(tries[0][workers[1]][0] / tries[0][workers[0]][0])) > math.log(1.1):
                    tries += [{worker: worker.solve(job) for worker in order} for _ in range(2)]
                before, after = (min(found[worker][0] for found in tries) for worker in workers)
                first, second = (tries[0][worker][1] for worker in workers)
                lines.append((name, before, after, str(second) if first == second else f"{first}, now {second}"))
                show(*lines[-1])
        ratios = [after / before for _, before, after, _ in lines]
        mean = math.exp(sum(map(math.log, ratios)) / len(ratios))
        totals = sum(line[1] for line in lines), sum(line[2] for line in lines)
        show(f"{group}, {len(lines)} jobs, in all", *totals, f"mean of the ratios {mean:.2f}, worst {max(ratios):.2f}")


if __name__ == "__main__":
    main()
