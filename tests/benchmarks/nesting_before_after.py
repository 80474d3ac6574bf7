"""This code against an earlier one, job by job in one run: seconds of the processor and their ratios.

Run by hand: python tests/benchmarks/nesting_before_after.py FOLDER [GROUP ...]
FOLDER holds the earlier code (git archive COMMIT cutplan | tar -x -C FOLDER). Both solve the same job in turn, each in
a process of its own that has done a small job first, so that a busy machine is as busy for the one as for the other;
three times, or until it has taken twenty seconds, and the least time of each counts: nothing makes a job take less of
the processor than it needs. Groups: literature (CUTPLAN_LITERATURE names the folder of the instances), hard, fine,
aims, command; without any, all. A ratio below 1 says that this code is faster. What takes a fraction of a second varies
by more than a tenth even so: the instances of a published family are added up. Where the answers differ, both are
shown.
"""

import json
import math
import os
import random
import resource
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

from nesting_hard import KINDS, TRIPLETS, made
from nesting_second_aims import JOBS, PRICES, write

from cutplan.nesting import Piece, Stock

HERE = Path(__file__).parents[2]
SECONDS = 60.0
REPEATS = 3
ENOUGH = 20.0  # seconds of both together, after which nothing is repeated
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

    def close(self) -> None:
        """No more jobs."""
        assert self.process.stdin is not None
        self.process.stdin.close()
        self.process.wait()


def literature() -> Iterator[tuple[str, list[Any]]]:
    """The published instances."""
    text = (Path(os.environ["CUTPLAN_LITERATURE"]) / "falkenauer.txt").read_text(encoding="utf-8")
    for line in text.splitlines():
        if line.strip() and not line.startswith("#"):
            name, _, capacity, *words = line.split()
            yield name, [[list(map(int, word.split("x"))) for word in words], [[int(capacity), 1]], 0, False, SECONDS]


def hard() -> Iterator[tuple[str, list[Any]]]:
    """Tight jobs of 201 and 202 pieces."""
    capacity = min(TRIPLETS)
    for seed in range(2):
        for name, kind in KINDS.items():
            lengths = made(seed, capacity, kind)
            yield f"{name}, seed {seed}", [[[length, 1] for length in lengths], [[capacity, 1]], 0, False, SECONDS]


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


def least(sides: Sequence[Callable[[], tuple[float, list[Any]]]]) -> tuple[float, float, str]:
    """Seconds before and now, the least of several times in turn, and the answers."""
    times: list[list[float]] = [[], []]
    answers: list[list[Any]] = [[], []]
    while len(times[0]) < REPEATS and sum(map(sum, times)) < ENOUGH:
        for side in (0, 1) if len(times[0]) % 2 else (1, 0):
            seconds, answers[side] = sides[side]()
            times[side].append(seconds)
    said = str(answers[1]) if answers[0] == answers[1] else f"{answers[0]}, now {answers[1]}"
    return min(times[0]), min(times[1]), said


def timed(group: str, earlier: Path) -> Iterator[tuple[str, float, float, str]]:
    """Each job of a group: its name, seconds before and now, the answers."""
    if group == "command":
        for name, pieces, stocks in second_aims():
            with tempfile.TemporaryDirectory() as folder:
                write(Path(folder), pieces, stocks)
                sides = [lambda tree=tree, at=folder: (command(tree, at), ["written"]) for tree in (earlier, HERE)]
                yield f"{name}, command", *least(sides)
        return
    workers = (Worker(earlier), Worker(HERE))
    for name, job in {"literature": literature, "hard": hard, "fine": fine, "aims": aims}[group]():
        yield name, *least([lambda worker=worker, job=job: worker.solve(job) for worker in workers])
    for worker in workers:
        worker.close()


def main() -> None:
    """A line for each job and each family; for each group the totals, the mean of the ratios and the worst family."""
    for group in sys.argv[2:] or ["literature", "hard", "fine", "aims", "command"]:
        families: dict[str, list[float]] = {}
        for name, before, after, answers in timed(group, Path(sys.argv[1])):
            show(name, before, after, answers)
            family = families.setdefault(name.rsplit("_", 1)[0], [0.0, 0.0, 0])
            for place, more in enumerate((before, after, 1)):
                family[place] += more
        for name, (before, after, count) in families.items():
            if count > 1:
                show(f"{name}, {count} jobs", before, after, "")
        ratios = [after / before for before, after, _ in families.values()]
        mean = math.exp(sum(map(math.log, ratios)) / len(ratios))
        totals = [sum(family[side] for family in families.values()) for side in (0, 1)]
        words = f"{len(ratios)} families or jobs: mean of the ratios {mean:.2f}, worst {max(ratios):.2f}"
        show(f"{group}, in all", *totals, words)


if __name__ == "__main__":
    main()
