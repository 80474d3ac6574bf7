"""Blanks in doubt against samples: ``python tests/benchmarks/estimates_versus_samples.py --members 400``.

Counts how often a sample is longer than the greatest a blank may come out as, or shorter than the least (both must be
0), how often the check of a plan would refuse the room kept, and how far the greatest sample stays below the bound.
"""

from __future__ import annotations

import argparse
import random
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "geometry"))
from estimate_judge import (
    blank_in_frame,
    blank_of,
    frames_tried,
    random_bent_frame,
    random_frame,
    random_hard_member,
    random_member,
    random_node,
    tried,
)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--members", type=int, default=400)
    parser.add_argument("--samples", type=int, default=60)
    parser.add_argument("--frames", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    rng = random.Random(asked.seed)
    judged = samples = above = below = 0
    gaps = []
    while judged < asked.members:
        # Every third lands on a bend, on several tubes, or on one that ends.
        tube, member = (random_member, random_member, random_hard_member)[judged % 3](rng)
        blank = blank_of(tube, member)
        if blank is None or not blank.estimated:
            continue
        judged += 1
        greatest = None
        for plain in tried(rng, member, asked.samples):
            one = blank_of(tube, plain)
            if one is None:
                continue
            samples += 1
            above += one.length > blank.length
            below += one.length < blank.least
            if one.length > blank.length or one.length < blank.least:
                print(float(one.length), float(blank.least), float(blank.length), member, plain)
            greatest = max(one.length, greatest or one.length)
        if greatest is not None:
            gaps.append(float(blank.length - greatest))
    for number in range(3 * asked.frames):
        tubes, members = (random_frame, random_node, random_bent_frame)[number % 3](rng)
        blank = blank_in_frame(tubes, members)
        if blank is None:
            continue
        judged += 1
        for plain in frames_tried(rng, members, asked.samples // 4):
            one = blank_in_frame(tubes, plain)
            if one is not None:
                samples += 1
                above += one.length > blank.length
                below += one.length < blank.least
    gaps.sort()
    print(f"{judged} members, {samples} samples: {above} above the greatest, {below} below the least")
    print(f"bound above the greatest sample: median {gaps[len(gaps) // 2]:g} mm, most {gaps[-1]:g} mm")


if __name__ == "__main__":
    main()
