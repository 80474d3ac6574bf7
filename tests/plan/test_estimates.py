"""A plan over estimates: enough for whatever they turn out to be, at no more than that costs, proved from its rows."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import product

import pytest
from small_jobs import bars, least_cost

from cutplan.geometry import lay_out
from cutplan.geometry.model import Estimate
from cutplan.job.faults import JobError
from cutplan.job.model import Bend, Cut, End, Fitted, Job, Measured, Member, Onto, Point, Saddle, Settings, To, Tube
from cutplan.plan import complaints, make_plan
from cutplan.plan.model import Plan
from cutplan.plan.recut.rest import recut
from cutplan.plan.recut.ticks import Tick

F = Fraction
TUBE = Tube("T", F(38), F(2), clr=F(114), stretch=F(1))


def planned(members, stock, settings) -> Plan:
    job = Job(settings, (TUBE,), tuple(stock), tuple(members))
    layout = lay_out(job)
    assert not layout.faults
    return make_plan(job, layout.blanks)


def test_the_plan_costs_what_the_worst_case_costs():
    """Its cost is the least that serves all members at their greatest, which is the most that any corner of the ranges
    can cost: no more is paid than the promise needs. By brute force over all corners."""
    rng = random.Random(3)
    rules = Settings(kerf=F(2), spares=0, step=F(1))
    for _ in range(12):
        members = [
            Member(f"M{i}", "T", length=F(rng.randrange(300, 900)), tolerance=F(rng.choice([0, 20, 60, 150])))
            for i in range(rng.randrange(2, 6))
        ]
        stock = [bars(1000, "11"), bars(1600, "17"), bars(2000, "20")]
        plan = planned(members, stock, rules)
        worst = max(
            least_cost(
                stock, [one.length + side * one.tolerance for one, side in zip(members, sides, strict=True)], F(2)
            )
            for sides in product((-1, 1), repeat=len(members))
        )
        assert plan.proven
        assert plan.cost == worst


def test_estimates_come_last_on_their_bar_and_share_no_cut():
    """What is measured can be sawn with a known rest; an estimate's mitre is no cut of its neighbour's."""
    ends = End(Cut.MITRE, 45.0), End(Cut.MITRE, 45.0)
    members = [
        Member("GUESS", "T", length=F(900), tolerance=F(50), end_a=ends[0], end_b=ends[1]),
        Member("KNOWN", "T", 3, length=F(500), end_a=ends[0], end_b=ends[1]),
    ]
    plan = planned(members, [bars(6000, "50")], Settings(share_mitres=True, spares=0))
    (bar,) = plan.tubes[0].bars
    assert [cut.mark for cut in bar.cuts] == ["KNOWN"] * 3 + ["GUESS"]
    assert [cut.shared for cut in bar.cuts] == [False, True, True, False]


def test_one_at_a_time_a_spoilt_estimate_yields_only_its_least(as_worded):
    """What is sure of a spoilt estimate, 700 - 50, serves for a piece of 600; were its least 640, it would not."""
    members = [
        Member("LONG", "T", length=F(800), tolerance=F(100)),
        Member("SHORT", "T", 2, length=F(600)),
    ]
    rules = Settings(spares=1, fitted=Fitted.ONE_AT_A_TIME)
    plan = planned(members, [bars(1000, "10"), bars(3000, "28")], rules)
    first = plan.tubes[0].bars[0].cuts[0]
    assert (first.mark, dict(first.if_spoilt.layout)["the spoilt piece"]) == ("LONG", ("SHORT",))
    assert complaints(plan) == ()
    less = tuple(replace(one, estimate=Estimate(F(640), F(800))) if one.estimate else one for one in plan.blanks)
    as_worded(*complaints(replace(plan, blanks=less)))


@cache
def good() -> Plan:
    cope = End(
        Cut.COPE,
        saddles=(Saddle(Onto(F(45)), 60.0, F(1), 0.0, 5.0, F(1)),),
        measured=Measured.FACE,
    )
    members = [
        Member("POST", "T", length=F(1000), tolerance=F(1)),
        Member(
            "STAY",
            "T",
            pair=True,
            length=F(1120),
            tolerance=F(40),
            end_a=cope,
            end_b=End(Cut.MITRE, 20.0, angle_tolerance=4.0),
        ),
        Member(
            "HOOP",
            "T",
            bends=(Bend(F(500), To.APEX, 85.0, tolerance=F(5), angle_tolerance=10.0), Bend(F(400), To.OUTSIDE)),
        ),
    ]
    return planned(members, [bars(6000, "50"), bars(3000, "28")], Settings(spares=1))


def altered(mark, **change):
    """A plan whose blank of this mark, and its cuts, are as changed."""
    plan = good()
    blanks = tuple(replace(one, **change) if one.mark == mark else one for one in plan.blanks)
    return replace(plan, blanks=blanks)


def test_the_good_plan_is_good():
    """What is altered below has nothing wrong with it, and the room of each estimate is little more than it needs."""
    assert complaints(good()) == ()
    assert [one.mark for one in good().blanks if one.estimated] == ["STAY-L", "STAY-R", "HOOP"]


@pytest.mark.parametrize("mark", ["STAY-L", "HOOP"])
def test_less_room_than_the_greatest_is_refused(mark):
    """A step less, or ten: the check works out from the rows what the blank may need."""
    blank = good().by_mark()[mark]
    for steps in (1, 20):
        said = complaints(altered(mark, length=blank.length - steps * F(1, 2)))
        assert any(text.startswith(f"{mark}: may need") for text in said), said


def test_less_room_than_an_end_on_a_bend_or_on_several_tubes_may_need_is_refused():
    """Of each, the angle and what says where it lands are in doubt; some mm less than the room kept is too little."""
    bend = Saddle(Onto(F(45), clr=F(120), side_deg=30.0, side_tolerance=10.0), 50.0, angle_tolerance=8.0)
    node = Saddle(Onto(F(45)), 55.0, angle_tolerance=8.0), Saddle(Onto(F(45)), 70.0, turn_deg=90.0, turn_tolerance=5.0)
    members = [
        Member("BOW", "T", length=F(900), end_b=End(Cut.COPE, saddles=(bend,), measured=Measured.FACE)),
        Member("KNEE", "T", length=F(700), end_a=End(Cut.COPE, saddles=node, measured=Measured.FACE)),
    ]
    plan = planned(members, [bars(6000, "50")], Settings(spares=1))
    assert complaints(plan) == ()
    for mark in ("BOW", "KNEE"):
        assert plan.by_mark()[mark].estimated
        blanks = [replace(one, length=one.length - 3) if one.mark == mark else one for one in plan.blanks]
        said = complaints(replace(plan, blanks=tuple(blanks)))
        assert any(text.startswith(f"{mark}: may need") for text in said), said


def test_an_estimate_said_to_be_known_is_refused(as_worded):
    """Nobody is given a length to saw for what may be otherwise; nor is what is known said to be an estimate."""
    stay, post = good().by_mark()["STAY-L"], good().by_mark()["POST"]
    as_worded(*complaints(altered("STAY-L", estimate=None)))
    wrong = complaints(altered("POST", estimate=Estimate(post.length - 40, post.length)))
    assert any(text.startswith("POST: ") for text in wrong)
    shorter = Estimate(stay.least + 5, stay.likely)
    as_worded(*complaints(altered("STAY-L", estimate=shorter)))
    likelier = Estimate(stay.least, stay.likely + 5)
    as_worded(*complaints(altered("STAY-L", estimate=likelier)))


def test_narrower_rows_than_the_plan_was_made_for_are_no_fault_but_wider_are():
    """The check holds the plan against the rows it carries: widened after the plan was made, the room is too small."""
    plan = good()
    wide = tuple(replace(one, tolerance=F(60)) if one.mark == "STAY" else one for one in plan.job.members)
    said = complaints(replace(plan, job=replace(plan.job, members=wide)))
    assert any(text.startswith("STAY-R: may need") for text in said)


@pytest.mark.parametrize("spoilt", [False, True])
def test_a_tick_on_an_estimate_is_refused_with_its_reason(spoilt, as_worded):
    """The list gave no length for it, so it cannot have been cut from this list."""
    plan = good()
    cuts = [cut for tube in plan.tubes for bar in tube.bars for cut in bar.cuts]
    guess = next(cut.number for cut in cuts if cut.mark == "STAY-L")
    ticks = [Tick(cut.number, cut.number == guess and not spoilt, cut.number == guess and spoilt) for cut in cuts]
    with pytest.raises(JobError) as caught:
        recut(plan, ticks)
    (fault,) = caught.value.faults
    as_worded(fault)


def test_the_rest_is_planned_again_with_its_estimates():
    """Once what is known is cut, the estimates keep their room on what remains, and nothing is bought."""
    plan = good()
    cuts = [cut for tube in plan.tubes for bar in tube.bars for cut in bar.cuts]
    after = recut(plan, [Tick(cut.number, cut.mark == "POST", False) for cut in cuts]).plan
    assert after is not None
    assert complaints(after) == ()
    assert after.buy == ()
    assert all(after.by_mark()[mark] == plan.by_mark()[mark] for mark in ("STAY-L", "STAY-R", "HOOP"))


def test_room_inherited_by_points_is_proved_too():
    """A brace on a rail in doubt: less room than the frame shows that it may need is refused, and so is a length."""

    def point(x: int, z: int, doubt: int = 0) -> Point:
        return Point(F(x), F(0), F(z), doubt=(F(0), F(0), F(doubt)))

    ends = [End(Cut.COPE, saddles=(Saddle(Onto(F(38), mark, mark)),), from_points=True) for mark in ("LOW", "TOP")]
    members = [
        Member("LOW", "T", points=(point(-500, 0, 10), point(500, 0, 10))),
        Member("TOP", "T", points=(point(-500, 500), point(500, 500))),
        Member("BRACE", "T", end_a=ends[0], end_b=ends[1], points=(point(0, 0), point(0, 500))),
    ]
    plan = planned(members, [bars(3000, "28")], Settings(spares=0))
    assert complaints(plan) == ()
    brace = plan.by_mark()["BRACE"]
    assert brace.estimated
    for change, says in (
        ({"length": brace.length - 5}, "BRACE: may need"),
        ({"estimate": None}, "BRACE: may be out by 10 mm, yet is given a length"),
    ):
        blanks = tuple(replace(one, **change) if one is brace else one for one in plan.blanks)
        said = complaints(replace(plan, blanks=blanks))
        assert any(text.startswith(says) for text in said), said


@pytest.mark.parametrize("fitted", list(Fitted))
def test_an_estimate_is_cut_after_what_it_is_measured_against(fitted, as_worded):
    """A longer diagonal would come first on its bar; being an estimate, it waits for the post that it lands on, though
    no stage is written; and a plan with the order turned round is refused."""
    end = End(Cut.COPE, saddles=(Saddle(Onto(F(38), "POST", "POST"), 60.0),))
    members = [
        Member("DIAG", "T", length=F(1200), tolerance=F(50), end_a=end),
        Member("POST", "T", length=F(700)),
    ]
    plan = planned(members, [bars(3000, "28")], Settings(spares=1, fitted=fitted))
    cuts = {cut.mark: cut.number for bar in plan.tubes[0].bars for cut in bar.cuts}
    assert cuts == {"POST": 1, "DIAG": 2}
    assert complaints(plan) == ()
    (tube,) = plan.tubes
    turned = tuple(
        replace(bar, cuts=tuple(replace(cut, number=3 - cut.number) for cut in bar.cuts)) for bar in tube.bars
    )
    said = complaints(replace(plan, tubes=(replace(tube, bars=turned),)))
    as_worded(*said)
