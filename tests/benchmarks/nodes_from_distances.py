"""Invented frames measured with a tape: is the ± true, is the slip named, is nothing called certain that is not.

    python tests/benchmarks/nodes_from_distances.py [--count 500] [--seed 1]

Five trials on each frame: exact readings, readings with normal errors of 1 mm, the same with one reading off by 15 to
60 mm that the others check (redundancy number of 0.3 and more), the same with one of them read in inches, and the same
with two nodes given by exact coordinates of which one is off by 20 to 100 mm. The judge is the frame itself.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "survey"))

from hoops import Frame, frame

from cutplan.survey import Adjustment, Known, adjust


def main() -> None:
    """Count, and print the counts."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--count", type=int, default=500)
    arguments.add_argument("--seed", type=int, default=1)
    given = arguments.parse_args()
    within = coordinates = spans_within = spans = 0
    exact_worst, unsettled, refused, wrong_shape = 0.0, 0, 0, 0
    slips = first = alone = alone_wrong = false_alarms = false_alone = 0
    inches: Counter[str] = Counter()
    typed: Counter[str] = Counter()
    began = time.process_time()
    for number in range(given.count):
        dice = np.random.default_rng([given.seed, number])
        made = frame(dice, extra=float(dice.uniform(0.2, 0.9)))
        exact = adjust(made.nodes, made.read(None))
        if exact.loose or exact.either:
            unsettled += 1
            continue
        places = np.array([place.xyz for place in exact.places])
        exact_worst = max(exact_worst, float(np.abs(places - made.xyz).max()))
        noisy = adjust(made.nodes, made.read(dice))
        false_alarms += bool(noisy.slips)
        false_alone += any(slip.alone for slip in noisy.slips)
        refused += bool(noisy.loose or noisy.either)
        off = np.array([place.xyz for place in noisy.places]) - made.xyz
        doubts = np.array([[np.inf if each is None else each for each in place.doubts] for place in noisy.places])
        wrong_shape += bool(np.abs(off).max() > 200)
        asked = (doubts > 0) & np.isfinite(doubts)
        within += int((np.abs(off) <= doubts)[asked].sum())
        coordinates += int(asked.sum())
        for _ in range(10):
            i, j = dice.choice(len(made.xyz), 2, replace=False)
            length, doubt = noisy.distance(f"N{i}", f"N{j}")
            if doubt:
                spans += 1
                spans_within += abs(length - float(np.linalg.norm(made.xyz[i] - made.xyz[j]))) <= doubt
        checked = [row for row, reading in enumerate(noisy.readings) if reading.checked >= 0.3]
        if not checked:
            continue
        slips += 1
        row = int(dice.choice(checked))
        size = float(dice.uniform(15, 60)) * float(dice.choice([-1, 1]))
        slipped = adjust(made.nodes, made.read(dice, (row, size)))
        named = [slip.suspects[0] for slip in slipped.slips]
        first += bool(named) and named[0] == row
        certain = [slip.suspects[0] for slip in slipped.slips if slip.alone]
        alone += row in certain
        if any(each != row for each in certain):
            alone_wrong += 1
            print(f"frame {number}: named as certain {certain}, the slip is {row} by {size:.0f} mm")
        inches[in_inches(made, dice, row)] += 1
        typed[typed_wrong(made, dice)] += 1
    print(f"frames {given.count}, of which not settled by their readings {unsettled}")
    print(f"exact readings: worst coordinate {exact_worst:.6f} mm off")
    print(f"noisy: coordinates within their ± {within} of {coordinates}: {100 * within / max(coordinates, 1):.2f} %")
    print(f"noisy: distances within their ± {spans_within} of {spans}: {100 * spans_within / max(spans, 1):.2f} %")
    print(f"noisy: another shape taken {wrong_shape}, left open {refused}")
    print(f"noisy, no slip: one named all the same {false_alarms}, called certain {false_alone}")
    share = 100 * first / max(slips, 1)
    print(f"slips {slips}: named first {first} ({share:.1f} %), certain {alone}, wrong one {alone_wrong}")
    print(f"one read in inches: {told(inches)}")
    print(f"one coordinate given wrongly: {told(typed)}")
    print(f"processor time {time.process_time() - began:.0f} s")


def in_inches(made: Frame, dice: np.random.Generator, row: int) -> str:
    """What becomes of one reading in inches among millimetres."""
    read = made.read(dice)
    read[row] = replace(read[row], value=read[row].value / 25.4)
    found = adjust(made.nodes, read)
    certain = [slip.suspects[0] for slip in found.slips if slip.alone]
    if certain == [row]:
        return "it alone left out"
    if row in certain:
        return "others left out too"
    if certain:
        return "others left out instead"
    return "it named" if any(row in slip.suspects for slip in found.slips) else "not named"


def typed_wrong(made: Frame, dice: np.random.Generator) -> str:
    """What becomes of a coordinate that was given wrongly."""
    nodes, axis = list(made.nodes), int(dice.integers(3))
    high = [i for i, node in enumerate(nodes) if node.known == (None, None, None)]
    one, other = (int(i) for i in dice.choice(high, 2, replace=False))
    off = float(dice.uniform(20, 100)) * float(dice.choice([-1, 1]))
    for i in (one, other):
        xyz = [float(made.xyz[i, k]) + (off if (i, k) == (one, axis) else 0.0) for k in range(3)]
        nodes[i] = replace(nodes[i], known=(Known(xyz[0]), Known(xyz[1]), Known(xyz[2])))
    found = adjust(nodes, made.read(dice))
    key = (f"N{one}", axis)
    if any(found.readings[k].left_out and not found.readings[k].typed for k in range(len(found.readings))):
        return "readings left out" + (", it named" if key in suspected(found) else "")
    if key not in suspected(found):
        return "not named"
    certain = [found.readings[slip.suspects[0]] for slip in found.slips if slip.alone]
    if certain:
        return "it alone" if [(each.start, each.axis) for each in certain] == [key] else "another called certain"
    return "it among others"


def suspected(found: Adjustment) -> set[tuple[str, int | None]]:
    """The coordinates that are suspects."""
    readings = [found.readings[k] for slip in found.slips for k in (*slip.suspects, *slip.also)]
    return {(each.start, each.axis) for each in readings if each.typed}


def told(counts: Counter[str]) -> str:
    """Each with its count, the most frequent first."""
    return "; ".join(f"{what} {count}" for what, count in counts.most_common())


if __name__ == "__main__":
    main()
