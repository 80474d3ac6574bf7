"""What is still for sale once bars of a plan were bought: counted for a plan that was made from no file too."""

from __future__ import annotations

from dataclasses import replace

import pytest
from small_jobs import bars, blank, job

from cutplan.plan import make_plan
from cutplan.plan.recut.for_sale import for_sale_now, still_for_sale


@pytest.mark.parametrize(("there", "left"), [(5, 3), (2, None), (1, None), (None, None)])
def test_bars_bought_are_taken_off_what_is_listed_now(there: int | None, left: int | None) -> None:
    """Two of the short bars are bought. As many fewer are left of the number listed now; none, where there were no
    more, and as many as anyone wants where no number was given."""
    one = blank("A", 900, 2)
    plan = make_plan(job([bars(1000, "9", 5), bars(3000, "90")], [one]), [one])
    assert plan.source is None
    assert [(line.length, line.count) for line in plan.buy] == [(1000, 2)]
    now = (bars(1000, "12", there), bars(3000, "90"))
    short = [row for row in for_sale_now(plan, now) if row.length == 1000]
    assert short == ([] if left is None and there is not None else [bars(1000, "12", left)])
    assert for_sale_now(plan, now)[-1] == now[-1]


def test_what_is_left_of_the_plans_own_rows() -> None:
    """The number falls by what was bought, and a row that is sold out is gone."""
    one = blank("A", 900, 2)
    for there, left in ((5, [3]), (2, [])):
        stock = [bars(1000, "9", there), bars(3000, "90")]
        plan = make_plan(job(stock, [one]), [one])
        assert [row.available for row in still_for_sale(plan)] == [*left, None]
        assert still_for_sale(plan)[:-1] == tuple(replace(stock[0], available=count) for count in left)
