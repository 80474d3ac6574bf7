"""The front to the linear solver."""

import pytest

from cutplan.nesting import maximise

INFINITY = float("inf")


def test_the_corner_is_found() -> None:
    """Guards the sense of the rows and of the objective on a hand-computed corner."""
    found = maximise([3.0, 2.0], [([1.0, 1.0], 4.0), ([1.0, 3.0], 6.0)], [(0.0, 3.0), (0.0, INFINITY)])
    assert found == pytest.approx((3.0, 1.0))


def test_no_point_and_no_greatest_value_give_none() -> None:
    """Guards that neither is passed off as a solution."""
    assert maximise([1.0], [([1.0], -1.0)], [(0.0, INFINITY)]) is None
    assert maximise([1.0], [], [(0.0, INFINITY)]) is None


def test_a_row_of_the_wrong_size_is_refused() -> None:
    """Guards against a coefficient dropped in silence."""
    with pytest.raises(ValueError, match="2 entries"):
        maximise([1.0, 1.0], [([1.0], 1.0)], [(0.0, 1.0), (0.0, 1.0)])
