"""How much paper a job takes: ``python tests/benchmarks/printed_pages.py [EXAMPLE ...]``, all of them unless named.

For each example the pages of the printed pack, part by part, of the wraps alone as `cutplan wrap` writes them, one a
page, and of the saw-list workbook as LibreOffice prints it (nothing where that is not installed), beside the pages it
took in version 0.1.0 (commit 324daa3). Wanted: cards on at most three quarters as many pages as there are cards, wraps
on at most two thirds of the pages they take one by one, the workbook on at most half the pages of before. Leaves with 1
where it is not.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from pypdf import PdfReader

from cutplan import make_plan, read_job
from cutplan.job.model import Units
from cutplan.output.pack import PARTS, write_pack
from cutplan.output.pdf import Paper
from cutplan.output.workbook import write_saw_list
from cutplan.output.wraps import write_wraps
from cutplan.plan.model import Plan
from cutplan.plan.rough import with_rough_ends
from cutplan.plan.tables import Tables

EXAMPLES = Path(__file__).parents[2] / "examples"

BEFORE = {
    "buggy-rear": 16,
    "dune-frame": 97,
    "hand-rail": 26,
    "ladder-frame": 13,
    "roll-bar-in-place": 15,
    "sand-rail-bay": 17,
}
"""Pages of the workbook in version 0.1.0."""


def main() -> int:
    """Count, print, and say whether it is as little as wanted."""
    much = 0
    print(
        f"{'example':<16}{'blanks':>7}{'cards':>7}  "
        + "".join(f"{part:>7}" for part in PARTS)
        + f"{'whole':>7}{'alone':>7}{'book':>7}{'before':>7}"
    )
    for job in sorted(path for path in EXAMPLES.iterdir() if path.is_dir()):
        if sys.argv[1:] and job.name not in sys.argv[1:]:
            continue
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
            book = _book_pages(plan, Path(folder))
        before = BEFORE.get(job.name)
        blanks, cards = sum(blank.count for blank in plan.blanks), len(tables.cards)
        counts = "".join(f"{pages[part]:>7}" for part in PARTS)
        print(f"{job.name:<16}{blanks:>7}{cards:>7}  {counts}{whole:>7}{alone:>7}{book or '-':>7}{before or '-':>7}")
        much += book is not None and before is not None and 2 * book > before
        much += pages["wraps"] * 3 > alone * 2 or pages["cards"] > cards * 0.75
    return 1 if much else 0


def _book_pages(plan: Plan, folder: Path) -> int | None:
    """The pages that its saw-list workbook prints on."""
    office = shutil.which("soffice")
    if office is None:
        return None
    write_saw_list(plan, folder / "list.xlsx")
    home = f"-env:UserInstallation=file://{folder}/home"
    command = [office, home, "--headless", "--convert-to", "pdf", "--outdir", str(folder), str(folder / "list.xlsx")]
    subprocess.run(command, check=True, capture_output=True, timeout=300)
    return len(PdfReader(folder / "list.pdf").pages)


if __name__ == "__main__":
    sys.exit(main())
