"""The saw list, and any other table of a plan, as CSV for other programs; units in the heads."""

from __future__ import annotations

import csv
import io

from cutplan.geometry.inside import insides
from cutplan.output import wording
from cutplan.plan.model import Plan
from cutplan.plan.tables import table


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


_LENGTHS = {"length", "blank", "start", "left", "usable", "throat", "radius", "bender's mark"}
_LENGTHS |= {f"at {turn}" for turn in (0, 90, 180, 270)}
_DEGREES = {"tip at", "throat at", "turn", "angle", "rotation"}


def table_csv(plan: Plan, name: str) -> str:
    """The table ``name`` of a plan (see `cutplan.plan.tables`) as CSV text."""
    frame = table(plan, name)
    unit = plan.job.settings.units.value
    heads = {head: f"{head} ({unit})" for head in _LENGTHS} | {head: f"{head} (deg)" for head in _DEGREES}
    texts = frame.map(lambda cell: _safe(cell) if isinstance(cell, str) else cell)
    return str(texts.rename(columns=heads).to_csv(index=False, lineterminator="\n"))


def _safe(text: str) -> str:
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text
