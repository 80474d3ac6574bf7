"""How much paper a job takes: ``python tests/benchmarks/printed_pages.py``.

For each example the pages of the printed pack, part by part, and of the wraps alone as `cutplan wrap` writes them, one
a page. Wanted: cards on at most three quarters as many pages as there are cards, and wraps on at most two thirds of the
pages they take one by one. Leaves with 1 where it is not.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from pypdf import PdfReader

from cutplan import make_plan, read_job
from cutplan.job.model import Units
from cutplan.output.pack import PARTS, write_pack
from cutplan.output.wraps import Paper, write_wraps
from cutplan.plan.rough import with_rough_ends
from cutplan.plan.tables import Tables

EXAMPLES = Path(__file__).parents[2] / "examples"


def main() -> int:
    """Count, print, and say whether it is as little as wanted."""
    much = 0
    print(
        f"{'example':<16}{'blanks':>7}{'cards':>7}  "
        + "".join(f"{part:>7}" for part in PARTS)
        + f"{'whole':>7}{'alone':>7}"
    )
    for job in sorted(path for path in EXAMPLES.iterdir() if path.is_dir()):
        plan = with_rough_ends(make_plan(read_job(job)))
        tables = Tables(plan)
        paper = Paper.A4 if plan.job.settings.units is Units.MM else Paper.LETTER
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "pack.pdf"
            # The page in front is counted with none of them.
            pages = {part: write_pack(tables, path, parts=(part,), paper=paper) - 1 for part in PARTS}
            whole = write_pack(tables, path, paper=paper)
            write_wraps(plan.job, plan.blanks, path, paper=paper)
            alone = len(PdfReader(path).pages)
        blanks, cards = sum(blank.count for blank in plan.blanks), len(tables.cards)
        counts = "".join(f"{pages[part]:>7}" for part in PARTS)
        print(f"{job.name:<16}{blanks:>7}{cards:>7}  {counts}{whole:>7}{alone:>7}")
        much += pages["wraps"] * 3 > alone * 2 or pages["cards"] > cards * 0.75
    return 1 if much else 0


if __name__ == "__main__":
    sys.exit(main())
