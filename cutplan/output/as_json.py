"""The JSON of a plan, of its lengths and of the buying options: a promise to other programs.

Lengths are numbers in the job's units, money is a number, absent values are null.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from cutplan.geometry.model import Blank
from cutplan.job.model import Fitted, Job, Units
from cutplan.output.wording import amount, number
from cutplan.plan.model import Bar, Option, Plan, Purchase, Recovery, Spares

Json = dict[str, Any]


def plan_json(plan: Plan) -> Json:
    """A whole plan."""
    units = plan.job.settings.units
    return {
        "job": plan.job.settings.name,
        "units": units.value,
        "cost": _amount(plan.cost),
        "bound": _amount(plan.bound),
        "proven": plan.proven,
        "buy": _buy(plan.buy, units),
        "tubes": [
            {
                "tube": tube.tube,
                "cost": amount(tube.cost),
                "bound": amount(tube.bound),
                "proven": tube.proven,
                "bars": [_bar(bar, units) for bar in tube.bars],
                "spares": _spares(tube.spares, units),
            }
            for tube in plan.tubes
        ],
        "members": _members(plan.blanks, units),
    }


def lengths_json(job: Job, blanks: Iterable[Blank]) -> Json:
    """Every blank with the parts it is made up of."""
    return {"members": _members(blanks, job.settings.units)}


def options_json(job: Job, options: Iterable[Option]) -> Json:
    """The buying options, cheapest first as they were given."""
    units = job.settings.units
    return {
        "options": [
            {
                "spares": option.spares,
                "insured": list(option.insured),
                "cost": _amount(option.cost),
                "bound": _amount(option.bound),
                "proven": option.proven,
                "buy": _buy(option.buy, units),
                "leftover": number(option.leftover, units),
                **({"fitted": option.fitted.value} if option.fitted is Fitted.ONE_AT_A_TIME else {}),
            }
            for option in options
        ]
    }


def dump(data: Json) -> str:
    """``data`` as text, the same for the same data, with a line end."""
    return json.dumps(data, indent=2, ensure_ascii=False) + "\n"


def _amount(value: Decimal | None) -> Any:
    return None if value is None else amount(value)


def _buy(lines: Iterable[Purchase], units: Units) -> list[Json]:
    return [
        {
            "tube": line.tube,
            "length": number(line.length, units),
            "count": line.count,
            "price": _amount(line.price),
            "cost": _amount(line.cost),
        }
        for line in lines
    ]


def _spares(spares: Spares, units: Units) -> Json:
    told: Json = {
        "wanted": spares.wanted,
        "length": number(spares.length, units),
        "insured": list(spares.insured),
        "not_insured": list(spares.not_insured),
    }
    return told if spares.fitted is Fitted.AFTER_ALL else told | {"fitted": spares.fitted.value}


def _bar(bar: Bar, units: Units) -> Json:
    return {
        "bar": bar.name,
        "from": bar.source.value,
        "label": bar.label,
        "length": number(bar.length, units),
        "price": _amount(bar.price),
        "cuts": [
            {
                "cut": cut.number,
                "mark": cut.mark,
                "blank": number(cut.blank, units),
                "start": number(cut.start, units),
                "end": number(cut.end, units),
                "left": number(cut.left, units),
                "if_spoilt": cut.if_spoilt and _recovery(cut.if_spoilt),
            }
            | {what: True for what in ("shared", "flipped") if getattr(cut, what)}
            for cut in bar.cuts
        ],
        "offcut": number(bar.offcut, units),
    }


def _recovery(recovery: Recovery) -> Json:
    told: Json = {"bar": recovery.bar, "how": recovery.how}
    if recovery.layout:
        told["layout"] = [{"bar": bar, "marks": list(marks)} for bar, marks in recovery.layout]
    if recovery.following:
        told["following"] = list(recovery.following)
    return told


def _members(blanks: Iterable[Blank], units: Units) -> list[Json]:
    return [
        {
            "mark": blank.mark,
            "tube": blank.tube,
            "blank": number(blank.length, units),
            "parts": [{"what": part.what, "length": number(part.length, units)} for part in blank.parts],
        }
        for blank in blanks
    ]
