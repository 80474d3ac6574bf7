"""Ends flat on sloping plates against a solid modeller: how far lines and lengths are off, on many random tubes.

``python tests/benchmarks/plates_versus_solids.py [COUNT]``: so many tubes with a plate at each end, both hands of each.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path
from random import Random

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "geometry"))
from test_plates import frame, random_leg, solid_lines, worst

from cutplan.geometry import lay_out


def main(count: int) -> None:
    """Judge that many tubes with a plate at each end, in both halves of a mirror."""
    flip, off = np.array([1.0, -1.0, 1.0]), []
    for seed in range(count):
        nodes, slope, other = random_leg(Random(1_000 + seed))
        with tempfile.TemporaryDirectory() as folder:
            job = frame(Path(folder), nodes, [["LEG", "T", "A", "", "B", "plane P + Q + S", slope, ""]])
        left, right = lay_out(job).blanks
        between = float(np.linalg.norm(nodes["B"] - nodes["A"]))
        off.append(worst(left, solid_lines(nodes, other), between))
        image = {name: at * flip for name, at in nodes.items()}
        off.append(worst(right, solid_lines(image, other * flip), between))
    beyond = sum(each > 0.05 for each in off)
    print(f"{len(off)} tubes with two plates each: {max(off):.4f} mm off at the most, {beyond} beyond 0.05")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 300)
