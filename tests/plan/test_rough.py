"""The rough cuts: as much sawn as two straight cuts can, and nothing beyond the saddle line."""

from __future__ import annotations

import math
import random
from fractions import Fraction

import numpy as np
import pytest

from cutplan.geometry import EndShape, end_line, lay_out
from cutplan.geometry.roughcut import RoughCut
from cutplan.job.model import Cut, End, Job, Member, Onto, Saddle, Settings, StockRow, Tube
from cutplan.plan.rough import rough_cuts, rough_ends

PHI = np.arange(0.0, 360.0, 0.5)


def coped(od: float, onto: float, angle: float, offset: float = 0.0) -> Job:
    """A job of one member with both ends coped alike."""
    end = End(Cut.COPE, saddles=(Saddle(Onto(Fraction(onto)), angle, Fraction(offset)),))
    return Job(
        Settings(),
        (Tube("t", Fraction(od), Fraction(2)),),
        (StockRow("t", Fraction(6000)),),
        (Member("M", "t", length=Fraction(1000), end_a=end, end_b=end),),
    )


def shape(od: float, onto: float, angle: float, offset: float = 0.0) -> EndShape:
    return lay_out(coped(od, onto, angle, offset)).blanks[0].end_a


def plane(cut: RoughCut, phi: np.ndarray, radius: float, od: float) -> np.ndarray:
    """How deep the cut lies along each generator, from the settings that a person reads."""
    slope = math.tan(math.radians(cut.saw_deg))
    return cut.start - slope * (od / 2 - radius * np.cos(np.radians(phi - cut.turn_deg)))


def test_two_cuts_at_45_are_the_whole_outside_saddle_of_equal_tubes_at_90() -> None:
    """Hand-computed: the line is R·abs(cos phi), so the cuts R·cos phi and -R·cos phi saw off all of it outside."""
    first, second = rough_cuts(shape(40, 40, 90), 2.0)
    assert first.saw_deg == pytest.approx(45, abs=0.01)
    assert second.saw_deg == pytest.approx(45, abs=0.01)
    assert {round(first.turn_deg), round(second.turn_deg)} == {0, 180}
    assert first.start == pytest.approx(20, abs=0.01)


def test_nothing_beyond_the_saddle_is_sawn_on_either_surface() -> None:
    """100 seeded copes: on every generator, inside and outside, each cut stays short of the saddle line."""
    rng = random.Random(20)
    for _ in range(100):
        onto = rng.uniform(20, 120)
        od = rng.uniform(0.3, 0.95) * onto
        room = (onto - od) / 2
        end = shape(round(od, 2), round(onto, 2), rng.uniform(20, 90), round(rng.uniform(-room, room) * 0.9, 2))
        for cut in rough_cuts(end, 2.0):
            for radius in (end.od / 2, end.od / 2 - 2.0):
                beyond = plane(cut, PHI, radius, end.od) - end_line(end, PHI, radius_mm=radius)
                assert beyond.max() < 1e-3


def test_most_of_the_waste_is_sawn() -> None:
    """The cuts are worth making: for usual copes they take at least two thirds of what must go, outside."""
    for od, onto, angle in ((38, 38, 55), (30, 38, 62), (30, 38, 90), (42.4, 48.3, 57)):
        end = shape(od, onto, angle)
        line = end_line(end, PHI)
        sawn = np.max([plane(cut, PHI, end.od / 2, end.od) for cut in rough_cuts(end, 2.0)] + [0 * PHI], axis=0)
        assert sawn.sum() > 2 / 3 * line.sum()


def test_cuts_meeting_at_a_third_of_the_diameter_would_saw_beyond_the_saddle() -> None:
    """The rule of a third (common practice, no source) meets on the centreline at OD/3: for equal tubes at 90 degrees
    the ears end at the tip itself, so that is too deep there; our cuts meet no deeper than the ears reach."""
    end = shape(38, 38, 90)
    ears = float(end_line(end, np.array([90.0]))[0])
    assert ears < 38 / 3
    for cut in rough_cuts(end, 2.0):
        on_the_centreline = cut.start - math.tan(math.radians(cut.saw_deg)) * 19
        assert on_the_centreline <= ears + 1e-3


def test_every_coped_end_has_its_rough_cuts_and_no_other() -> None:
    """The planner names mark and end; a square end has none."""
    job = coped(30, 38, 60)
    ends = rough_ends(job, lay_out(job).blanks)
    assert [(one.mark, one.end) for one in ends] == [("M", "a"), ("M", "b")]
    assert all(one.cuts for one in ends)


def test_two_cuts_that_would_be_one_are_one() -> None:
    """On two tubes square to each other, one leaning, both sides are cleared by one cut: it is not asked for twice."""
    saddles = (Saddle(Onto(Fraction(42))), Saddle(Onto(Fraction("42.4")), 50.0, turn_deg=90.0))
    member = Member("M", "t", length=Fraction(1000), end_a=End(Cut.COPE, saddles=saddles))
    tube, stock = Tube("t", Fraction(34), Fraction(2)), StockRow("t", Fraction(6000))
    found = lay_out(Job(Settings(), (tube,), (stock,), (member,))).blanks[0].end_a
    (only,) = rough_cuts(found, 2.0)
    assert only.turn_deg == pytest.approx(90.0)


def test_a_wall_that_is_none_is_refused() -> None:
    """A wall of half the tube or more leaves no inside surface to spare."""
    with pytest.raises(ValueError, match="wall"):
        rough_cuts(shape(30, 38, 60), 15.0)
