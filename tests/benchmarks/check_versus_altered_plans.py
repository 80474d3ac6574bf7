"""Plans over estimates and in stages, altered by the hundred: is what breaks the promise refused, and nothing else?

Run by hand: python tests/benchmarks/check_versus_altered_plans.py [PLANS [FIRST_SEED]]
Two cuts swapped, a cut moved to another bar, a ± changed, a bar shortened, a spare dropped, a stage moved; whether each
still keeps the promise is added up from the rows. Prints how many of each kind were refused and passed, and every one
that was judged otherwise.
"""

import sys
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "plan"))
from altered_plans import alterations, planned

from cutplan.plan import complaints


def main() -> None:
    """Count."""
    count, first = (int(text) for text in (*sys.argv[1:3], *("300", "1000")[len(sys.argv[1:3]) :]))
    seen: Counter[str] = Counter()
    for seed in range(first, first + count):
        if (made := planned(seed)) is None:
            continue
        for what, altered, keeps in alterations(*made):
            said = complaints(altered)
            if (said == ()) is not keeps:
                seen["WRONG"] += 1
                print(f"WRONG, plan {seed}: {what}, which {'keeps' if keeps else 'breaks'} it: {said[:2]}", flush=True)
            seen[f"{what}: {'passed' if said == () else 'refused'}"] += 1
    for what, times in sorted(seen.items()):
        print(f"{times:6} {what}")


if __name__ == "__main__":
    main()
