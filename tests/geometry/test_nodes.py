"""Ends on tubes as they are: nodes held against solids, corners by name, points that are nearly right, and what a row
says beside them."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from frames import random_frame
from members import F, found, laid, member, points
from node_judge import judge, mirrored, random_node
from wording import Worded

from cutplan.geometry import Layout, end_line, lay_out
from cutplan.geometry.making import Misfit
from cutplan.job import read
from cutplan.job.faults import Place
from cutplan.job.model import Cut, End, Job, Member, Onto, Saddle, Settings, Tube
from cutplan.plan.rough import rough_ends

CLOSE_MM = 0.05
DEAR = {3, 14}
"""Nodes whose solids take longer than those of all the others together: left to the benchmark."""


@pytest.mark.judge
@pytest.mark.parametrize("block", range(4))
def test_random_nodes_against_solids(block: int) -> None:
    """Tip and every line that does not just graze, of both hands; more by tests/benchmarks/nodes_versus_solids.py."""
    compared = 0
    for seed in sorted({*range(4 * block, 4 * block + 3)} - DEAR):
        job = random_node(seed)
        for hand in (job, mirrored(job)) if seed % 4 == 0 else (job,):
            layout, verdicts = judge(hand)
            for one in verdicts:
                assert one.tip < CLOSE_MM, (seed, one)
                assert one.line < CLOSE_MM, (seed, one)
                compared += 1
                over = [str(remark) for remark in layout.remarks if f"{one.mark} hangs over" in str(remark)]
                assert not over or one.missed, (seed, one)
    assert compared >= 4


def corner(ods: tuple[int, int, int], *, through: bool = True, yb_on: tuple[str, ...] = ("POST", "XB")) -> Job:
    """A box corner, all at right angles: a post, a bar across it, a bar onto both."""
    tubes = tuple(Tube(name, F(od), F(2)) for name, od in zip("PXY", ods, strict=True))
    return Job(
        Settings(),
        tubes,
        (),
        (
            Member("POST", "P", points=points((0, 0, 0), (0, 0, 900 if through else 450))),
            Member("XB", "X", points=points((0, 0, 450), (700, 0, 450)), end_a=found("POST")),
            Member("YB", "Y", points=points((0, 0, 450), (0, 700, 450)), end_a=found(*yb_on)),
        ),
    )


@pytest.mark.judge
@pytest.mark.parametrize("ods", [(38, 38, 30), (38, 30, 30), (38, 38, 38)])
def test_a_box_corner(ods: tuple[int, int, int]) -> None:
    """A bar onto a post and another bar that ends on that post: the other bar is there no longer than it is."""
    layout, verdicts = judge(corner(ods))
    assert layout.faults == layout.remarks == ()
    assert [(one.mark, one.missed) for one in verdicts] == [("XB", 0), ("YB", 0)]
    assert all(one.tip < CLOSE_MM and one.line < CLOSE_MM for one in verdicts)


def test_a_box_corner_by_hand() -> None:
    """Where XB and POST are given by their angles, XB is assumed to end on POST, and YB is the same as by points."""
    square = [Saddle(Onto(F(38), "POST", "POST"), 90.0), Saddle(Onto(F(30), "XB", "XB"), 90.0, F(0), 90.0)]
    by_points = corner((38, 30, 30))
    by_hand = replace(
        by_points,
        members=(
            Member("POST", "P", length=F(900)),
            Member("XB", "X", length=F(700), end_a=End(Cut.COPE, saddles=(square[0],))),
            Member("YB", "Y", length=F(700), end_a=End(Cut.COPE, saddles=tuple(square))),
        ),
    )
    shown, placed = lay_out(by_hand).blanks[2], lay_out(by_points).blanks[2]
    turns = np.arange(0.0, 360.0, 5.0)
    lines = [end_line(shown.end_a, turns), end_line(placed.end_a, turns)]
    ways = [lines[1], lines[1][::-1], np.roll(lines[1], 36), np.roll(lines[1][::-1], 36), np.roll(lines[1][::-1], 37)]
    assert min(float(np.abs(lines[0] - way).max()) for way in ways) < 1e-6
    assert shown.length == placed.length


def test_what_hangs_over_and_what_is_in_the_way_is_reported_worst_first(as_worded: Worded) -> None:
    """On a post that ends at the node half of each bar hangs over; one bar runs into the other that it does not land
    on: XB, 19 round, where YB's own saddle on the post lies sqrt(19² - 15²) = 11.7 out: 7.3."""
    layout = lay_out(corner((38, 38, 30), through=False, yb_on=("POST",)))
    said = [str(remark) for remark in layout.remarks]
    assert [float(re.search(r"([\d.]+) mm", text)[1]) for text in said] == [19.0, 15.0, 7.3]
    as_worded(*said)


@pytest.mark.parametrize(("far", "over"), [("450", 19.0), ("460", 9.0), ("469", None)])
def test_where_a_tube_ends_may_be_given_by_hand(far: str, over: float | None, tmp_path) -> None:
    """``ends short`` is the same as points that end there: the saddle, and what hangs over."""
    beyond = int(far) - 450
    sheets = {
        "Job": [["setting", "value"]],
        "Tubes": [["tube", "od", "wall"], ["P", 38, 2]],
        "Stock": [["tube", "length"], ["P", 6000]],
        "Members": [
            ["mark", "tube", "length", "end a", "angle a", "onto a"],
            ["POST", "P", far, None, None, None],
            ["XB", "P", 700, "cope", 90, f"POST ends short {beyond}"],
        ],
    }
    for name, table in sheets.items():
        text = "\n".join(",".join("" if cell is None else str(cell) for cell in row) for row in table)
        (tmp_path / f"{name}.csv").write_text(text + "\n", encoding="utf-8")
    reading = read(tmp_path)
    assert reading.faults == ()
    shown = lay_out(reading.job)
    post = Member("POST", "P", points=points((0, 0, 0), (0, 0, int(far))))
    bar = Member("XB", "P", points=points((0, 0, 450), (700, 0, 450)), end_a=found("POST"))
    placed = lay_out(Job(Settings(), (Tube("P", F(38), F(2)),), (), (post, bar)))
    assert shown.blanks[1].length == placed.blanks[1].length
    said = [str(remark).split("hangs over the end of POST by ")[1].split(" mm")[0] for remark in shown.remarks]
    assert said == ([f"{over:g}"] if over else [])
    assert len(placed.remarks) == len(shown.remarks)


def test_a_pair_by_points_is_landed_on_by_either_hand() -> None:
    """``-L`` and ``-R`` of a member given by points are found, and by its own mark too."""
    post = Member("POST", "P", pair=True, points=points((0, 0, 0), (0, 0, 900)))
    tubes = (Tube("P", F(38), F(2)),)
    lengths = set()
    for name in ("POST", "POST-L", "POST-R"):
        end = End(Cut.COPE, saddles=(Saddle(Onto(F(38), name, "POST")),), from_points=True)
        bar = Member("XB", "P", points=points((0, 0, 450), (700, 0, 450)), end_a=end)
        layout = lay_out(Job(Settings(), tubes, (), (post, bar)))
        assert layout.faults == ()
        lengths.add(layout.blanks[-1].length)
    assert len(lengths) == 1


def test_many_misfits_are_few_lines(as_worded: Worded) -> None:
    """Eight are reported in full, the worst, and how many more there are."""
    post = Member("POST", "P", points=points((0, 0, 0), (0, 0, 450)))
    bars = [
        Member(
            f"B{k}",
            "Y",
            points=points((0, 0, 450), (round(500 * np.cos(k)), round(500 * np.sin(k)), 450)),
            end_a=found("POST"),
        )
        for k in range(12)
    ]
    tubes = (Tube("P", F(38), F(2)), Tube("Y", F(20), F(2)))
    remarks = [str(remark) for remark in lay_out(Job(Settings(), tubes, (), (post, *bars))).remarks]
    assert len(remarks) == 9
    as_worded(remarks[-1])
    assert Misfit(1.0, lay_out(corner((38, 38, 30), through=False)).remarks[0]).mm == 1.0


def off_by(gap: float, settings: Settings | None = None) -> Layout:
    """Two equal tubes whose axes pass each other at this distance."""
    tube = Tube("P", F(38), F(2))
    post = Member("POST", "P", points=points((0, 0, 0), (0, 0, 900)))
    bar = Member("XB", "P", points=points((0, F(gap), 450), (700, F(gap), 450)), end_a=found("POST"))
    return lay_out(Job(settings or Settings(), (tube,), (), (post, bar)))


@pytest.mark.parametrize("gap", [0.0, 1.0, 3.0])
def test_axes_that_nearly_meet_do(gap: float, as_worded: Worded) -> None:
    """Equal tubes by whole millimetres: up to the setting they are taken to meet, and it is said by how much."""
    layout = off_by(gap)
    assert layout.faults == ()
    assert layout.blanks[1].length == off_by(0.0).blanks[1].length
    assert len(layout.remarks) == bool(gap)
    if gap:
        as_worded(*layout.remarks)


def test_axes_further_apart_do_not(as_worded: Worded) -> None:
    """Beyond the setting it is a fault; with a wider setting it is not."""
    (fault,) = off_by(4.0).faults
    as_worded(fault)
    assert off_by(4.0, Settings(meet_within=F(4))).faults == ()


def test_a_true_offset_is_kept() -> None:
    """A narrower tube that lies on the wider one off its centre is cut there, and nothing is moved."""
    tubes = (Tube("P", F(45), F(2)), Tube("X", F(38), F(2)))
    post = Member("POST", "P", points=points((0, 0, 0), (0, 0, 900)))
    bar = Member("XB", "X", points=points((0, 2, 450), (700, 2, 450)), end_a=found("POST"))
    layout = lay_out(Job(Settings(), tubes, (), (post, bar)))
    assert layout.faults == layout.remarks == ()
    assert abs(float(layout.blanks[1].end_a.saddles[0].offset)) == 2.0


def said_beside(**end: object) -> str:
    """What is said of a bar at 60 degrees whose row says something beside its points ("": nothing)."""
    post = Member("POST", "S38", points=points((0, 0, 0), (0, 0, 900)))
    rise = Fraction(700) / Fraction(1.7320508075688772)
    made = replace(found("POST"), **end)
    bar = member("XB", points=points((0, 0, 450), (700, 0, 450 + rise)), end_a=made)
    return "; ".join(map(str, laid(post, bar).faults))


@pytest.mark.parametrize(
    ("end", "says"),
    [
        ({"angles_given": (60.0,)}, ""),
        ({"angles_given": (60.8,)}, ""),
        ({"angles_given": (63.0,)}, 'Members row 2, angle a: "63": by the points the angle to POST is 60 (correct it'),
        ({"offsets_given": (F(2),)}, ""),
        ({"offsets_given": (F(8),)}, 'Members row 2, offset a: "8 mm": by the points the axis of POST is 0 mm off'),
    ],
)
def test_what_a_row_says_beside_its_points_must_agree(end: dict, says: str) -> None:
    """A typed angle or offset is never ignored: it agrees with the points, or is a fault."""
    assert says in said_beside(**end)
    assert bool(said_beside(**end)) == bool(says)


HOOP = member("HOOP", "H45", points=points((0, 0, 0), (0, 0, 1000, 150), (1000, 0, 1000)))


@pytest.mark.parametrize(
    ("onto", "says"),
    [
        (Onto(F(45), "HOOP", "HOOP", F(150), 1, 45.0, 90.0, side_given=True), ""),
        (Onto(F(45), "HOOP", "HOOP", F(150), 1, 45.0, -90.0, side_given=True), ""),  # square on: either way is short
        (Onto(F(45), "HOOP", "HOOP", F(150), 1, 30.0), '"at 30": by the points this end lands 45 degrees along bend 1'),
        (Onto(F(45), "HOOP", "HOOP", F(150), 1, None, 0.0, side_given=True), '"side 0": by the points this end comes'),
    ],
)
def test_where_on_a_bend_a_row_says_it_lands_must_agree(onto: Onto, says: str) -> None:
    """The place along the bend and the side from which an end comes, beside its points."""
    inwards = 150 * (1 - np.sqrt(0.5))
    foot = (F(inwards), 0, F(850 + 150 * np.sqrt(0.5)))
    end = End(Cut.COPE, saddles=(Saddle(onto),), from_points=True)
    stay = member("S", points=points(foot, (foot[0], 600, foot[2])), end_a=end)
    faults = "; ".join(map(str, laid(HOOP, stay).faults))
    assert says in faults
    assert bool(faults) == bool(says)


def test_a_bend_named_where_the_points_lie_on_a_straight(as_worded: Worded) -> None:
    """Half a metre from the bend it is not the bend."""
    end = End(Cut.COPE, saddles=(Saddle(Onto(F(45), "HOOP", "HOOP", F(150), 1)),), from_points=True)
    stay = member("S", points=points((0, 0, 300), (0, 600, 300)), end_a=end)
    (fault,) = laid(HOOP, stay).faults
    as_worded(fault)


def test_a_mitre_takes_its_angle_from_points(as_worded: Worded) -> None:
    """Two ends at one node: each is half the corner, its short side inside; the turn to a cope at the other end too."""
    halves = End(Cut.MITRE, from_points=True)
    low = member("LOW", points=points((0, 0, 0), (600, 0, 0)), end_a=halves)
    up = member("UP", points=points((0, 0, 0), (300, 0, 519.6152422706632)), end_a=halves)
    layout = laid(low, up)
    assert layout.faults == ()
    assert [round(made.end_a.angle_deg, 6) for made in layout.blanks] == [60.0, 60.0]
    off = member("UP", points=points((1, 0, 1), (301, 0, 519.6152422706632 + 1)), end_a=halves)
    layout = laid(low, off)
    assert layout.faults == ()
    as_worded(*layout.remarks)
    (fault,) = laid(low, replace(up, end_a=End(Cut.MITRE, 50.0, angles_given=(50.0,)))).faults
    as_worded(fault)
    (fault,) = laid(low).faults
    as_worded(fault)


def test_a_turn_is_given_by_points(as_worded: Worded) -> None:
    """The short sides of a cope and a mitre: inside the corner, and towards where the tube landed on leans."""
    post = member("POST", points=points((0, 0, 0), (0, 0, 900)))
    halves = End(Cut.MITRE, from_points=True)
    # From the post upwards at 45 degrees, then on level across: by hand the corner's inside looks down, as the
    # cope's short side does not: there the post leans up, towards the bar.
    bar = member("BAR", points=points((0, 0, 300), (400, 0, 700)), end_a=found("POST"), end_b=halves)
    on = member("ON", points=points((400, 0, 700), (900, 0, 700)), end_a=halves)
    layout = laid(post, bar, on)
    assert layout.faults == ()
    made = layout.blanks[1]
    assert (made.end_a.angle_deg, made.end_b.angle_deg) == (pytest.approx(45.0), pytest.approx(22.5))
    assert abs(made.turn_deg) == pytest.approx(180.0)
    wrong = replace(bar, turn_deg=90.0, turn_given=True)
    (fault,) = laid(post, wrong, on).faults
    as_worded(fault)


@pytest.mark.parametrize("block", range(4))
def test_no_frame_in_whole_millimetres_ends_in_a_fault_of_ours(block: int) -> None:
    """Random frames, equal tubes among them, good and bad: every tube has its blank or is refused at its row, and the
    rough cuts are those of the blanks."""
    blanks = 0
    for seed in range(12 * block, 12 * block + 2):
        job = random_frame(seed)
        placed = [replace(one, place=Place("Members", row)) for row, one in enumerate(job.members, 2)]
        job = replace(job, members=tuple(placed))
        layout = lay_out(job)
        blanks += len(layout.blanks)
        cut, refused = {blank.member for blank in layout.blanks}, {fault.place.row for fault in layout.faults}
        for one in placed:
            assert (one.mark in cut) is not (one.place.row in refused), (seed, one.mark)
        assert {blank.mark for blank in rough_ends(job, layout.blanks)} <= {blank.mark for blank in layout.blanks}
    assert blanks > 15
