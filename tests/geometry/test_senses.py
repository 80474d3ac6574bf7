"""Which side is which: offset, side, turn, the inside of a bend, against vectors and against their mirror images."""

from __future__ import annotations

from dataclasses import replace
from math import cos, radians, sin

import numpy as np
import pytest
from members import F, found, laid, member, points
from node_judge import mirrored, random_node

from cutplan.geometry import Blank, EndShape, bevel, ears_and_throats, end_line, lay_out
from cutplan.job.model import Cut, End, Job, Member, Onto, Saddle, Settings, Tube
from cutplan.plan.rough import rough_cuts
from cutplan.plan.tables.wraps import inside_landed_on

TURNS = np.arange(0.0, 360.0, 15.0)


def ends_of(blank: Blank) -> tuple[tuple[str, EndShape], tuple[str, EndShape]]:
    """Both, by name."""
    return ("a", blank.end_a), ("b", blank.end_b)


@pytest.mark.parametrize("seed", range(11))
def test_the_mirror_image_has_every_sense_the_other_way_round(seed: int) -> None:
    """Offsets, sides on a bend, turns of further saddles and the lines themselves, of nodes by points."""
    job = random_node(seed)
    compared = 0
    for one, other in zip(lay_out(job).blanks, lay_out(mirrored(job)).blanks, strict=True):
        for (_, here), (_, there) in zip(ends_of(one), ends_of(other), strict=True):
            if here.cut is not Cut.COPE or here.saddles[0].angle_deg > 89.9:
                continue
            for mine, its in zip(here.saddles, there.saddles, strict=True):
                assert float(mine.offset) == pytest.approx(-float(its.offset), abs=1e-6)
                assert sin(radians(mine.turn_deg + its.turn_deg)) == pytest.approx(0.0, abs=1e-6)
                assert sin(radians(mine.onto.side_deg + its.onto.side_deg)) == pytest.approx(0.0, abs=1e-6)
            assert end_line(here, TURNS) == pytest.approx(end_line(there, -TURNS), abs=1e-4)
            compared += 1
    assert compared


HOOP = member("HOOP", "H45", points=points((0, 0, 0), (0, 0, 1000, 150), (1000, 0, 1000)))


def leaning(at_b: bool, way: tuple[float, float, float], offset: float = 0.0) -> Blank:
    """A stay from the middle of the hoop's bend towards ``way``, moved sideways by ``offset``."""
    half = 150 * (1 - np.sqrt(0.5))
    foot = np.array([half, 0.0, 1000 - half])
    across = np.cross(way, (1.0, 0.0, 1.0))
    foot = foot + offset * across / np.linalg.norm(across)
    far = foot + 600 * np.array(way)
    both = points(*(tuple(map(F, p)) for p in ((far, foot) if at_b else (foot, far))))
    ends = {"end_b" if at_b else "end_a": found("HOOP")}
    layout = laid(HOOP, member("S", points=both, **ends))
    assert layout.faults == ()
    return layout.blanks[1]


@pytest.mark.parametrize("at_b", [False, True])
@pytest.mark.parametrize("way", [(0.3, 0.9, 0.3), (0.3, -0.9, 0.3), (-0.5, 0.6, 0.4), (0.5, 0.6, -0.4)])
def test_the_inside_of_a_bend_is_where_its_centre_is(at_b: bool, way: tuple[float, float, float]) -> None:
    """By vectors: from the short side clockwise, seen from end a to end b, to the centre of the bend."""
    made = leaning(at_b, way)
    shape = made.end_b if at_b else made.end_a
    ((shown, name),) = inside_landed_on(shape)
    inward = np.array(way) / np.linalg.norm(way)
    along = -inward if at_b else inward
    tangent = np.array([1.0, 0.0, 1.0]) / np.sqrt(2)
    tangent *= np.sign(tangent @ inward)
    short = tangent - inward * (tangent @ inward)
    short /= np.linalg.norm(short)
    centre = np.array([1.0, 0.0, -1.0])
    clockwise = np.cross(along, short)
    expected = np.degrees(np.arctan2(centre @ clockwise, centre @ short))
    assert cos(radians(shown - expected)) == pytest.approx(1.0, abs=1e-6)
    assert name == "HOOP, bend 1"


@pytest.mark.parametrize("at_b", [False, True])
@pytest.mark.parametrize("offset", [2.0, -2.0])
def test_an_offset_is_on_the_side_it_says(at_b: bool, offset: float) -> None:
    """Positive: the other tube's axis is on the 90 side, clockwise from the short side, seen from end a to end b."""
    way = (0.6, 0.7, 0.4)
    made = leaning(at_b, way, offset)
    shape = made.end_b if at_b else made.end_a
    inward = np.array(way) / np.linalg.norm(way)
    across = np.cross(way, (1.0, 0.0, 1.0))
    across /= np.linalg.norm(across)
    tangent = np.array([1.0, 0.0, 1.0])
    short = tangent - inward * (tangent @ inward)
    clockwise = np.cross(-inward if at_b else inward, short)
    # The member was moved by ``offset`` along ``across``, so the hoop's axis lies the other way.
    expected = -offset * np.sign(across @ clockwise)
    assert float(shape.saddles[0].offset) == pytest.approx(expected, abs=0.05)


def test_no_side_is_named_where_the_centre_lies_straight_ahead() -> None:
    """From outside or inside the bend at a right angle its centre lies along the member, on no side of it."""
    for side in (0.0, 180.0):
        onto = Onto(F(45), "HOOP", "HOOP", F(150), 1, 45.0, side)
        stay = member("S", length=F(500), end_a=End(Cut.COPE, saddles=(Saddle(onto),)))
        assert inside_landed_on(laid(HOOP, stay).blanks[1].end_a) == []


def equal(angle: float, wall: float = 4.0) -> EndShape:
    """A cope of equal tubes of 42.4."""
    onto = Onto(F(424, 10), "P")
    tube = Tube("P", F(424, 10), F(wall))
    stay = Member("S", "P", length=F(500), end_a=End(Cut.COPE, saddles=(Saddle(onto, angle),)))
    return lay_out(Job(Settings(), (tube,), (), (stay,))).blanks[0].end_a


@pytest.mark.parametrize(("angle", "most"), [(90.0, 12.4), (55.0, 15.1), (35.0, 21.6)])
def test_how_much_the_inside_of_the_wall_must_go_deeper(angle: float, most: float) -> None:
    """At the ears of equal tubes, by hand: (R² - (R - wall)²) under the root, over the sine of the angle."""
    depth = bevel(equal(angle), [90.0, 270.0], 4.0)
    assert depth == pytest.approx(np.sqrt(21.2**2 - 17.2**2) / np.sin(radians(angle)), abs=1e-6)
    assert depth == pytest.approx(most, abs=0.05)
    assert float(bevel(equal(angle), [0.0], 4.0)[0]) < depth[0]
    assert float(bevel(replace(equal(angle), cut=Cut.MITRE), TURNS, 4.0).max()) == 0.0


def test_ears_and_throats_of_an_end_on_two_tubes() -> None:
    """Each tube makes a throat, and where their saddles cross there are ears: looked for along the line itself."""
    onto = (Onto(F(45), "P"), Onto(F(45), "P"))
    saddles = (Saddle(onto[0], 90.0), Saddle(onto[1], 90.0, F(0), 90.0))
    tube = Tube("P", F(45), F(2))
    stay = Member("S", "P", length=F(500), end_a=End(Cut.COPE, saddles=saddles))
    shape = lay_out(Job(Settings(), (tube,), (), (stay,))).blanks[0].end_a
    ears, throats = ears_and_throats(shape)
    assert sorted(round(turn) for turn, _ in ears) == [45, 135, 225, 315]
    assert sorted(round(turn) % 360 for turn, _ in throats) == [0, 90, 180, 270]
    assert [depth for _, depth in ears] == pytest.approx([0.0] * 4, abs=1e-3)


@pytest.mark.parametrize("swing", [30.0, 45.0, 50.0, 60.0, 75.0])
def test_no_rough_cut_is_steeper_than_the_saw_swings(swing: float) -> None:
    """And where it swings as far as a saddle asks for, two plain cuts are the whole outside line of equal tubes."""
    for angle in (90.0, 60.0, 35.0, 15.0):
        for cut in rough_cuts(equal(angle, 1.0), 1.0, swing):
            assert cut.saw_deg <= swing + 1e-6
    steep = max(cut.saw_deg for cut in rough_cuts(equal(60.0, 1.0), 1.0, swing))
    assert steep == pytest.approx(min(swing, 60.0), abs=0.5)
