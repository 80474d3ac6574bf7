"""Random half frames with bent tubes, by nodes, and their mirror images, against solids and pieces made by card.

Run by hand: python tests/benchmarks/bent_frames_versus_solids.py [FRAMES [FIRST_SEED]]
Every coped end of both sides: all other tubes of its node that give no way to it are cut from the member. Every piece:
bent as its card says and put in its place, its end b must come to where the frame has it. Frames in which tubes run
into each other, as is reported of them, are passed over. What is out by more than 0.05 mm is looked at again with finer
facets. Prints how many ends and pieces were compared, and those that are out.
"""

import csv
import sys
import tempfile
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "geometry"))
from bent_frames import Half
from frame_judge import Whole, judge_frame
from piece_judge import pieces_that_fit

from cutplan.geometry import Layout, lay_out
from cutplan.geometry.inside import insides
from cutplan.geometry.nodes import settled
from cutplan.job import read
from cutplan.job.model import Job

CLOSE_MM = 0.05
FACETS, FINE = 180, 720


def job_of(half: Half) -> tuple[Job, Layout]:
    """As it is read from a person's tables and laid out, nothing added for fitting."""
    with tempfile.TemporaryDirectory() as folder:
        for name, rows in half.tables().items():
            with (Path(folder) / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
                csv.writer(file).writerows(rows)
        reading = read(Path(folder))
    assert reading.job is not None, [str(fault) for fault in reading.faults]
    job = settled(reading.job).job
    job = replace(job, settings=replace(job.settings, fit_cope=Fraction(0), fit_mitre=Fraction(0)))
    return job, lay_out(job)


def main() -> None:
    """Compare and count."""
    frames = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    ends = rights = pieces = bent = passed = 0
    worst = 0.0
    for seed in range(first, first + frames):
        job, layout = job_of(Half(seed))
        if layout.faults:
            print(f"frame {seed} refused: {layout.faults[0]}")
        if layout.faults or any("into" in str(remark) for remark in layout.remarks):
            passed += 1
            continue
        blanks = {blank.mark: blank for blank in layout.blanks}
        lie = {mark: insides(blank, job) for mark, blank in blanks.items()}
        for one in pieces_that_fit(Whole.of(job), job, blanks, lie):
            pieces += 1
            bent += bool(blanks[one.mark].bends)
            if max(one.place, one.round, one.inside) > CLOSE_MM:
                print(f"frame {seed}, {one.mark}: {one}")
        verdicts = list(judge_frame(job, layout, FACETS, both_sides=True))
        out = {one.mark for one in verdicts if max(one.tip, one.line) > CLOSE_MM}
        if out:
            finer = judge_frame(job, replace(layout, blanks=tuple(blanks[mark] for mark in out)), FINE, both_sides=True)
            verdicts = [*(one for one in verdicts if one.mark not in out), *finer]
        for one in verdicts:
            ends += 1
            rights += one.mark.endswith("-R")
            worst = max(worst, one.tip, one.line)
            if max(one.tip, one.line) > CLOSE_MM:
                print(f"frame {seed}, {one.mark} end {one.end}: tip {one.tip:.3f}, line {one.line:.3f} mm")
        print(f"{seed + 1 - first} frames, {passed} passed over; {ends} ends, {rights} of them right ones", end="")
        print(f", {pieces} pieces, {bent} bent; the worst end {worst:.3f} mm", flush=True)


if __name__ == "__main__":
    main()
