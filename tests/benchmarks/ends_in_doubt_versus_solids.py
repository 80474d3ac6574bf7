"""Ends in doubt against solids: ``python tests/benchmarks/ends_in_doubt_versus_solids.py --ends 60``.

Each end lands on a bend, or on several tubes, with an angle, an offset, a turn or a side in doubt. For numbers drawn
within their ±, every other time at its ends, a solid modeller (manifold3d) cuts the tubes from the member, and the tip
is read off what is left: the blank that this makes must lie within what was said. Counts those that do not, which must
be none, and how far the greatest found stays below the bound.
"""

from __future__ import annotations

import argparse
import random
import sys
from dataclasses import replace
from fractions import Fraction
from math import cos, radians, sin
from pathlib import Path

import numpy as np
from manifold3d import CrossSection, Manifold

sys.path.insert(0, str(Path(__file__).parents[1] / "geometry"))
from estimate_judge import blank_of, random_hard_end, tried

from cutplan.job.model import Measured, Member, Saddle, Settings, Tube

LENGTH = 700
EXACT = Settings(fit_cope=Fraction(0), sure=Fraction(0), step=Fraction(1, 1000))
_ROUND = 96


def placed(solid: Manifold, axes: list[np.ndarray], origin: np.ndarray) -> Manifold:
    """A solid with its own x, y and z along ``axes``."""
    return solid.transform(np.column_stack([*axes, origin]))


def tube_solid(one: Saddle) -> Manifold:
    """The tube landed on, in the end's frame: the member goes up along z, its short side is towards x."""
    theta, turn, side = radians(one.angle_deg), radians(one.turn_deg), radians(one.onto.side_deg)
    short, clockwise = np.array([cos(turn), sin(turn), 0.0]), np.array([-sin(turn), cos(turn), 0.0])
    up = np.array([0.0, 0.0, 1.0])
    way, away = cos(theta) * up + sin(theta) * short, sin(theta) * up - cos(theta) * short
    outwards = cos(side) * away + sin(side) * clockwise
    point, radius = float(one.offset) * clockwise, float(one.onto.od) / 2.0
    if one.onto.clr is None:
        rod = Manifold.cylinder(2000.0, radius, radius, _ROUND).translate((0.0, 0.0, -1000.0))
        return placed(rod, [clockwise, np.cross(way, clockwise), way], point)
    clr = float(one.onto.clr)
    half = Manifold.revolve(CrossSection.circle(radius, _ROUND).translate((clr, 0.0)), 2 * _ROUND, 180.0)
    return placed(half, [-way, outwards, np.cross(-way, outwards)], point - clr * outwards)


def tip(saddles: tuple[Saddle, ...], radius: float) -> float:
    """How far along its axis the end of what is left of the member lies."""
    member = Manifold.cylinder(700.0, radius, radius, _ROUND).translate((0.0, 0.0, -400.0))
    for one in saddles:
        member -= tube_solid(one)
    parts = [part.bounding_box() for part in member.decompose()]
    return min(box[2] for box in parts if box[5] > 299.0)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--ends", type=int, default=60)
    parser.add_argument("--samples", type=int, default=8)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    rng = random.Random(asked.seed)
    judged = samples = outside = 0
    gaps = []
    while judged < asked.ends:
        od = rng.choice([20.0, 38.0])
        end = replace(random_hard_end(rng, od), measured=Measured.CENTRE)
        # Where tubes are equally wide their sides only touch, and a solid of flat facets keeps a sliver there.
        if any(one.onto.ends_short is not None or float(one.onto.od) < 1.05 * od for one in end.saddles):
            continue
        tube = Tube("t", Fraction(od), Fraction(2))
        member = Member("m", "t", length=Fraction(LENGTH), end_a=end)
        blank = blank_of(tube, member, EXACT)
        if blank is None or not blank.estimated:
            continue
        judged += 1
        found = []
        for plain in tried(rng, member, asked.samples):
            made = blank_of(tube, plain, EXACT)
            if made is None:
                continue
            length = LENGTH - tip(plain.end_a.saddles, od / 2.0)
            samples += 1
            found.append(length)
            if not float(blank.least) - 0.05 <= length <= float(blank.length) + 0.05:
                outside += 1
                print(length, float(made.length), float(blank.least), float(blank.length), plain.end_a)
        if found:
            gaps.append(float(blank.length) - max(found))
    gaps.sort()
    print(f"{judged} ends, {samples} solids: {outside} outside")
    print(f"bound above the greatest solid: median {gaps[len(gaps) // 2]:.2f} mm, most {gaps[-1]:.2f} mm")


if __name__ == "__main__":
    main()
