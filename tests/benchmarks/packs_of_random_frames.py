"""Packs read back: ``python tests/benchmarks/packs_of_random_frames.py [COUNT]``: every example on both papers (the
largest, which the suite leaves out, among them), then random frames.

Frames of points as one draws them up, the sound ones of them, in mm or inches, on A4 or Letter. Of every page but the
frame's: no text over another, none over the margin or out of its box; every cut is on the saw sheets, every mark on a
card. Leaves with 1 where anything is wrong.
"""

from __future__ import annotations

import sys
import tempfile
import traceback
from dataclasses import replace
from pathlib import Path
from random import Random

from pypdf import PdfReader

sys.path.insert(0, str(Path(__file__).parents[1] / "geometry"))
sys.path.insert(0, str(Path(__file__).parents[1] / "output"))

from frames import random_frame
from pdf_back import crossed, overlaps, read_page, strays

from cutplan import make_plan as make_plan_of
from cutplan import read_job
from cutplan.geometry.layout import lay_out
from cutplan.job.model import Units
from cutplan.output.pack import write_pack
from cutplan.output.pdf import Paper
from cutplan.plan import Plan, make_plan
from cutplan.plan.rough import with_rough_ends
from cutplan.plan.tables import Tables

EXAMPLES = Path(__file__).parents[2] / "examples"


def wrong_with(seed: int, path: Path) -> list[str] | None:
    """What is wrong with the pack of the frame of this seed; None: the frame itself is no sound job."""
    dice = Random(seed)
    job = random_frame(seed, dice.randint(3, 16))
    job = replace(job, settings=replace(job.settings, units=dice.choice(list(Units)), spares=dice.choice([0, 1])))
    layout = lay_out(job)
    if layout.faults:
        return None
    plan = make_plan(job, layout.blanks, remarks=layout.remarks)
    return wrong_in(plan, dice.choice(list(Paper)), path)


def wrong_in(plan: Plan, paper: Paper, path: Path) -> list[str]:
    """What is wrong with the pack of ``plan``."""
    tables = Tables(with_rough_ends(plan))
    write_pack(tables, path, parts=("order", "saw", "cards", "wraps"), paper=paper)
    pages = [read_page(page) for page in PdfReader(path).pages]
    found = []
    for number, (paths, words) in enumerate(pages, 1):
        found += [f"page {number}: {one} over {other}" for one, other in overlaps(words)]
        found += [f"page {number}: {text} leaves its box" for text in crossed(paths, words)]
        found += [f"page {number}: {text} leaves it" for text in strays(words, *paper.value)]
    texts = [one.text for _, words in pages for one in words]
    found += [f"cut {row.cut} is missing" for row in tables.saw_list if str(row.cut) not in texts]
    named = {mark for text in texts for mark in text.split(", ")}
    found += [f"{blank.mark} has no card" for blank in plan.blanks if blank.mark not in named and not blank.estimated]
    return found


def main(count: int) -> int:
    """Make, read back, count."""
    sound = bad = 0
    with tempfile.TemporaryDirectory() as folder:
        for example in sorted(path for path in EXAMPLES.iterdir() if path.is_dir()):
            plan = make_plan_of(read_job(example))
            for paper in Paper:
                found = wrong_in(plan, paper, Path(folder) / "pack.pdf")
                bad += bool(found)
                print(f"{example.name}, {paper.name}: {'; '.join(found[:3]) or 'nothing wrong'}", flush=True)
        for seed in range(count):
            try:
                found = wrong_with(seed, Path(folder) / "pack.pdf")
            except Exception:
                found = [traceback.format_exc()]
            if found is None:
                continue
            sound += 1
            if found:
                bad += 1
                print(f"seed {seed}: {'; '.join(found[:3])}")
    print(f"{sound} packs of {count} frames, {bad} with something wrong")
    return 1 if bad or not sound else 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 60))
