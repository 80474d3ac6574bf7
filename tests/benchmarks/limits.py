"""The largest jobs through the whole tool: time and memory of every command, each in a process of its own.

Run by hand: python tests/benchmarks/limits.py [SECONDS]    (the time limit of buy and plan, 60 s unless given)
Invented, seeded data: 5,000 members of 50 tubes, or of one, each tube sold in 40 lengths. A third of the members are
coped at both ends, a third mitred, a third square. Every command must end with 0, and `check` must find that the
plan holds.
"""

from __future__ import annotations

import csv
import os
import random
import sys
import tempfile
import time
from collections.abc import Iterable, Sequence
from pathlib import Path

MEMBERS, STOCK_LENGTHS = 5_000, 40
ENDS = (("cope", "90", "50"), ("mitre", "45", ""), ("square", "", ""))


def write(path: Path, headings: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """One sheet of a job as CSV."""
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([headings, *rows])


def job(folder: Path, tubes: int, seed: int = 1) -> Path:
    """A job of ``MEMBERS`` members shared out over ``tubes`` tubes; lengths in mm, measured to half a millimetre."""
    dice = random.Random(seed)
    path = folder / f"{tubes}-tubes"
    path.mkdir()
    settings = {"name": f"{MEMBERS} members of {tubes} tubes", "kerf": 2, "end trim": 5, "spares": 1, "currency": "EUR"}
    names = [f"T{number}" for number in range(1, tubes + 1)]
    stock = [
        (name, length, f"{length * dice.uniform(0.009, 0.011):.2f}")
        for name in names
        for length in sorted(dice.sample(range(2_000, 8_000, 50), STOCK_LENGTHS))
    ]
    members = []
    for number in range(MEMBERS):
        end, angle, onto = ENDS[number % 3]
        length = dice.randint(400, 3_600) / 2
        members.append((f"M{number}", names[number % tubes], length, end, angle, onto, end, angle, onto, 0))
    write(path / "Job.csv", ("setting", "value"), settings.items())
    write(path / "Tubes.csv", ("tube", "od", "wall"), ((name, 40, 2) for name in names))
    write(path / "Stock.csv", ("tube", "length", "price"), stock)
    ends = tuple(f"{what} {side}" for side in "ab" for what in ("end", "angle", "onto"))
    write(path / "Members.csv", ("mark", "tube", "length", *ends, "turn"), members)
    return path


def measured(arguments: Sequence[object], folder: Path) -> tuple[int, float, float]:
    """Exit code, seconds and peak memory (MB) of one command."""
    start = time.perf_counter()
    process = os.fork()
    if not process:
        quiet = os.open(folder / "said", os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        os.dup2(quiet, 1)
        os.dup2(quiet, 2)
        os.execv(sys.executable, [sys.executable, "-m", "cutplan.cli.main", *map(str, arguments)])
    _, status, usage = os.wait4(process, 0)
    return os.waitstatus_to_exitcode(status), time.perf_counter() - start, usage.ru_maxrss / 1024


def main() -> None:
    """Two jobs, five commands each, a line for every command."""
    limit = sys.argv[1] if len(sys.argv) > 1 else "60"
    failed = False
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for tubes in (50, 1):
            path, saw_list, data = job(folder, tubes), folder / f"{tubes}.xlsx", folder / f"{tubes}.json"
            limited = ("--time-limit", limit)
            for arguments in (
                ("lengths", path),
                ("buy", path, *limited),
                ("plan", path, *limited),
                ("plan", path, "--output", saw_list, "--json", data, *limited),
                ("check", saw_list),
                ("check", data, "--job", path),
            ):
                code, seconds, memory = measured(arguments, folder)
                shown = " ".join(part for part in map(str, arguments) if not part.startswith("/"))
                print(f"{tubes:2} tubes, {shown:40} exit {code}, {seconds:6.1f} s, {memory:5.0f} MB", flush=True)
                if code:
                    failed = True
                    print((folder / "said").read_text(encoding="utf-8")[-2_000:])
    sys.exit(failed)


if __name__ == "__main__":
    main()
