"""The least and the greatest a blank may come out as, against blanks laid out from plain numbers inside the ranges."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction
from math import pi, radians, tan

import pytest
from estimate_judge import (
    SETTINGS,
    blank_in_frame,
    blank_of,
    frames_tried,
    random_bent_frame,
    random_frame,
    random_hard_member,
    random_member,
    random_node,
    tried,
)

from cutplan.geometry import lay_out
from cutplan.geometry.model import Blank
from cutplan.job.model import Bend, Cut, End, Job, Measured, Member, Onto, Point, Saddle, Settings, To, Tube

F = Fraction
SQUARE = End()
TUBE = Tube("t", F(38), F(2), clr=F(114), stretch=F(0))


def straight(length: int, doubt: float, end_a: End = SQUARE, settings: Settings = SETTINGS):
    return blank_of(TUBE, Member("m", "t", length=F(length), tolerance=F(doubt), end_a=end_a), settings)


def test_no_sample_is_outside_the_range():
    """Whatever the numbers turn out to be, at corners or inside, the blank lies between its least and its greatest."""
    rng = random.Random(7)
    judged = samples = attained = 0
    while judged < 50:
        tube, member = random_member(rng)
        blank = blank_of(tube, member)
        if blank is None or not blank.estimated:
            continue
        judged += 1
        lengths = [one.length for plain in tried(rng, member, 24) if (one := blank_of(tube, plain)) is not None]
        samples += len(lengths)
        assert all(blank.least <= length <= blank.length for length in lengths), member
        attained += bool(lengths) and max(lengths) >= blank.length - SETTINGS.step
    assert samples > 1000
    # The bound is no mere precaution: for many members a sample reaches it.
    assert attained > 15


def test_no_end_on_a_bend_or_on_several_tubes_is_outside_its_range():
    """Angle, offset, turn and side of every saddle anywhere within their ±: no sample outside, and the range no more
    than some millimetres wider than what was tried."""
    rng = random.Random(2)
    judged = samples = 0
    while judged < 10:
        tube, member = random_hard_member(rng)
        blank = blank_of(tube, member)
        if blank is None or not blank.estimated:
            continue
        judged += 1
        lengths = [one.length for plain in tried(rng, member, 10) if (one := blank_of(tube, plain)) is not None]
        samples += len(lengths)
        assert all(blank.least <= length <= blank.length for length in lengths), member
        assert blank.length - max([*lengths, blank.likely]) < 4, member
    assert samples > 50


def landing(onto: Saddle, more: tuple[Member, ...], measured: Measured = Measured.FACE) -> Blank:
    """A member on ``onto``, one of the members ``more``."""
    member = Member("m", "t", length=F(600), end_a=End(Cut.COPE, saddles=(onto,), measured=measured))
    layout = lay_out(Job(SETTINGS, (TUBE,), (), (*more, member)))
    assert not layout.faults
    return next(blank for blank in layout.blanks if blank.mark == "m")


def test_on_a_bend_of_a_member_the_numbers_of_the_place_may_be_in_doubt():
    """How far along the bend and from which side, next to where it runs into its straights: no sample outside."""
    hoop = Member("HOOP", "t", bends=(Bend(F(400), To.TANGENT, 90.0), Bend(F(400))))

    def saddle(arc: float, side: float, angle: float, doubts: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> Saddle:
        onto = Onto(F(38), "HOOP", "HOOP", F(114), 1, arc, side, side_tolerance=doubts[1], arc_tolerance=doubts[0])
        return Saddle(onto, angle, angle_tolerance=doubts[2])

    doubted = landing(saddle(8.0, 70.0, 62.0, (6.0, 10.0, 4.0)), (hoop,))
    found = [
        landing(saddle(arc, side, angle), (hoop,)).length
        for arc in (2.0, 14.0)
        for side in (60.0, 80.0)
        for angle in (58.0, 66.0)
    ]
    assert doubted.least <= min(found)
    assert max(found) <= doubted.length < max(found) + 5


def test_where_one_tube_of_a_node_ends_on_another_the_range_holds():
    """A post that is itself coped onto the rail that the member lands on with it."""
    rail = Member("RAIL", "t", length=F(900))
    post = Member("POST", "t", length=F(500), end_a=End(Cut.COPE, saddles=(Saddle(Onto(F(38), "RAIL", "RAIL")),)))

    def node(angle: float, other: float, turn: float, doubts: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> Blank:
        saddles = (
            Saddle(Onto(F(38), "RAIL", "RAIL"), angle, angle_tolerance=doubts[0]),
            Saddle(
                Onto(F(38), "POST", "POST"), other, turn_deg=turn, angle_tolerance=doubts[1], turn_tolerance=doubts[2]
            ),
        )
        member = Member("m", "t", length=F(600), end_a=End(Cut.COPE, saddles=saddles))
        layout = lay_out(Job(SETTINGS, (TUBE,), (), (rail, post, member)))
        assert not layout.faults
        return next(blank for blank in layout.blanks if blank.mark == "m")

    doubted = node(60.0, 45.0, 180.0, (5.0, 5.0, 3.0))
    found = [node(a, b, t).length for a in (55.0, 65.0) for b in (40.0, 50.0) for t in (177.0, 183.0)]
    assert doubted.least <= min(found)
    assert max(found) <= doubted.length < max(found) + 5


def test_a_length_in_doubt_is_a_plain_interval():
    """1120 ± 40 is 1080 to 1160, its likely length in the middle."""
    blank = straight(1120, 40)
    assert (blank.least, blank.likely, blank.length) == (1080, 1120, 1160)
    assert sum(part.length for part in blank.parts) == pytest.approx(1160)


@pytest.mark.parametrize(("doubt", "estimated"), [(2.5, False), (3.0, False), (3.5, True)])
def test_the_setting_sure_parts_measured_from_estimated(doubt, estimated):
    """Up to the setting a member is measured, and has its likely length; beyond it, it has room for the greatest."""
    blank = straight(1000, doubt, settings=Settings())
    assert blank.estimated is estimated
    assert blank.length == (1000 + F(doubt) if estimated else 1000)
    assert blank.spread == pytest.approx(doubt)


def test_a_cope_whose_angle_may_pass_square_is_shortest_there():
    """Measured to the face, a blank gains R/sin(theta): least at 90, inside the range, and more on either side."""
    end = End(Cut.COPE, saddles=(Saddle(Onto(F(38)), 88.0, angle_tolerance=6.0),), measured=Measured.FACE)
    blank = straight(1000, 0, end, replace(SETTINGS, fit_cope=F(0), step=F(1, 1000)))
    assert float(blank.least) == pytest.approx(1019.0, abs=2e-3)
    # 82 is furthest from square: 19 / sin 82.
    assert float(blank.length) == pytest.approx(1000 + 19 / 0.9902680687, abs=2e-3)


@pytest.mark.parametrize("offset", [4, 10])
def test_off_centre_an_angle_in_doubt_costs_no_more_than_it_can(offset):
    """The longest blank of an end off centre may lie inside the range of its angle, and is searched for there: its
    bound is within a tenth of a millimetre of the longest of 81 tried, and not below it."""
    fine = replace(SETTINGS, step=F(1, 1000))
    lands = Saddle(Onto(F(60)), 60.0, F(offset))
    ranged = straight(500, 0.0, End(Cut.COPE, saddles=(replace(lands, angle_tolerance=5.0),)), fine)
    plain = [
        straight(500, 0.0, End(Cut.COPE, saddles=(replace(lands, angle_deg=55.0 + number / 8.0),)), fine)
        for number in range(81)
    ]
    lengths = [one.length for one in plain]
    assert max(lengths) <= ranged.length <= max(lengths) + F(1, 10)
    assert min(lengths) - F(1, 10) <= ranged.least <= min(lengths)


def test_a_bend_is_longest_inside_its_range():
    """Given to its apex, a bend's arc less its setbacks, R·A - 2·R·tan(A/2), falls ever faster; with one
    side to its tangent point it has a peak: R·A - R·tan(A/2) peaks where cos²(A/2) = 1/2: at 90 degrees."""
    rows = (
        Bend(F(500), To.APEX, 85.0, angle_tolerance=15.0),
        Bend(F(500), To.TANGENT),
    )
    blank = blank_of(TUBE, Member("m", "t", bends=rows), replace(SETTINGS, step=F(1, 1000)))
    arc = 114 * pi / 2 - 114 * tan(radians(45))
    assert float(blank.length) == pytest.approx(1000 + arc, abs=2e-3)


@pytest.mark.parametrize("short", [0, 1], ids=["first", "last"])
def test_a_straight_held_to_the_grip_has_no_doubt_left(short):
    """A straight of 60 ± 5 where the bender holds 80 is sawn 80 long whatever it turns out to be; the other, longer
    than the grip, keeps its own ± 5: 500 + 80 and an arc of 90 degrees, 5 more or less."""
    straights = [F(500), F(500)]
    straights[short] = F(60)
    rows = (Bend(straights[0], To.TANGENT, 90.0, tolerance=F(5)), Bend(straights[1], To.TANGENT, tolerance=F(5)))
    settings = replace(SETTINGS, step=F(1, 1000))
    blank = blank_of(replace(TUBE, grip=F(80)), Member("m", "t", bends=rows), settings)
    likely = 500 + 80 + 114 * pi / 2
    expected = (likely - 5, likely, likely + 5)
    assert tuple(map(float, (blank.least, blank.likely, blank.length))) == pytest.approx(expected, abs=2e-3)


@pytest.mark.parametrize(
    ("member", "says"),
    [
        (
            Member("m", "t", bends=(Bend(F(80), To.APEX, 60.0, angle_tolerance=20.0), Bend(F(500)))),
            "straight 1 may be",
        ),
        (
            Member("m", "t", length=F(60), tolerance=F(50), end_a=End(Cut.MITRE, 45.0), end_b=End(Cut.MITRE, 45.0)),
            "two ends overlap",
        ),
    ],
)
def test_a_range_that_cannot_be_is_a_fault(member, says):
    """What only somewhere in the range is impossible is reported too, in the words of its kind."""
    faults = lay_out(Job(SETTINGS, (TUBE,), (), (member,))).faults
    assert len(faults) == 1
    assert says in str(faults[0])


def test_no_frame_has_a_blank_outside_its_range():
    """By points: whatever the points of a brace, and of the rails it lands on, turn out to be."""
    rng = random.Random(4)
    samples = inherited = 0
    for _ in range(10):
        tubes, members = random_frame(rng)
        blank = blank_in_frame(tubes, members)
        if blank is None:
            continue
        found = (blank_in_frame(tubes, each) for each in frames_tried(rng, members, 6))
        lengths = [one.length for one in found if one is not None]
        samples += len(lengths)
        assert all(blank.least <= length <= blank.length for length in lengths), members
        inherited += blank.estimated and not any(any(point.doubt) for point in members[-1].points)
    assert samples > 25
    assert inherited


def test_at_a_node_of_several_tubes_the_range_holds_and_is_no_wider_than_needed():
    """An end on two or three tubes whose points may all be some mm out: no sample outside, and no tube's width kept."""
    rng = random.Random(1)
    kept = []
    for _ in range(8):
        tubes, members = random_node(rng)
        blank = blank_in_frame(tubes, members)
        if blank is None:
            continue
        found = (blank_in_frame(tubes, each) for each in frames_tried(rng, members, 3))
        lengths = [one.length for one in found if one is not None]
        assert all(blank.least <= length <= blank.length for length in lengths), members
        doubt = max(max(point.doubt) for one in members for point in one.points)
        kept.append(float((blank.length - blank.likely) / doubt))
    assert len(kept) > 4
    assert max(kept) < 10.0


def brace(low: tuple[float, ...], own: tuple[float, ...]) -> Blank:
    """A brace 500 long between two rails, square to both; the doubts of the lower rail's points, and of its own."""

    def point(x: int, z: int, doubt: tuple[float, ...] = (0, 0, 0)) -> Point:
        return Point(F(x), F(0), F(z), doubt=tuple(map(F, doubt)))

    ends = [End(Cut.COPE, saddles=(Saddle(Onto(F(38), mark, mark)),), from_points=True) for mark in ("LOW", "TOP")]
    members = (
        Member("LOW", "t", points=(point(-500, 0, low), point(500, 0, low))),
        Member("TOP", "t", points=(point(-500, 500), point(500, 500))),
        Member("m", "t", end_a=ends[0], end_b=ends[1], points=(point(0, 0, own), point(0, 500, own))),
    )
    found = blank_in_frame((TUBE,), members)
    assert found is not None
    return found


def test_what_lands_on_a_tube_in_doubt_is_in_doubt():
    """A rail that may be 10 higher or lower makes a brace that much shorter or longer, though its own points are sure;
    its own points, which only lead it to the rails, do not add to that along it."""
    sure = brace((0, 0, 0), (0, 0, 0))
    assert not sure.estimated
    inherited = brace((0, 0, 10), (0, 0, 0))
    assert 10 <= inherited.length - sure.length <= F(21, 2)
    assert 10 <= sure.length - inherited.least <= F(21, 2)
    own = brace((0, 0, 0), (0, 0, 10))
    assert own.length - sure.length <= F(3, 2)


def test_near_a_bend_of_a_tube_in_doubt_room_is_kept_for_all_that_may_be():
    """Where the saddle may come to lie on the bend or beside it, no sample is outside, and the width is remarked on."""
    rng = random.Random(3)
    judged = samples = 0
    while judged < 6:
        tubes, members = random_bent_frame(rng)
        blank = blank_in_frame(tubes, members)
        if blank is None or not blank.estimated:
            continue
        judged += 1
        found = (blank_in_frame(tubes, each) for each in frames_tried(rng, members, 6))
        lengths = [one.length for one in found if one is not None]
        samples += len(lengths)
        assert all(blank.least <= length <= blank.length for length in lengths), members

    def point(x: int, y: int, doubt: int = 0) -> Point:
        return Point(F(x), F(y), F(0), doubt=(F(doubt), F(0), F(0)))

    assert samples > 20
    end = End(Cut.COPE, saddles=(Saddle(Onto(F(38), "RAIL", "RAIL")),), from_points=True)
    members = (
        Member("RAIL", "t", points=(point(0, 0, 5), point(1000, 0, 5), point(1000, 900, 5))),
        Member("m", "t", end_a=end, points=(point(860, 0), point(860, 500))),
    )
    layout = lay_out(Job(SETTINGS, (TUBE,), (), members))
    assert not layout.faults
    assert any("how it lands on or near the bend of RAIL" in str(remark) for remark in layout.remarks)
