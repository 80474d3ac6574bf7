"""The order of cuts: of one length the risky ones first, and no order where none survives."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from small_jobs import bars, blank, job

from cutplan.geometry.model import BendMark, EndShape
from cutplan.job.model import Cut, Fitted, Settings
from cutplan.plan import make_plan
from cutplan.plan.sequential.order import Kind, Order
from cutplan.plan.sequential.repack import Repacker

COPED = EndShape(Cut.COPE, 40.0)


@pytest.mark.parametrize("fitted", Fitted)
def test_of_one_length_the_bent_and_the_coped_come_first(fitted: Fitted) -> None:
    """What is easiest to spoil is cut while most tube is left, whatever the order of the Members sheet."""
    bent = replace(blank("BENT", 300), bends=(BendMark(1, 100.0, 100.0, 100.0, 50.0, 45.0, 60.0, 0.0),))
    wanted = [blank("PLAIN", 300), blank("COPED", 300, ends=(COPED, COPED)), bent]
    settings = Settings(kerf=Fraction(0), spares=1, fitted=fitted)
    plan = make_plan(job([bars(1200, "10")], wanted, settings), wanted)
    cuts = sorted((cut.number, cut.mark) for bar in plan.tubes[0].bars for cut in bar.cuts)
    assert [mark for _, mark in cuts] == ["BENT", "COPED", "PLAIN"]


def test_the_order_decides_whether_a_mistake_is_survived() -> None:
    """On a bar of 1300 the 600 must come before the 300, and that order is found whatever the layout says. On a bar
    of 1100 the 600 spoilt leaves 500: no order survives, and that is known for certain."""
    kinds = (Kind(600, 550, True), Kind(300, 250, True))
    repacker = Repacker([600, 300], 0, effort=1000)
    assert Order(kinds, (1, 1), (1300,), repacker).along(((1, 0),), 100) == ((0, 0), (0, 1))
    assert Order(kinds, (1, 1), (1300,), repacker).any(100) == ((0, 0), (0, 1))
    short = Order(kinds, (1, 1), (1100,), repacker)
    assert short.along(((0, 1),), 100) is None
    assert short.any(100) is None
    assert short.exhausted
    assert short.any(0) is None
    assert not short.exhausted
