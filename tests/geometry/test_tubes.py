"""How tubes end that others land on: mitred ends in the plane that halves their corner."""

from __future__ import annotations

from math import sqrt, tan

import pytest

from cutplan.geometry.tubes import EndCut, mitred_cut

RADIUS = 19.0
HERE = (100.0, 50.0, 0.0)
ALONG_X = (HERE, (1.0, 0.0, 0.0))


def test_a_mitred_corner_is_cut_in_the_plane_that_halves_it() -> None:
    """Two tubes at right angles, mitred 45: the plane through the corner, square to the difference of their ways; the
    tube reaches beyond the corner by its radius, and a little, so that it can be cut there."""
    square_on = (HERE, (0.0, 1.0, 0.0))
    elsewhere = ((400.0, 50.0, 0.0), (0.0, 0.0, 1.0))
    cut = mitred_cut(45.0, RADIUS, [elsewhere, square_on], ALONG_X)
    assert cut.plane is not None
    assert cut.plane.point == HERE
    assert cut.plane.normal == pytest.approx((sqrt(0.5), -sqrt(0.5), 0.0))
    assert RADIUS < cut.more < 1.1 * RADIUS


def test_a_mitre_of_30_halves_a_corner_of_120() -> None:
    """Seen along both tubes the corner between them is 180 less twice the mitre; the plane's normal is 30 off the
    axis."""
    cut = mitred_cut(30.0, RADIUS, [(HERE, (-0.5, sqrt(0.75), 0.0))], ALONG_X)
    assert cut.plane is not None
    assert cut.plane.normal == pytest.approx((sqrt(0.75), -0.5, 0.0))
    assert cut.more == pytest.approx(RADIUS * tan(0.5236), rel=0.05)


@pytest.mark.parametrize(
    ("angle_deg", "partner"),
    [(30.0, (HERE, (0.0, 1.0, 0.0))), (45.0, ((100.0, 80.0, 0.0), (0.0, 1.0, 0.0))), (45.0, ALONG_X)],
    ids=["another mitre", "another corner", "along it"],
)
def test_where_no_other_end_has_that_mitre_the_tube_ends_square(angle_deg: float, partner: tuple) -> None:
    """None that meets it there, at that angle."""
    assert mitred_cut(angle_deg, RADIUS, [partner], ALONG_X) == EndCut()
