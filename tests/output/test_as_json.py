"""The JSON promise: exact keys, numbers in the job's units."""

from __future__ import annotations

import json
from dataclasses import fields, is_dataclass

from cutplan.manual import page
from cutplan.output import wire
from cutplan.output.as_json import dump, lengths_json, plan_json
from cutplan.plan.model import Plan


def test_a_plan_has_exactly_the_promised_keys(mm_plan: Plan) -> None:
    """Guards other programs: no key renamed, dropped or added unseen."""
    data = json.loads(dump(plan_json(mm_plan)))
    assert list(data) == ["job", "units", "cost", "bound", "proven", "buy", "tubes", "members"]
    assert list(data["buy"][0]) == ["tube", "length", "count", "price", "cost"]
    tube = data["tubes"][1]
    assert list(tube) == ["tube", "cost", "bound", "proven", "bars", "spares"]
    assert list(tube["bars"][0]) == ["bar", "from", "label", "length", "price", "cuts", "offcut"]
    assert list(tube["bars"][0]["cuts"][0]) == ["cut", "mark", "blank", "start", "end", "left", "if_spoilt"]
    assert tube["bars"][0]["cuts"][0]["if_spoilt"] == {"bar": "4", "how": "from what is left of bar 4"}
    assert data["tubes"][0]["bars"][0]["cuts"][0]["if_spoilt"] is None
    assert tube["spares"] == {
        "wanted": 1,
        "length": 1509.5,
        "insured": ["BS-L", "BS-R", "@DG"],
        "not_insured": [],
    }
    assert data["members"][1] == {
        "mark": "BS-L",
        "tube": "38x2",
        "blank": 1509.5,
        "parts": [
            {"what": "measured, centre to tip", "length": 1509.7},
            {"what": "end a: centre to tip", "length": -1.7},
            {"what": "fitting allowance, end a", "length": 1},
            {"what": "rounding up", "length": 0.5},
        ],
    }


def test_inches_are_inches(inch_plan: Plan) -> None:
    """Guards the units: nothing in mm slips into an inch job, and what is not priced is null."""
    data = plan_json(inch_plan)
    assert data["units"] == "in"
    assert (data["cost"], data["bound"], data["bought"]) == (None, None, 240)
    assert data["buy"] == [{"tube": "1.5x.095", "length": 240, "count": 1, "price": None, "cost": None}]
    cut = data["tubes"][0]["bars"][0]["cuts"][0]
    assert (cut["blank"], cut["end"], cut["left"]) == (59.78125, 59.78125, 179.90625)


def test_lengths_give_members_alone(mm_plan: Plan) -> None:
    """Guards the promise for ``lengths --json``."""
    data = lengths_json(mm_plan.job, mm_plan.blanks)
    assert list(data) == ["members"]
    assert data["members"] == plan_json(mm_plan)["members"]


def test_the_same_plan_gives_the_same_text(mm_plan: Plan) -> None:
    """Guards diffs between two runs."""
    assert dump(plan_json(mm_plan)) == dump(plan_json(mm_plan))
    assert dump(plan_json(mm_plan)).endswith("}\n")


def test_every_key_is_in_the_manual() -> None:
    """Guards readers of the JSON against a key that nothing explains."""
    kinds = [kind for kind in vars(wire).values() if isinstance(kind, type) and is_dataclass(kind)]
    keys = {field.name.rstrip("_") for kind in kinds for field in fields(kind)}
    assert len(keys) > 40
    assert {key for key in keys if f'"{key}"' not in page("output")} == set()
