"""Published adjustments, each with its source beside it, and scipy as a judge from outside."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize

from cutplan.survey import Distance, Known, Node, Side, adjust

FLAT = Known(0.0)


def test_one_station_from_three_distances():
    """Ghilani, *Adjustment Computations*, chapter 14: one station, three distances (feet), equal weights.

    The inputs are the book's; the result was calculated with equal weights by an independent program.
    """
    nodes = [
        Node("A", (Known(865.40), Known(4527.15), FLAT)),
        Node("B", (Known(2432.55), Known(2047.25), FLAT)),
        Node("C", (Known(2865.22), Known(27.15), FLAT)),
        Node("U", (None, None, FLAT)),
    ]
    read = [Distance("A", "U", 6049.00, 2.0), Distance("B", "U", 4736.83, 2.0), Distance("C", "U", 5446.49, 2.0)]
    result = adjust(nodes, read)
    assert result.place("U").xyz == pytest.approx((6861.317, 3727.819, 0.0), abs=5e-4)
    assert [-reading.miss for reading in result.readings] == pytest.approx([-0.037, 0.077, -0.047], abs=5e-4)
    assert [reading.checked for reading in result.readings] == pytest.approx([0.146, 0.618, 0.235], abs=1e-3)
    assert result.unit == pytest.approx(0.0977, abs=1e-4)
    errors = [doubt / 2.0 * result.unit for doubt in result.place("U").doubts[:2]]
    assert errors == pytest.approx([0.078, 0.154], abs=1e-3)
    assert result.spare_readings == 1


def test_one_station_in_space():
    """Awange and others, *Algebraic Geodesy and Geoinformatics*, example 14.3 (in mm; stations from memory).

    Three distances and no more leave two places, on both sides of the stations' plane; that the other is there is said.
    """
    stations = [
        (4157246.5346, 671877.0281, 4774581.6314),
        (4157266.6181, 671099.1577, 4774689.8536),
        (4156748.6829, 671171.9385, 4775235.5483),
    ]
    nodes = [Node(f"S{i}", (Known(1e3 * x), Known(1e3 * y), Known(1e3 * z))) for i, (x, y, z) in enumerate(stations)]
    read = [Distance(f"S{i}", "P", 1e3 * each, 2.0) for i, each in enumerate((566.8635, 430.5286, 542.2609))]
    answer = (4157066111.6, 671429665.5, 4774879370.4)
    open_still = adjust([*nodes, Node("P")], read)
    assert [each.nodes for each in open_still.either] == [("P",)]
    between = (open_still.either[0].here + open_still.either[0].there) / 2.0
    axis = open_still.either[0].axis
    side = Side(axis, answer[axis] > between, between)
    settled = adjust([*nodes, Node("P", sides=(side,))], read)
    assert settled.either == ()
    assert settled.place("P").xyz == pytest.approx(answer, abs=0.5)  # the inputs are given to 0.1


def test_the_least_sum_is_the_one_that_scipy_finds_without_derivatives():
    """The same sum of squares, written down anew and made least by Powell's method, is no smaller elsewhere."""
    dice = np.random.default_rng(4)
    true = dice.uniform(0, 1000, (5, 3))
    nodes = [Node(f"N{i}", (Known(x), Known(y), Known(z))) for i, (x, y, z) in enumerate(true[:4])]
    node = Node("P", (None, None, Known(float(true[4, 2]) + 1.0, 3.0)))
    values = [float(np.linalg.norm(true[4] - each)) + float(dice.normal()) for each in true[:4]]
    result = adjust([*nodes, node], [Distance(f"N{i}", "P", each, 2.0) for i, each in enumerate(values)])

    def total(place):
        misses = [np.linalg.norm(place - each) - value for each, value in zip(true[:4], values, strict=True)]
        return sum(miss**2 for miss in misses) + ((place[2] - true[4, 2] - 1.0) / 1.5) ** 2

    found = minimize(total, true[4] + 20.0, method="Powell", options={"xtol": 1e-12, "ftol": 1e-14})
    assert result.place("P").xyz == pytest.approx(tuple(found.x), abs=1e-4)
    assert total(np.array(result.place("P").xyz)) == pytest.approx(found.fun, abs=1e-6)
