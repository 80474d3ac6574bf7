"""Guards what is said of collisions: tubes that run into each other, and ends that stop in the air."""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations

import numpy as np
import pytest
from frames import random_frame
from node_judge import Node
from stray_judge import compared, slipped_frame, sound

from cutplan.geometry import clashes as module
from cutplan.geometry import lay_out
from cutplan.geometry.bodies import bodies_in_place
from cutplan.geometry.clashes import Loose, clashes, loose_ends
from cutplan.job.model import Cut, End, Job, Member, Onto, Point, Saddle, Settings, Tube

TUBE = Tube("T", Fraction(30), Fraction(2), clr=Fraction(90))


def member(mark: str, *points: tuple[float, float, float], a: str = "", b: str = "") -> Member:
    """A tube of 30 mm through ``points``; ``a``, ``b``: what its ends are coped onto."""
    ends = [
        End(Cut.COPE, saddles=(Saddle(Onto(Fraction(30), name, name)),), from_points=True) if name else End()
        for name in (a, b)
    ]
    at = tuple(Point(*(Fraction(c) for c in point)) for point in points)
    return Member(mark, "T", end_a=ends[0], end_b=ends[1], points=at)


def job_of(*members: Member) -> Job:
    """A job of ``members``."""
    return Job(Settings(), (TUBE,), (), members)


def loose_in(*members: Member) -> list[Loose]:
    """Ends in the air of a frame of ``members``."""
    job = job_of(*members)
    return loose_ends(list(bodies_in_place(job, lay_out(job).blanks)), job)


RAIL = member("RAIL", (0, 0, 0), (1000, 0, 0))


@pytest.mark.parametrize("gap", [0.0, 12.0, 29.0, 30.2, 40.0])
def test_tubes_that_cross(gap):
    """Two tubes of 30 whose axes pass 12 apart are 18 too close; 30 apart they only touch."""
    job = job_of(RAIL, member("OVER", (400, -300, gap), (500, 300, gap)))
    found = clashes(list(bodies_in_place(job, lay_out(job).blanks)), job)
    if gap >= 30.0:
        assert found == []
        return
    assert found[0].mm == pytest.approx(30.0 - gap, abs=1e-6)
    assert found[0].at == pytest.approx((450.0, 0.0, gap / 2.0), abs=1e-6)


def test_a_joint_is_no_collision_and_a_second_crossing_is():
    """A coped tube fits what it lands on; where it comes back and crosses that once more, it is reported."""
    post = member("POST", (400, 0, 0), (400, 0, 600), a="RAIL")
    assert lay_out(job_of(RAIL, post)).remarks == ()
    back = member("BACK", (100, 0, 0), (100, 400, 0), (700, 400, 0), (700, -300, 0), a="RAIL")
    (remark,) = lay_out(job_of(RAIL, back)).remarks
    assert str(remark) == (
        "job: RAIL and BACK run into each other by 30 mm at x 700, y 0, z 0, and neither lands on the other there"
    )


@pytest.mark.parametrize(("stop", "shown"), [(-15, False), (-15.2, False), (-27, True), (-74, True), (-80, False)])
def test_an_end_in_the_air(stop, shown):
    """A square end that points at the rail from 12 mm off touches nothing; from far away it means another thing."""
    job = job_of(RAIL, member("STAY", (500, -600, 0), (500, stop, 0)))
    found = loose_ends(list(bodies_in_place(job, lay_out(job).blanks)), job)
    assert [(one.mark, one.name, one.other) for one in found] == ([("STAY", "b", "RAIL")] if shown else [])
    if shown:
        assert found[0].mm == pytest.approx(-stop - 15.0, abs=0.1)


def test_an_end_in_the_air_beside_what_it_points_at():
    """Of an end that comes in beside the axis of the rail, or leaning, it counts what touches first: here a side."""
    beside = member("STAY", (500, -600, 20), (500, -60, 20))
    (one,) = loose_in(RAIL, beside)
    # Its lowest line is 5 above the rail's axis, where the rail is so wide.
    assert one.mm == pytest.approx(60.0 - (15.0**2 - 5.0**2) ** 0.5, abs=0.1)
    leaning = member("STAY", (-40, -600, 0), (500, -60, 0))
    (one,) = loose_in(RAIL, leaning)
    # Along its axis to the rail's side, less the 15 by which one of its lines is ahead.
    assert one.mm == pytest.approx(45.0 * 2.0**0.5 - 15.0, abs=0.1)


def test_an_end_that_others_land_on_is_not_in_the_air():
    """The last tube of a node may stop anywhere if others come to it."""
    stay = member("STAY", (500, -600, 0), (500, -27, 0))
    on_it = member("TIE", (500, -40, 0), (300, -40, 300), a="STAY")
    job = job_of(RAIL, stay, on_it)
    assert loose_ends(list(bodies_in_place(job, lay_out(job).blanks)), job) == []


@pytest.mark.parametrize("seed", [4])
def test_random_frames_against_solids(seed):
    """What solids have in common is reported, from 50 cubic millimetres on, and nothing that they have not."""
    job = sound(random_frame(seed))
    node = Node.of(job, facets=90)
    found = clashes(list(bodies_in_place(job, lay_out(job).blanks)), job)
    shown = {frozenset((clash.first, clash.second)) for clash in found}
    shared = {
        frozenset((one.mark, two.mark)): (node.solid(one.mark) ^ node.solid(two.mark)).volume()
        for one, two in combinations(job.members, 2)
    }
    assert {pair for pair, volume in shared.items() if volume > 50.0} <= shown
    assert all(shared[pair] > 0.01 for pair in shown)


@pytest.mark.parametrize("seed", [3, 5])
def test_ends_in_the_air_and_third_tubes_against_solids(seed):
    """Of a frame with ends left short, beside their node or without a tube that they meet: what is reported is so, what
    is so is reported, and by how much."""
    found = compared(slipped_frame(seed))
    assert found.wrong == []
    assert found.in_the_air > 0


def test_a_tube_known_to_be_in_the_way_at_one_end_may_be_hit_elsewhere_too():
    """A bent tube runs into the saddle of a post, and crosses that post once more further up: on the lines of the post
    that reach down to the rail's axis it is met at 20 + 15."""
    post = member("POST", (400, 0, 0), (400, 0, 900), a="RAIL")
    third = member("LOOP", (400, -300, 20), (400, 300, 20), (400, 300, 600), (400, -300, 600))
    said = [str(one) for one in lay_out(job_of(RAIL, third, post)).remarks]
    assert any(each.startswith("job, end a: POST runs 35 mm into LOOP at x 400, y 0, z 0") for each in said), said
    assert any("LOOP and POST run into each other by 30 mm at x 400, y 0, z 600" in each for each in said), said


def test_metal_that_is_cut_away_on_paper_is_no_collision():
    """Where lines of two ends miss what they land on, which ends there, they are marked as if it ran on. Solids that
    are cut by nothing there share 170 cubic mm; the tubes as they are marked share half of one."""
    job = sound(random_frame(0))
    node = Node.of(job, facets=90)
    shared = node.solid("M1") ^ node.solid("M5")
    assert shared.volume() > 150.0
    assert all(np.isnan(node.line(mark, at_b)[0]).any() for mark, at_b in (("M1", False), ("M5", True)))
    one, two = (body for body in bodies_in_place(job, lay_out(job).blanks) if body.mark in {"M1", "M5"})
    low, high = np.array(shared.bounding_box()[:3]), np.array(shared.bounding_box()[3:])
    points = np.random.default_rng(1).uniform(low, high, (40_000, 3))
    deep = np.minimum(one.depth(points), two.depth(points))
    assert float((deep > 0).mean() * np.prod(high - low)) < 2.0
    assert deep.max() < module.LEAST_MM


def test_of_many_tubes_only_those_that_pass_close_are_looked_at(monkeypatch):
    """Seventy tubes side by side, the fortieth wide of its neighbours by less than a millimetre."""
    members = [member(f"M{k}", (0, 40 * k, 0), (1500, 40 * k, 5 * k)) for k in range(70)]
    members[40] = member("M40", (0, 40 * 39 + 30.5, 0), (1500, 40 * 39 + 30.5, 5 * 39))
    job = job_of(*members)
    bodies = list(bodies_in_place(job, lay_out(job).blanks))
    looked = []
    overlap = module._overlap
    monkeypatch.setattr(module, "_overlap", lambda a, b, *rest: looked.append((a, b)) or overlap(a, b, *rest))
    assert clashes(bodies, job) == []
    assert [{a.body.mark, b.body.mark} for a, b in looked] == [{"M39", "M40"}]
