"""How long the command line takes from cold: ``python tests/benchmarks/start_and_plan.py [ROUNDS]``.

Each line is the median of fresh processes (3 rounds by itself), in seconds and as a multiple of a bare
``python -c pass`` on the same machine, so that figures of different machines can be compared. Wanted on 2 cores:
``--help`` under 0.4 s, each example planned and proven, workbook written, under 3 s, its buying options under 5 s.
Leaves with 1 where it is not.
"""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

EXAMPLES = Path(__file__).parents[2] / "examples"
CUTPLAN = [sys.executable, "-m", "cutplan.cli.main"]
MOST_HELP, MOST_PLAN, MOST_BUY = 0.4, 3.0, 5.0


def seconds(command: list[str], rounds: int) -> float:
    """The median time of ``command`` in fresh processes. Raises CalledProcessError where it fails."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def main(rounds: int) -> int:
    """Measure, print, and tell whether all is as fast as wanted."""
    bare = seconds([sys.executable, "-c", "pass"], max(rounds, 5))
    print(f"{'python -c pass':<28}{bare:7.3f} s")
    slow = 0

    def line(name: str, taken: float, most: float, proof: str = "") -> None:
        nonlocal slow
        slow += taken > most
        print(f"{name:<28}{taken:7.3f} s {taken / bare:7.1f} x   wanted under {most} s{proof}")

    line("cutplan --help", seconds([*CUTPLAN, "--help"], rounds), MOST_HELP)
    with tempfile.TemporaryDirectory() as folder:
        for job in sorted(EXAMPLES.glob("*.xlsx")):
            data = Path(folder, "plan.json")
            # Forced, so that every round writes as the first does: without it a list that is there is read for ticks.
            saw_list = str(Path(folder, "saw.xlsx"))
            command = [*CUTPLAN, "plan", str(job), "--output", saw_list, "--json", str(data), "--force"]
            taken = seconds(command, rounds)
            proven = json.loads(data.read_text(encoding="utf-8"))["proven"]
            slow += not proven
            line(f"plan {job.name}", taken, MOST_PLAN, ", proven" if proven else ", NOT PROVEN")
            line(f"buy {job.name}", seconds([*CUTPLAN, "buy", str(job)], rounds), MOST_BUY)
    return 1 if slow else 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 3))
