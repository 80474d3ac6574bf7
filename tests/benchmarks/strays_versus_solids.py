"""Ends in the air, ends coped onto nothing and third tubes in a saddle, against solids: random frames with slips.

Run by hand: python tests/benchmarks/strays_versus_solids.py [FRAMES [FIRST_SEED]]
Prints how many there were by the solids, and each that was missed, false or reported with another size.
"""

import sys
import warnings
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "geometry"))
from stray_judge import Compared, compared, slipped_frame


def main() -> None:
    """Count."""
    frames = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    # Lines that meet nothing at all are no numbers, and said to be all of a slice.
    warnings.simplefilter("ignore", RuntimeWarning)
    total = Compared()
    for seed in range(first, first + frames):
        found = compared(slipped_frame(seed), lines=120)
        for text in found.wrong:
            print(f"  frame {seed}: {text}", flush=True)
        total.in_the_air += found.in_the_air
        total.onto_nothing += found.onto_nothing
        total.third_tubes += found.third_tubes
        total.certain += found.certain
        total.wrong += found.wrong
    print(
        f"{frames} frames from seed {first}: {total.in_the_air} ends in the air, {total.onto_nothing} coped onto "
        f"nothing, {total.third_tubes} third tubes in a saddle ({total.certain} with all lines certain); "
        f"{len(total.wrong)} wrong"
    )


if __name__ == "__main__":
    main()
