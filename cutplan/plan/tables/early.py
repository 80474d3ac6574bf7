"""Fitted one at a time: what is sawn before something that it lands on, in words."""

from __future__ import annotations

from cutplan.job.faults import listed
from cutplan.plan.model import Plan, SawCut

_MOST = 5
"""Pairs that are named."""


def sawn_later(plan: Plan, cut: SawCut) -> str:
    """What the blank of ``cut`` lands on that is sawn after it; empty where nothing is."""
    later = [one for one in plan.early if one.mark == cut.mark and one.onto_cut > cut.number]
    return f"lands on {listed([f'{one.onto}, cut {one.onto_cut}' for one in later])}" if later else ""


def early(plan: Plan) -> str:
    """Every such pair, and what to do about it; empty where all is in order."""
    if not plan.early:
        return ""
    pairs = [f"{one.mark}, cut {one.cut}, before {one.onto}, cut {one.onto_cut}" for one in plan.early]
    more = len(pairs) - _MOST
    named = "; ".join([*pairs[:_MOST], *([f"and {more} more"] if more > 0 else [])])
    one = plan.early[0]
    return (
        f"Sawn before what it lands on: {named}. No other order was found that needs no more tube. Measure such a "
        "piece well before the next cut, and fit it when the other is in place. For an order to fit in, give stages on "
        f"Members ({one.onto} an earlier one than {one.mark}): that may need more tube, at most what "
        'cutplan plan --fitted "after all cuts" shows.'
    )
