"""Blanks between nodes that were measured with a tape: is each one's ± as true as it says, angles and offsets included.

    python tests/benchmarks/blanks_of_surveyed_nodes.py [JOB] [--samples 40]

The nodes of a job with distances are moved at random as their covariance allows, all together, and every member is laid
out again with all its ends: its blank should lie within the ± that was given for it in about 95 of 100 samples. Seeded.
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np

from cutplan.geometry import lay_out
from cutplan.geometry.nodes import settled
from cutplan.job import read
from cutplan.job.model import Job, Node
from cutplan.plan.located import located

EXAMPLE = Path(__file__).parents[2] / "examples" / "dinghy-trolley"


def main() -> None:
    """Count, and print the counts."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("job", nargs="?", type=Path, default=EXAMPLE)
    arguments.add_argument("--samples", type=int, default=40)
    given = arguments.parse_args()
    job = read(given.job).job
    assert job is not None
    found = located(job)
    assert found.found is not None, "a job without distances has nothing to count"
    shown = {member.mark: float(member.tolerance) for member in found.job.members}
    # Whatever the nodes come to, tubes that met go on meeting.
    settings = replace(found.job.settings, meet_within=Fraction(10))
    members = tuple(replace(member, tolerance=Fraction(0)) for member in found.job.members)
    plain = replace(found.job, settings=settings, members=members)
    likely = blanks(plain)
    index = {place.name: number for number, place in enumerate(found.found.places)}
    values, vectors = np.linalg.eigh(found.found._spread)
    spread = vectors * np.sqrt(np.maximum(values, 0.0))
    dice = np.random.default_rng(1)
    off: dict[str, list[float]] = {mark: [] for mark in likely}
    for _ in range(given.samples):
        moves = (spread @ dice.standard_normal(len(spread))).reshape(-1, 3)
        moved = [shifted(node, moves[index[node.base]], plain) for node in plain.nodes]
        made = blanks(replace(plain, nodes=tuple(moved)))
        for mark in likely.keys() & made.keys():
            off[mark].append(made[mark] - likely[mark])
    within = tried = 0
    for mark, misses in sorted(off.items()):
        doubt = shown.get(mark) or shown.get(mark[:-2], 0.0)
        inside = int((np.abs(misses) <= doubt).sum())
        within, tried = within + inside, tried + len(misses)
        print(
            f"{mark}: ± {doubt:.1f} shown, ± {2.0 * float(np.std(misses)):.2f} found, {inside} of {len(misses)} within"
        )
    print(f"blanks within their ±: {within} of {tried}: {100.0 * within / max(tried, 1):.1f} %")


def blanks(job: Job) -> dict[str, float]:
    """The blank of each member, not rounded."""
    layout = lay_out(settled(job).job)
    return {blank.member: sum(part.length for part in blank.parts[:-1]) for blank in layout.blanks}


def shifted(node: Node, by: np.ndarray, job: Job) -> Node:
    """``node`` moved; a mirror image goes the other way."""
    step = by.copy()
    mirror = job.settings.mirror
    if mirror is not None and node.is_image:
        step[mirror.axis.number] *= -1.0
    x, y, z = (Fraction(round(float(each) * 1000), 1000) for each in step)
    return replace(node, x=node.x + x, y=node.y + y, z=node.z + z)


if __name__ == "__main__":
    main()
