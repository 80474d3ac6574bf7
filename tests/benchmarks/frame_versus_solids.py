"""Every coped end of a whole frame by nodes, surveyed or not, against solids: all other tubes of its node cut from it.

Run by hand: python tests/benchmarks/frame_versus_solids.py [JOB]
The judge is not given what an end lands on: it cuts away every tube of the frame that is not itself cut to this one.
Compared are the blank (by its tip), the line round the tube with its turn and hand, and every left and right that are
said to be mirror images. Prints how many ends were compared, the worst, and those out by more than 0.05 mm.
"""

import sys
import time
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "geometry"))
from frame_judge import judge_frame

from cutplan.geometry import lay_out
from cutplan.geometry.nodes import settled
from cutplan.job import read
from cutplan.plan.located import located

CLOSE_MM = 0.05
FACETS = 180
"""Enough for the tolerance; with twice as many it takes over ten minutes in place of four."""
EXAMPLE = Path(__file__).parents[2] / "examples" / "dune-frame"


def main() -> None:
    """Compare."""
    reading = read(Path(sys.argv[1]) if len(sys.argv) > 1 else EXAMPLE)
    assert reading.job is not None
    here = located(reading.job)
    found = settled(here.job)
    assert (reading.faults, here.faults, found.faults) == ((), (), ())
    # What is added for fitting is no part of the shape.
    bare = replace(found.job.settings, fit_cope=Fraction(0), fit_mitre=Fraction(0), shrink=Fraction(0))
    job = replace(found.job, settings=bare)
    start = time.process_time()
    layout = lay_out(job)
    print(f"{len(layout.blanks)} marks laid out in {time.process_time() - start:.1f} s, {len(layout.faults)} refused")
    verdicts = list(judge_frame(job, layout, FACETS))
    worst = np.array([max(one.tip, one.line) for one in verdicts])
    print(
        f"{len(verdicts)} coped ends compared, the worst {worst.max():.3f} mm, {(worst > CLOSE_MM).sum()} out by more"
    )
    print(f"than {CLOSE_MM} mm; lines left out as they only graze: {sum(one.grazed for one in verdicts)}")
    for one in sorted(verdicts, key=lambda each: -max(each.tip, each.line))[:12]:
        print(f"  {one.mark} end {one.end}: tip {one.tip:.3f}, line {one.line:.3f} mm, {one.missed} lines miss")


if __name__ == "__main__":
    main()
