"""The front to the linear solver."""

import pytest

from cutplan.nesting import Region

INFINITY = float("inf")


def test_the_corner_is_found() -> None:
    """Guards the sense of the rows and of the objective on a hand-computed corner."""
    region = Region([([1.0, 1.0], 4.0), ([1.0, 3.0], 6.0)], [(0.0, 3.0), (0.0, INFINITY)])
    assert region.maximise([3.0, 2.0]) == pytest.approx((3.0, 1.0))


def test_a_region_is_maximised_over_again() -> None:
    """Guards that nothing of one objective, found or without a greatest value, is left in the next."""
    region = Region([([1.0, 1.0], 4.0)], [(0.0, 3.0), (-INFINITY, INFINITY)])
    assert region.maximise([3.0, 2.0]) == pytest.approx((3.0, 1.0))
    assert region.maximise([0.0, -1.0]) is None
    assert region.maximise([1.0, 2.0]) == pytest.approx((0.0, 4.0))
    assert region.maximise([3.0, 2.0]) == pytest.approx((3.0, 1.0))


def test_no_point_and_no_greatest_value_give_none() -> None:
    """Guards that neither is passed off as a solution."""
    assert Region([([1.0], -1.0)], [(0.0, INFINITY)]).maximise([1.0]) is None
    assert Region([], [(0.0, INFINITY)]).maximise([1.0]) is None


def test_a_row_of_the_wrong_size_is_refused() -> None:
    """Guards against a coefficient dropped in silence."""
    with pytest.raises(ValueError, match="2 entries"):
        Region([([1.0], 1.0)], [(0.0, 1.0), (0.0, 1.0)])
    with pytest.raises(ValueError, match="2 entries"):
        Region([], [(0.0, 1.0), (0.0, 1.0)]).maximise([1.0])
