"""A coordinate with the wrong sign and a slip of the tape at once: is each named, and is no sign named without need?

    python tests/benchmarks/signs_and_slips.py [--count 20] [--seed 100]

Invented frames whose feet are known on the floor, readings of 1 mm standard deviation. Each is adjusted with one
foot's coordinate of the wrong sign, with that and a slip of 15 to 60 mm, and, to see what is named wrongly, with one
slip and with two and no wrong sign at all. The judge is the frame itself.
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

from cutplan.survey import Adjustment, Distance, Known, Node, adjust

LEAST_MM = 60.0


def on_known_feet(made: Frame) -> list[Node]:
    """The nodes of a frame whose feet are given on the floor."""
    nodes = []
    for node, xyz in zip(made.nodes, made.xyz, strict=True):
        x, y, z = (Known(round(float(value), 3)) for value in xyz)
        nodes.append(Node(node.name, (x, y, z)) if xyz[2] == 0.0 else node)
    return nodes


def slipped(readings: list[Distance], numbers: list[int], dice: np.random.Generator) -> list[Distance]:
    """The readings with slips in some, by their numbers."""
    made = list(readings)
    for number in numbers:
        by = float(dice.choice([-1.0, 1.0]) * dice.uniform(15.0, 60.0))
        made[number] = replace(made[number], value=made[number].value + by)
    return made


def named(found: Adjustment, node: str, axis: int, number: int | None) -> tuple[bool, bool]:
    """Whether that sign is among those named, and that reading alone is named as a slip."""
    sign = (node, axis) in [(one.name, one.axis) for one in found.signs]
    slips = [one.suspects for one in found.slips]
    return sign, slips == ([] if number is None else [(number,)])


def main() -> None:
    """Count, and print the counts."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--count", type=int, default=20)
    arguments.add_argument("--seed", type=int, default=100)
    given = arguments.parse_args()
    count: Counter[str] = Counter()
    began = time.process_time()
    for number in range(given.count):
        dice = np.random.default_rng([given.seed, number])
        made = frame(dice)
        nodes = on_known_feet(made)
        feet = [i for i, xyz in enumerate(made.xyz) if xyz[2] == 0.0]
        can = [(i, axis) for i in feet for axis in (0, 1) if abs(made.xyz[i, axis]) > LEAST_MM]
        i, axis = can[int(dice.integers(len(can)))]
        known = list(nodes[i].known)
        known[axis] = Known(-known[axis].value)
        wrong = [*nodes[:i], replace(nodes[i], known=(known[0], known[1], known[2])), *nodes[i + 1 :]]
        readings = made.read(dice)
        one, two = (int(each) for each in dice.choice(len(readings), 2, replace=False))
        count["alone"] += all(named(adjust(wrong, readings), nodes[i].name, axis, None))
        found = adjust(wrong, slipped(readings, [one], dice))
        sign, slip = named(found, nodes[i].name, axis, one)
        count["sign"] += sign
        count["both"] += sign and slip
        count["no other"] += sign and slip and len(found.signs) == 1
        for numbers in ([one], [one, two]):
            count["wrongly"] += bool(adjust(nodes, slipped(readings, numbers, dice)).signs)
        print(f"{number + 1}: {dict(count)}, {time.process_time() - began:.0f} s", flush=True)
    print(f"wrong sign alone: named in {count['alone']} of {given.count}")
    print(f"wrong sign and a slip: sign named in {count['sign']}, both in {count['both']}", end=", ")
    print(f"with no other sign beside it in {count['no other']}")
    print(f"one slip, two slips: a sign named wrongly in {count['wrongly']} of {2 * given.count}")


if __name__ == "__main__":
    main()
