"""A plan as exact text and back, so that a saw list can carry the plan it shows."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace

from cutplan.output.codec import decode, encode
from cutplan.plan.model import Plan

FORMAT = 2
"""Changed when an older plan could no longer be read."""


def freeze(plan: Plan) -> str:
    """``plan`` as one line of JSON, the same for the same plan."""
    data = {"format": FORMAT, "plan": encode(plan)}
    return json.dumps(data, ensure_ascii=False, separators=(",", ":"))


def origin_of(plan: Plan) -> str:
    """The name of ``plan``'s job on a rack: the same for all the plans that follow from one, and no other's."""
    # Wherever its file is, it is the same job.
    text = freeze(replace(plan, source=None))
    return plan.origin or f"{plan.job.settings.name} {hashlib.sha256(text.encode()).hexdigest()[:10]}"


def thaw(text: str) -> Plan:
    """The plan that :func:`freeze` wrote. Raises ValueError where it is none, or of another format."""
    try:
        data = json.loads(text)
    except RecursionError:
        raise ValueError("lists are nested too deeply") from None
    if not isinstance(data, dict) or not {"format", "plan"} <= data.keys():
        raise ValueError("not a plan")
    if data["format"] != FORMAT:
        raise ValueError(f"written in format {data['format']}, but this version reads format {FORMAT}")
    return decode(Plan, data["plan"])
