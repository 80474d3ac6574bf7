"""Members that cannot be: two ends that reach past each other, a bend that gives back more than it is long."""

from __future__ import annotations

import math
import random
from fractions import Fraction

import pytest
from members import SQUARE, STAY, cope, laid, member, rows
from wording import Worded

from cutplan.job.model import Cut, End, Settings, To, Tube

F = Fraction
OD = float(STAY.od)


def inward(end: End, turn: float) -> float:
    """How far the metal begins from the point measured to, along the line at ``turn`` degrees from the short side of
    a tube of ``OD``: by the closed forms for a plane and for two cylinders whose axes meet (descriptive geometry)."""
    r, phi = OD / 2, math.radians(turn)
    if end.cut is Cut.SQUARE:
        return 0.0
    if end.cut is Cut.MITRE:
        return r * math.tan(math.radians(end.angle_deg)) * math.cos(phi)
    (saddle,) = end.saddles
    theta, wide = math.radians(saddle.angle_deg), float(saddle.onto.od) / 2
    return (math.sqrt(wide**2 - (r * math.sin(phi)) ** 2) + r * math.cos(phi) * math.cos(theta)) / math.sin(theta)


def limit(end_a: End, end_b: End, turn: float) -> float:
    """The length, centre to centre, at which nothing is left on the line where the two ends are deepest together."""
    return max(inward(end_a, phi / 4) + inward(end_b, phi / 4 - turn) for phi in range(1440))


def ends(dice: random.Random) -> End:
    """Any end whose depth can be given in closed form."""
    kind = dice.randrange(3)
    if kind == 0:
        return End(Cut.MITRE, dice.uniform(5, 70))
    return SQUARE if kind == 1 else cope(dice.randint(38, 90), dice.uniform(25, 90))


@pytest.mark.parametrize("seed", range(60))
def test_members_down_to_where_their_ends_meet_and_no_shorter(seed: int) -> None:
    """A millimetre above the limit there is a blank, a millimetre below it a fault with its place."""
    dice = random.Random(seed)
    end_a, end_b = ends(dice), ends(dice)
    turn = dice.uniform(-180, 180) if SQUARE not in (end_a, end_b) else 0.0
    least = limit(end_a, end_b, turn)
    length = F(max(least + 1.0, 1.0))
    sound = laid(member(length=length, end_a=end_a, end_b=end_b, turn_deg=turn))
    assert sound.faults == ()
    assert len(sound.blanks) == 1
    if least > 2.0:
        faults = laid(member(length=F(least - 1.0), end_a=end_a, end_b=end_b, turn_deg=turn)).faults
        assert len(faults) == 1
        assert str(faults[0].place) == "Members row 2, length"
        assert "its two ends overlap" in faults[0].rule or "leaves a blank of" in faults[0].rule


def test_two_tubes_landed_on_must_be_apart() -> None:
    """A rail between two posts of 50 mm, 50 mm from centre to centre: the posts touch, and no rail is left."""
    post = cope(50)
    assert laid(member(length=F(51), end_a=post, end_b=post)).faults == ()
    (fault,) = laid(member(length=F(50), end_a=post, end_b=post)).faults
    assert fault.rule.startswith("its two ends overlap")
    assert fault.cure == "check the length and the angles of both ends"


def test_parallel_mitres_are_as_short_as_you_like() -> None:
    """Turned by 180 the long side of one end faces the short side of the other: each line has the whole length."""
    mitre = End(Cut.MITRE, 60.0)
    assert laid(member(length=F(1), end_a=mitre, end_b=mitre, turn_deg=180.0)).faults == ()
    (fault,) = laid(member(length=F(20), end_a=mitre, end_b=mitre)).faults
    past = OD * math.tan(math.radians(60)) - 20
    assert f"they run {past:.1f}" in fault.rule


def test_a_bend_gives_back_less_than_its_arc() -> None:
    """90 degrees at 60 mm is an arc of 94.2 mm: a stretch of 95 mm leaves less than nothing, one of 94 does not."""
    course = rows((300, To.TANGENT, 90.0), (300,))
    for stretch, faulty in ((94, False), (95, True)):
        tube = Tube("Z", F(38), F(2), clr=F(60), stretch=F(stretch))
        faults = laid(member(tube="Z", bends=course), tubes=(tube,)).faults
        assert bool(faults) is faulty
        if faulty:
            assert "its arc of 94.2" in faults[0].rule
            assert faults[0].place.column == "angle"


def test_ends_that_just_touch_leave_no_member(as_worded: Worded) -> None:
    """Mitres of 45 degrees, as far apart as the tube is wide: the short side is nothing, whatever floats make of it."""
    mitre = End(Cut.MITRE, 45.0)
    (fault,) = laid(member(length=F(38), end_a=mitre, end_b=mitre)).faults
    as_worded(fault)
    assert laid(member(length=F(381, 10), end_a=mitre, end_b=mitre)).faults == ()


def test_allowances_make_no_member_of_ends_that_meet(as_worded: Worded) -> None:
    """What is added for fitting is ground off, and for shrinkage drawn in: the finished member is what must be."""
    mitre = End(Cut.MITRE, 45.0)
    more = Settings(fit_mitre=F(10), shrink=F(1))
    (fault,) = laid(member(length=F(30), end_a=mitre, end_b=mitre), settings=more).faults
    assert "8 mm" in fault.rule
    as_worded(fault)
    assert laid(member(length=F(39), end_a=mitre, end_b=mitre), settings=more).faults == ()
