"""Published saddle, mitre and bend values, each with its source beside it."""

from math import pi, radians, tan

import numpy as np
import pytest

from cutplan.geometry import bend, ends
from cutplan.geometry.saddle import saddle
from cutplan.job.model import To


@pytest.mark.parametrize(
    ("turn", "ordinate"),
    [
        (22.5, 6.94),
        # The row of 45 degrees itself has a misprint; its mirror row prints 25.95.
        (45.0, 25.95),
        (315.0, 25.95),
        (67.5, 51.26),
        (90.0, 73.36),
        (112.5, 84.94),
        (135.0, 88.18),
        (157.5, 88.24),
        (180.0, 88.00),
    ],
)
def test_lateral_tee_ordinates(turn: float, ordinate: float) -> None:
    """Unequal 45° tee, inside radius 44 of the branch onto outside radius 57 of the header.

    Source: "Unequal lateral tee branch", pipe-fitting training notes, 2023.
    """
    line = saddle(np.array([0.0, turn]), 44.0, 57.0, 45.0)
    assert line[0] - line[1] == pytest.approx(ordinate, abs=0.011)


@pytest.mark.parametrize(("turn", "ordinate"), [(45.0, 36.56), (90.0, 99.89)])
def test_square_tee_ordinates(turn: float, ordinate: float) -> None:
    """Square tee, inside diameter 263 of the branch onto OD 273. Source: same notes, "Equal tee branch"."""
    line = saddle(np.array([0.0, turn]), 131.5, 136.5, 90.0)
    assert line[0] - line[1] == pytest.approx(ordinate, abs=0.011)


def test_equal_lateral_side_lines() -> None:
    """Equal tubes at 45°: side line to the short point 1.2071·OD, to the long point 0.2071·OD.

    Source: "Equal lateral tee formula", fabrication guide, 2019.
    """
    short, long = saddle(np.array([0.0, 180.0]), 0.5, 0.5, 45.0)
    assert (short, long) == (pytest.approx(1.2071, abs=5e-5), pytest.approx(0.2071, abs=5e-5))


def test_equal_square_saddle_unrolls_to_cosine() -> None:
    """Equal tubes at 90°: the line is R·abs(cos), so the depth is OD/2.

    Source: Apostol & Mnatsakanian, "Unwrapping Curves from Cylinders and Cones", Amer. Math. Monthly 114 (2007).
    """
    phi = np.linspace(0.0, 360.0, 721)
    assert saddle(phi, 20.0, 20.0, 90.0) == pytest.approx(20.0 * np.abs(np.cos(np.radians(phi))), abs=1e-6)


def test_mitred_quarter_turn_of_four_cuts() -> None:
    """90° in 4 cuts at radius 381, OD 273: middle piece 151.6, end piece 75.8, cut-back 27.15.

    Source: pipe-mitre fabrication note.
    """
    step = 90.0 / 4 / 2
    cut_back = ends.mitre(273.0, step).face
    assert cut_back == pytest.approx(27.15, abs=0.005)
    # The pieces' centrelines are the apex lengths of the polygon round the bend.
    assert bend.setback(To.APEX, 2 * step, 381.0, 273.0) == pytest.approx(75.8, abs=0.05)
    assert 2 * bend.setback(To.APEX, 2 * step, 381.0, 273.0) == pytest.approx(151.6, abs=0.05)


def test_mitred_quarter_turn_of_three_cuts() -> None:
    """90° in 3 cuts, OD 168: 84·tan 15° = 22.50. Source: mitre-bend note (22.508 recomputed)."""
    assert ends.mitre(168.0, 90.0 / 3 / 2).face == pytest.approx(22.50, abs=0.01)


def test_mitre_unrolls_to_sine() -> None:
    """A plane cut unrolls to r·tan(slope)·sin(x/r) about its middle. Source: Apostol & Mnatsakanian (2007)."""
    shape = ends.mitre(40.0, 30.0)
    x = np.linspace(0.0, 2 * pi * 20.0, 181)
    line = ends.end_line(shape, np.degrees(x / 20.0) - 90.0) - shape.face
    assert line == pytest.approx(20.0 * tan(radians(30.0)) * np.sin(x / 20.0), abs=1e-9)


def test_mitre_lines_of_a_five_piece_elbow() -> None:
    """A five-piece 90° elbow's mitre lines rise at 11¼°, 33¾°, 56¼°, 78¾°. Source: *Sheet Metal Drafting*, p. 59."""
    step = 90.0 / 4
    rises = [step / 2 + step * i for i in range(4)]
    assert rises == [11.25, 33.75, 56.25, 78.75]
    # Each piece's two ends are mitred by half the turn between pieces.
    assert ends.mitre(100.0, step / 2).short == pytest.approx(100.0 * tan(radians(11.25)))


@pytest.mark.parametrize(
    ("angle", "factor"),
    [(30, 0.2679), (45, 0.4142), (60, 0.5773), (75, 0.7673), (90, 1.0), (120, 1.732), (135, 2.414), (150, 3.732)],
)
def test_setback_factors(angle: float, factor: float) -> None:
    """K = tan(A/2). Source: FAA AC 43.13-1B, table 4-7 (1998), which cuts off rather than rounds."""
    assert bend.setback_factor(angle) == pytest.approx(factor, abs=1e-3 if factor > 1 else 1e-4)


@pytest.mark.parametrize(("angle", "factor"), [(31, 0.0136), (35, 0.0197), (61, 0.1134), (66, 0.1469), (90, 0.4292)])
def test_gain_factors(angle: float, factor: float) -> None:
    """2·tan(A/2) - A. Source: handbook factor table, from an unreliable copy, recomputed (90°: recomputed only)."""
    assert 2.0 * bend.setback_factor(angle) - bend.arc(angle, 1.0) == pytest.approx(factor, abs=1.01e-4)


def test_conduit_bend_by_the_outside() -> None:
    """90°, radius 24 in, OD 2.375 in, stub 48 in and leg 44 in: straights 22.8125 and 18.8125, 79.324 in in all.

    Source: NJATC *Conduit Fabrication* Level II, Lesson 4, which takes 1.57 for pi/2 and gets 79.305.
    """
    take = bend.setback(To.OUTSIDE, 90.0, 24.0, 2.375)
    assert (48.0 - take, 44.0 - take) == (pytest.approx(22.8125), pytest.approx(18.8125))
    assert pytest.approx(79.305) == 22.8125 + 18.8125 + 24.0 * 1.57
    assert 48.0 + 44.0 - 2 * take + bend.arc(90.0, 24.0) == pytest.approx(79.324, abs=5e-4)


def test_bend_between_two_straights() -> None:
    """90°, radius 6 in, two 12 in straights: 9.423 + 24 = 33.423 in. Source: bender's ordering notes (0.01745)."""
    assert 24.0 + bend.arc(90.0, 6.0) == pytest.approx(33.423, abs=2e-3)


@pytest.mark.parametrize("angle", [180.0, 200.0, -1.0])
def test_no_setback_without_an_apex(angle: float) -> None:
    """From 180 degrees on the straights never cross, so there is no setback to give."""
    with pytest.raises(ValueError, match="an apex exists"):
        bend.setback_factor(angle)
