"""Members with every kind of end against solids: the judge of the suite, with as many members as there is time for.

    python tests/benchmarks/ends_versus_solids.py [COUNT]

COUNT members (100) of each kind: coped on straight tubes at both ends, landing on a bend, onto equal tubes, and onto
several tubes at one end. It stops at the first whose tip or finished line is not that of the solid, and names it.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "geometry"))
import test_judge


def main() -> None:
    """Every kind in turn, with seeds that the suite does not use too."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    for kind in (
        test_judge.test_two_copes_on_straight_tubes,
        test_judge.test_cope_landing_on_a_bend,
        test_judge.test_equal_tubes,
        test_judge.test_several_tubes_at_one_end,
    ):
        for seed in range(count):
            try:
                kind(seed)
            except AssertionError as error:
                raise SystemExit(f"{kind.__name__}({seed}): {error}") from error
        print(f"{kind.__name__}: {count} members are those of the solids", flush=True)


if __name__ == "__main__":
    main()
