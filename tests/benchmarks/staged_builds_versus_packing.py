"""Small builds by the thousand that become known while they are built, judged by exhaustive packing.

Run by hand: python tests/benchmarks/staged_builds_versus_packing.py [BUILDS [FIRST_SEED]]
Each is planned over its estimates, ordered, followed list after list, measured (often at the very ends of what was
written), changed and spoilt at random, to its end. Prints how much was met on the way, and every build in which
tube had to be bought beyond the plan, a millimetre was lost, a cut came before its stage, or a promise was broken.
"""

import sys
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "plan"))
from build_judge import play
from staged_builds import JudgedError


def main() -> None:
    """Count."""
    count, first = (int(text) for text in (*sys.argv[1:3], *("1000", "1000")[len(sys.argv[1:3]) :]))
    seen: Counter[str] = Counter()
    for seed in range(first, first + count):
        try:
            seen += play(seed)
        except JudgedError as error:
            seen["WRONG"] += 1
            print(f"WRONG, build {seed}: {error}", flush=True)
    for what, times in sorted(seen.items()):
        print(f"{times:6} {what}")


if __name__ == "__main__":
    main()
