"""Narrow tubes onto the mitred corners of portals whose nodes are in doubt: does every plan hold, is each ± true.

    python tests/benchmarks/portals_in_doubt.py [--count 300] [--seed 1] [--samples 4]

Random frames as people weld them: one or two portals (posts and a top, mitred), rails and braces of narrower tube from
their corners, some bent, each node with a ± on some of its coordinates. Each is planned, which proves the plan from its
rows; and its nodes are moved at random within their ± (normal, the ± two standard deviations), laid out again: the
blanks should lie within theirs in about 95 of 100 samples. Seeded.
"""

from __future__ import annotations

import argparse
import csv
import tempfile
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
from blanks_of_surveyed_nodes import blanks, shifted

import cutplan
from cutplan.errors import CutplanError
from cutplan.job import read
from cutplan.plan.located import located

Row = list[object]


def main() -> None:
    """Count, and print the counts."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--count", type=int, default=300)
    arguments.add_argument("--seed", type=int, default=1)
    arguments.add_argument("--samples", type=int, default=4)
    given = arguments.parse_args()
    planned: Counter[str] = Counter()
    within = tried = 0
    for number in range(given.count):
        dice = np.random.default_rng([given.seed, number])
        with tempfile.TemporaryDirectory() as folder:
            write(Path(folder), dice)
            try:
                cutplan.make_plan(cutplan.read_job(folder))
            except CutplanError as error:
                planned["refused"] += 1
                print(f"frame {number}: {str(error).splitlines()[0]}")
                continue
            except Exception as error:
                planned["broken"] += 1
                print(f"frame {number}: BROKEN: {error}")
                continue
            planned["planned"] += 1
            inside, of = sampled(Path(folder), dice, given.samples)
        within, tried = within + inside, tried + of
    print(", ".join(f"{what} {count}" for what, count in planned.items()))
    print(f"blanks within their ±: {within} of {tried}: {100.0 * within / max(tried, 1):.1f} %")


def write(folder: Path, dice: np.random.Generator) -> None:
    """A frame as its sheets."""

    def place(xyz: tuple[float, float, float], doubt: float) -> Row:
        moved = [value + float(dice.uniform(-40, 40)) for value in xyz]
        loose = [doubt if dice.random() < 0.5 else 0.0 for _ in xyz]
        return [f"{value:.1f}" + (f" ± {by:g}" if by else "") for value, by in zip(moved, loose, strict=True)]

    doubt = float(dice.choice([0.5, 1.0, 2.0, 6.0]))
    nodes: list[Row] = []
    members: list[Row] = []
    portals = int(dice.integers(1, 3))
    high = float(dice.uniform(600, 1000))
    for k in range(portals):
        x = 1400.0 * k
        for name, y, z in (("A", 0.0, 0.0), ("B", -1000.0, 0.0), ("E", -150.0, high), ("F", -850.0, high)):
            nodes.append([f"{name}{k}", *place((x, y, z), doubt)])
        members += [[f"PL{k}", "wide", f"A{k}", "", f"E{k}"], [f"TOP{k}", "wide", f"E{k}", "", f"F{k}"]]
        members.append([f"PR{k}", "wide", f"B{k}", "", f"F{k}"])
    for corner in ("E0", "F0"):
        for k in range(int(dice.integers(1, 4))):
            far, mark = f"P{corner}{k}", f"R{corner}{k}"
            y, z = (-100.0, -900.0)[corner == "F0"] + 300.0 * (k - 1), float(dice.uniform(0, 500)) + 250.0 * k
            nodes.append([far, *place((-900.0, y, z), doubt)])
            via = ""
            if dice.random() < 0.3:
                via = f"V{corner}{k}"
                nodes.append([via, *place((-400.0, y, z + 200.0), doubt)])
            members.append([mark, str(dice.choice(["narrow", "thin"])), corner, via, far])
    if portals == 2:
        members += [["RAIL", "narrow", "E0", "", "E1"], ["BRACE", "thin", "A0", "", "E1"]]
    sheets: dict[str, list[Row]] = {
        "Job": [["setting", "value"], ["spares", "0"]],
        "Tubes": [
            ["tube", "od", "wall", "clr"],
            ["wide", 48.3, 2.6, 150],
            ["narrow", 33.7, 2.6, 110],
            ["thin", 21.3, 2, 70],
        ],
        "Stock": [["tube", "length"], ["wide", 9000], ["narrow", 9000], ["thin", 9000]],
        "Nodes": [["name", "x", "y", "z"], *nodes],
        "Members": [["mark", "tube", "from", "via", "to"], *members],
    }
    for name, table in sheets.items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(table)


def sampled(folder: Path, dice: np.random.Generator, samples: int) -> tuple[int, int]:
    """How many blanks of nodes moved within their ± lie within theirs, and of how many."""
    job = read(folder).job
    assert job is not None
    found = located(job)
    if found.found is None:
        return 0, 0
    told = {member.mark: float(member.tolerance) for member in found.job.members}
    settings = replace(found.job.settings, meet_within=job.settings.meet_within + Fraction(20))
    members = tuple(replace(member, tolerance=Fraction(0)) for member in found.job.members)
    plain = replace(found.job, settings=settings, members=members)
    likely = blanks(plain)
    sigma = np.sqrt(np.diag(found.found._spread)).reshape(-1, 3)
    index = {place.name: number for number, place in enumerate(found.found.places)}
    inside = of = 0
    for _ in range(samples):
        moves = sigma * dice.standard_normal(sigma.shape)
        made = blanks(
            replace(plain, nodes=tuple(shifted(node, moves[index[node.base]], plain) for node in plain.nodes))
        )
        for mark in likely.keys() & made.keys():
            inside += abs(made[mark] - likely[mark]) <= told[mark] + 1e-6
            of += 1
    return inside, of


if __name__ == "__main__":
    main()
