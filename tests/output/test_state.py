"""A plan carried as text comes back the same."""

from __future__ import annotations

import pytest

from cutplan.output.state import freeze, thaw
from cutplan.plan.model import Plan


def test_a_plan_comes_back_exact(mm_plan: Plan, inch_plan: Plan) -> None:
    """Guards the state in a saw list: every fraction, price, enum and tuple survives."""
    for plan in (mm_plan, inch_plan):
        back = thaw(freeze(plan))
        assert back == plan
        assert back.remarks == plan.remarks
        assert freeze(back) == freeze(plan)


@pytest.mark.parametrize("text", ["", "{}", "[]", '{"format":1,"plan":{}}', '{"format":99,"plan":{}}', "null"])
def test_what_is_no_plan_is_refused(text: str) -> None:
    """Guards against a state that was cut short, edited or written by a later version."""
    with pytest.raises(ValueError, match=r".+"):
        thaw(text)
