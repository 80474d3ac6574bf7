"""The saw list as CSV, for other programs: a cut a row, in the order of sawing, units in the heads."""

from __future__ import annotations

import csv
import io

from cutplan.geometry.inside import insides
from cutplan.output import wording
from cutplan.plan.model import Plan


def saw_list_csv(plan: Plan) -> str:
    """The saw list as CSV text. Text that a spreadsheet would take for a formula gets a ' in front."""
    settings = plan.job.settings
    units = settings.units
    unit = units.value
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(
        ("cut", "bar", "tube", "mark", f"blank ({unit})", "end a", "end b", f"left ({unit})", "if spoilt", "note")
    )
    blanks = plan.by_mark()
    cuts = [(cut, bar) for tube in plan.tubes for bar in tube.bars for cut in bar.cuts]
    for cut, bar in sorted(cuts, key=lambda pair: pair[0].number):
        blank = blanks[cut.mark]
        writer.writerow(
            (
                cut.number,
                _safe(bar.name),
                _safe(bar.tube),
                _safe(cut.mark),
                wording.number(cut.blank, units),
                *(_safe(text) for text in wording.ends(cut, bar, blank, units)),
                wording.number(cut.left, units),
                cut.if_spoilt.how if cut.if_spoilt else "",
                _safe("; ".join(text for text in (wording.hints(blank, insides(blank, plan.job)), blank.note) if text)),
            )
        )
    return out.getvalue()


def _safe(text: str) -> str:
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text
