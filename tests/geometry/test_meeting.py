"""Members by nodes: what runs through a node, what lands there and how, halves in a mirror; against solids, and the
same frame seen in another mirror."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from frame_judge import judge_frame
from node_judge import mirrored

from cutplan.geometry import Layout, end_line, lay_out
from cutplan.geometry.nodes import Settled, settled
from cutplan.job import read
from cutplan.job.model import Cut, Hand, Job, Member

EXAMPLE = Path(__file__).parents[2] / "examples" / "dune-frame"
CLOSE_MM = 0.05
MEMBERS = [
    "mark",
    "tube",
    "from",
    "via",
    "to",
    "past a",
    "past b",
    "rank",
    "pair",
    "end a",
    "onto a",
    "end b",
    "onto b",
]
TUBES = [["tube", "od", "wall", "clr"], ["big", 45, 2, 150], ["mid", 38, 2, 114], ["low", 30, 2, 90]]


def frame(
    folder: Path, nodes: str, members: list[dict[str, object]], job: dict[str, str] | None = None, **more: list
) -> Job:
    """A job of these nodes (``A 0 0 0; B ...``) and members, which must read without a fault."""
    sheets = {
        "Job": [["setting", "value"], *([key, value] for key, value in (job or {}).items())],
        "Tubes": TUBES,
        "Stock": [["tube", "length"], *([row[0], 6000] for row in TUBES[1:])],
        "Nodes": [["name", "x", "y", "z"], *(each.split() for each in nodes.split(";"))],
        "Members": [MEMBERS, *([each.get(heading, "") for heading in MEMBERS] for each in members)],
        **more,
    }
    for name, table in sheets.items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(table)
    reading = read(folder)
    assert [str(fault) for fault in reading.faults] == []
    assert reading.job is not None
    return reading.job


def tube(mark: str, size: str, start: str, stop: str, **more: object) -> dict[str, object]:
    """A row of Members; ``past_a`` for the heading *past a*, and so on."""
    return {"mark": mark, "tube": size, "from": start, "to": stop} | {
        heading.replace("_", " "): value for heading, value in more.items()
    }


def lands(found: Settled) -> dict[str, str]:
    """What each end that is not square lands on: ``{"STAY a": "POST + SILL"}``."""
    assert [str(fault) for fault in found.faults] == []
    return {
        f"{member.mark} {name}": " + ".join(one.onto.name for one in end.saddles) or end.cut.value
        for member in found.job.members
        for name, end in (("a", member.end_a), ("b", member.end_b))
        if end.cut is not Cut.SQUARE
    }


def by_mark(job: Job, mark: str) -> Member:
    return next(member for member in job.members if member.mark == mark)


def test_the_frame_of_the_manual(tmp_path):
    """Two of a size that end together are mitred; a stay lands on what runs through, and on a corner's first."""
    nodes = "A 0 0 0; B 900 0 0; C 0 0 600; D 450 0 0"
    rows = [tube("POST", "mid", "A", "C"), tube("SILL", "mid", "A", "B"), tube("STAY", "low", "C", "D")]
    found = settled(frame(tmp_path, nodes, rows))
    assert lands(found) == {"POST a": "mitre", "SILL a": "mitre", "STAY a": "POST", "STAY b": "SILL"}
    layout = lay_out(found.job)
    assert layout.faults == ()
    assert [round(blank.end_a.angle_deg, 6) for blank in layout.blanks[:2]] == [45.0, 45.0]


@pytest.mark.parametrize(
    ("more", "through"),
    [
        ({}, "WIDE"),
        ({"NARROW": {"rank": 1}}, "NARROW"),
        ({"LONG": {"rank": -1}, "WIDE": {"rank": -2}}, "SHORT"),
    ],
)
def test_who_goes_first_at_a_node(tmp_path, more, through):
    """The higher rank, then the wider, the longer: all others land on it."""
    nodes = "O 0 0 0; X 800 0 0; Y 0 600 0; Z 0 0 700; W -300 -300 -400"
    rows = [
        tube("SHORT", "mid", "O", "Y"),
        tube("LONG", "mid", "O", "Z"),
        tube("WIDE", "big", "O", "X"),
        tube("NARROW", "low", "O", "W"),
    ]
    rows = [row | more.get(str(row["mark"]), {}) for row in rows]
    found = lands(settled(frame(tmp_path, nodes, rows)))
    assert f"{through} a" not in found
    assert all(onto.split(" + ")[0] == through for onto in found.values())
    assert len(found) == 3


def test_what_is_cut_as_its_row_says_gives_no_way(tmp_path):
    """Two longer ones would be mitred; a short one that its row cuts square stays as it is, and they land on it."""
    rows = [tube("LONG", "mid", "O", "Z"), tube("NEXT", "mid", "O", "X"), tube("SHORT", "mid", "O", "Y")]
    nodes = "O 0 0 0; X 650 0 0; Y 0 600 0; Z 0 0 700"
    (tmp_path / "free").mkdir()
    free = lands(settled(frame(tmp_path / "free", nodes, rows)))
    assert free == {"LONG a": "mitre", "NEXT a": "mitre", "SHORT a": "LONG + NEXT"}
    rows[2]["end a"] = "square"
    assert lands(settled(frame(tmp_path, nodes, rows))) == {"LONG a": "SHORT", "NEXT a": "SHORT + LONG"}


def test_past_runs_through_and_what_is_bent_goes_first(tmp_path):
    """A tube that runs on past its node is landed on there; of two alike that end, the bent one."""
    nodes = "A 0 0 0; B 700 0 0; C 700 500 0; D 0 0 600; E 700 0 600"
    rows = [
        tube("POST", "mid", "B", "E", past_a=20),
        tube("BENT", "mid", "A", "C", via="B"),
        tube("LEG", "mid", "A", "D"),
        tube("SIDE", "mid", "A", "E"),
    ]
    ends = lands(settled(frame(tmp_path, nodes, rows)))
    assert "POST a" not in ends
    assert (ends["BENT a"], ends["SIDE a"], ends["LEG a"]) == ("mitre", "mitre", "BENT + SIDE")


def test_a_node_beside_an_axis(tmp_path):
    """Within the tolerance it is moved there and said; further off it is an offset; too far for a saddle, a fault."""
    rows = [tube("RAIL", "big", "A", "B"), tube("STAY", "low", "N", "C")]
    nodes = "A 0 0 0; B 1000 0 0; N 400 {} 0; C 400 300 500"
    alone = "Members: cut square, as no other tube is at the node: RAIL at A, RAIL at B, STAY at C"
    near = settled(frame(tmp_path, nodes.format(2), rows))
    assert [str(remark) for remark in near.remarks] == [
        "Nodes row 4, name: N is 2 mm off the axis of RAIL and was moved onto it",
        alone,
    ]
    assert [(point.x, point.y) for point in by_mark(near.job, "STAY").points[:1]] == [(400, 0)]
    assert [(node.name, node.x, node.y) for node in near.job.nodes if node.name != "C"] == [
        ("A", 0, 0),
        ("B", 1000, 0),
        ("N", 400, 0),
    ]
    straight = [tube("RAIL", "big", "A", "B"), tube("STAY", "low", "N", "C")]
    off = settled(frame(tmp_path, nodes.format(6).replace("C 400 300 500", "C 400 6 500"), straight))
    assert [str(remark) for remark in off.remarks] == [
        "Members row 3, from: STAY lands on RAIL 6 mm off its centre, as the node N is that far from its axis",
        alone,
    ]
    assert abs(float(lay_out(off.job).blanks[1].end_a.saddles[0].offset)) == pytest.approx(6.0)
    (fault,) = settled(frame(tmp_path, nodes.format(20), rows)).faults
    assert "ends at N, 20 mm beside the axis of RAIL: too far off centre for a saddle" in str(fault)
    assert "x 400, y 0, z 0" in str(fault)


def test_a_node_inside_a_tube_that_nothing_there_can_land_on_is_a_fault(tmp_path):
    """Two ends at it would only be fitted to each other, and both cut through the tube."""
    nodes = "A 0 0 0; B 1000 0 0; N 400 {} 0; C 400 300 500; D 100 300 500"
    rows = [tube("RAIL", "mid", "A", "B"), tube("STAY", "mid", "N", "C"), tube("TIE", "mid", "N", "D")]
    (fault,) = settled(frame(tmp_path, nodes.format(10), rows)).faults
    assert "ends at N, 10 mm beside the axis of RAIL: too far off centre for a saddle (measure N again, " in str(fault)
    assert settled(frame(tmp_path, nodes.format(60), rows)).faults == ()


def test_an_end_where_no_other_tube_is_is_remarked_on(tmp_path):
    """Of which nothing is said; not of an end that is written as square, that stands on a plane, or lands."""
    rows = [
        tube("RAIL", "big", "A", "B", end_a="square"),
        tube("STAY", "low", "N", "C", onto_b="z=500"),
        tube("TIE", "low", "N", "D"),
    ]
    found = settled(frame(tmp_path, "A 0 0 0; B 1000 0 0; N 400 0 0; C 400 300 500; D 400 -200 90", rows))
    said = [str(remark) for remark in found.remarks if "no other tube" in str(remark)]
    assert said == ["Members: cut square, as no other tube is at the node: RAIL at B, TIE at D"]


def test_a_foot_that_leans_is_told_of_the_floor(tmp_path):
    """Of what leans up from the lowest nodes, with nothing said of its end; not of a post, nor higher up."""
    rows = [
        tube("STAY", "low", "B", "A"),
        tube("POST", "low", "C", "A"),
        tube("TIE", "low", "A", "D"),
        tube("LEG", "low", "E", "A", onto_a="z=40"),
    ]
    found = settled(frame(tmp_path, "A 0 0 800; B 400 0 40; C 0 0 40; D 0 300 500; E 0 500 40", rows))
    assert [str(remark) for remark in found.remarks if "floor" in str(remark)] == [
        "Members: for feet that stand flat on the floor, write z=40 under onto a of STAY: it leans, and is cut square "
        "so far"
    ]


def test_mitres_that_nothing_asked_for_are_remarked_on(tmp_path):
    """Each corner once, with its angle and with what chooses otherwise: an eye of two tubes is seldom meant to be
    mitred. Nothing of two in one line, of one that is written, of other ranks."""
    nodes = "A 0 0 0; B 0 500 0; C 300 250 0; D -40 250 0; F 0 900 0"
    eye = [tube("ONE", "mid", "A", "B", via="D"), tube("TWO", "mid", "A", "B", via="C")]
    said = [str(one) for one in settled(frame(tmp_path, nodes, eye)).remarks if "mitred" in str(one)]
    assert said == [
        "Members: mitred, as two of one size end there and nothing runs through: TWO a with ONE a (60.4°), TWO b with "
        "ONE b (60.4°); a higher rank of one makes the other land on it"
    ]
    line = [tube("ONE", "mid", "A", "B", end_a="square"), tube("ON", "mid", "B", "F", end_b="square")]
    corner = [tube("UP", "mid", "A", "C", end_a="mitre", end_b="square")]
    assert settled(frame(tmp_path, nodes, [*line, *corner])).remarks == ()
    ranked = settled(frame(tmp_path, nodes, [eye[0] | {"rank": 1}, eye[1]]))
    assert not any("mitred" in str(one) for one in ranked.remarks)
    half = [tube("RAIL", "mid", "A", "B"), tube("TOP", "mid", "B-L", "B-R")]
    mirrored = settled(frame(tmp_path, "A 0 300 0; B 900 300 0", half, {"mirror": "y=0"}))
    (remark,) = (str(one) for one in mirrored.remarks if "mitred" in str(one))
    assert ": RAIL-L b with TOP a (45°); a higher" in remark


def test_a_bent_tube_that_is_cut_flat_first_is_told_to_be_left_long(tmp_path):
    """Once, with both its ends; not of a straight one, and not of an end that is left long."""
    nodes = "A 0 0 0; G 60 0 700; H 540 0 700; B 600 0 0; C 900 0 0; D 900 200 500"
    rows = [tube("HOOP", "mid", "A", "B", via="G + H", onto_a="z=0", onto_b="z=0"), tube("LEG", "mid", "C", "D")]
    said = [str(one) for one in settled(frame(tmp_path, nodes, [*rows[:1], rows[1] | {"onto a": "z=0"}])).remarks]
    (remark,) = (one for one in said if "bent" in one)
    assert remark.startswith("Members: cut flat before the tube is bent: HOOP a, HOOP b; a bend is seldom true")
    assert "(z=-20 in place of z=0)" in remark
    rows[0] |= {"onto a": "z=-20", "onto b": "z=-1"}
    (remark,) = (str(one) for one in settled(frame(tmp_path, nodes, rows)).remarks if "bent" in str(one))
    assert remark.startswith("Members: cut flat before the tube is bent: HOOP b; ")


def test_corners_in_the_wrong_order_take_a_tube_through_itself(tmp_path):
    """Both legs of a hoop cross; in the right order, or as a ring whose ends meet, it is sound."""
    nodes = "A 0 0 0; G 0 0 900; H 800 0 900; B 800 0 0"
    assert lay_out(frame(tmp_path, nodes, [tube("HOOP", "mid", "A", "B", via="G + H")])).faults == ()
    (fault,) = lay_out(frame(tmp_path, nodes, [tube("HOOP", "mid", "A", "B", via="H + G")])).faults
    assert str(fault) == (
        'Members row 2, via: "H + G": takes the tube through itself at x 400, y 0, z 450 '
        "(check the order of its corners, and where they are)"
    )
    ring = "A 400 0 0; F 0 0 0; G 0 0 900; H 800 0 900; K 800 0 0; B 403 0 0"
    layout = lay_out(frame(tmp_path, ring, [tube("RING", "mid", "A", "B", via="F + G + H + K")], {"meet within": "1"}))
    assert layout.faults == ()


def test_an_end_at_the_corner_of_a_bend_is_in_the_air(tmp_path):
    """At 114 (1 / cos 45 - 1) = 47.2 from the axis; said once for both sides of a mirror, as a collision is."""
    nodes = "A 0 300 0; G 0 300 900; C 700 300 0; D 0 100 600; E 0 500 600"
    rows = [
        tube("HOOP", "mid", "A-L", "A-R", via="G-L + G-R"),
        tube("STAY", "low", "G", "C"),
        tube("BAR", "low", "D", "E", end_a="square", end_b="square"),
    ]
    job = frame(tmp_path, nodes, rows, {"mirror": "y=0", "meet within": "1"})
    said = [str(remark) for remark in settled(job).remarks]
    assert [text for text in said if "in the air" in text] == [
        "Members row 3: STAY-L ends at G-L, a corner of HOOP, which is in the air, 47.2 mm off the axis of its bend: "
        "to land on the bend, give that place a node of its own (next to G-L on the axis: x 0, y 267, z 867)"
    ]


def test_a_mirror_is_for_one_half(tmp_path):
    """Nodes measured on both of its sides are faults, of the side that has fewer."""
    rows = [tube("RAIL", "big", "A", "B"), tube("X", "low", "B", "C")]
    found = settled(frame(tmp_path, "A 0 300 0; B 900 300 0; C 900 -300 0", rows, {"mirror": "y=0"}))
    assert [str(fault) for fault in found.faults] == [
        'Nodes row 4, name: "C": is on the other side of the mirror from A, B '
        "(measure one half only: the other is its mirror image)"
    ]


def test_a_plane_beyond_the_other_end_is_refused(tmp_path):
    """Square to the tube and aslant, straight and bent."""
    nodes = "A 0 0 0; B 0 0 900; C 500 0 900; D 300 200 900"
    for row in (
        tube("LEG", "mid", "A", "B", onto_a="z=2000"),
        tube("LEG", "mid", "A", "D", onto_a="z=2000"),
        tube("LEG", "mid", "A", "C", via="B", onto_a="z=2000"),
    ):
        (fault,) = lay_out(frame(tmp_path, nodes, [row])).faults
        beyond = "its first bend" if "via" in row else "its other end"
        assert f"end a cannot be cut by its plane, which is beyond {beyond}" in str(fault)


def test_what_cannot_be_is_reported_with_its_cure(tmp_path):
    """Two names for one place, and a tube along another."""
    rows = [tube("RAIL", "mid", "A", "B"), tube("STAY", "mid", "A", "C")]
    (fault,) = settled(frame(tmp_path, "A 0 0 0; B 1000 0 0; C 900 60 0", rows)).faults
    assert "runs along RAIL at A, 3.8 degrees from it: too flat for a saddle" in str(fault)
    (fault,) = settled(frame(tmp_path, "A 0 0 0; B 1000 0 0; C 2 1 0", rows)).faults
    assert '"C": is 2.2 mm from A in row 2, so tubes would not meet there (use one name for both)' in str(fault)


def test_a_foot_on_a_plate(tmp_path):
    """Flat on the floor: the angle off square, the length up to the plate, square where it stands upright."""
    rows = [tube("LEAN", "mid", "A", "B", onto_a="z=0"), tube("POST", "mid", "C", "B", onto_a="z=-5")]
    found = settled(frame(tmp_path, "A 0 0 30; C 300 0 10; B 300 0 430", rows))
    layout = lay_out(found.job)
    assert layout.faults == ()
    lean, post = layout.blanks
    assert lean.end_a.angle_deg == pytest.approx(np.degrees(np.arctan2(300, 400)))
    assert post.end_a.cut is Cut.SQUARE
    # By hand: from B along the axis to the plate, 430 up over the cosine, and at the plate half a diameter times tan.
    tip = sum(part.length for part in lean.parts if part.what.startswith(("straight", "end a")))
    assert tip == pytest.approx(430 * 5 / 4 + 19 * 3 / 4)


NODES = "A 0 200 0; B 600 260 20; C 620 220 500; D 40 180 420; M 300 0 650; F 0 0 0"
HALF = [
    tube("RAIL", "mid", "A", "B", past_a=20, past_b=20),
    tube("POST", "mid", "B", "C", past_b=25),
    tube("TOP", "mid", "D", "C", past_a=20),
    tube("UP", "low", "A", "D"),
    tube("ROOF", "low", "C", "M"),
    tube("DIAG", "low", "B", "D"),
    tube("XA", "low", "A-L", "A-R"),
    tube("XC", "low", "C-L", "C-R"),
    tube("ONE", "low", "A-L", "B-R"),
]


def test_half_a_frame_against_solids(tmp_path):
    """A small frame, mirrored: every coped end, all other tubes of its node cut away; a right one is its left one's
    mirror image."""
    found = settled(frame(tmp_path, NODES, HALF, {"mirror": "y=0"}))
    layout = lay_out(found.job)
    assert layout.faults == ()
    assert len(layout.blanks) == 15
    verdicts = list(judge_frame(found.job, layout, facets=180))
    assert len(verdicts) == 13
    for one in verdicts:
        assert max(one.tip, one.line) < CLOSE_MM, one


def test_the_other_half_is_the_mirror_image(tmp_path):
    """Left and right blanks, turn by turn; and the same as if the right side were worked out by itself."""
    job = settled(frame(tmp_path, NODES, HALF, {"mirror": "y=0"})).job
    layout = lay_out(job)
    alone = lay_out(replace(job, members=tuple(replace(member, mirror_of="") for member in job.members)))
    blanks = {blank.mark: blank for blank in layout.blanks}
    itself = {blank.mark: blank for blank in alone.blanks}
    turns = np.arange(0.0, 360.0, 7.0)
    images = [member for member in job.members if member.mirror_of]
    assert {member.mirror_of for member in images} >= {"RAIL-L", "POST-L", "TOP-L", "UP-L", "DIAG-L"}
    for member in images:
        left, right, anew = blanks[member.mirror_of], blanks[member.mark], itself[member.mark]
        assert (left.length, left.hand, right.hand) == (right.length, Hand.LEFT.value, Hand.RIGHT.value)
        assert right.length == anew.length
        for mine, theirs, own in (
            (left.end_a, right.end_a, anew.end_a),
            (left.end_b, right.end_b, anew.end_b),
        ):
            assert np.abs(end_line(mine, turns) - end_line(theirs, -turns)).max() < 1e-9
            ways = [end_line(own, turns), end_line(own, turns + 180.0)]  # square on, either side is the short one
            assert min(float(np.abs(end_line(theirs, turns) - way).max()) for way in ways) < 1e-4


def test_the_image_lands_on_the_other_side_of_a_pair_that_differs(tmp_path):
    """SLANT-L and SLANT-R meet in the plane, where one lands on the other; a stay on each is still its own side's."""
    nodes = "A 0 0 0; B 0 0 1700; C 600 300 300; D 0 0 1500; E 300 150 900; F 300 700 800"
    rows = [
        tube("MAST", "big", "A", "B", past_b=20),
        tube("SLANT", "mid", "D", "C"),
        tube("STAY", "low", "E", "F"),
    ]
    found = settled(frame(tmp_path, nodes, rows, {"mirror": "y=0"}))
    onto = lands(found)
    assert onto["SLANT-R a"] == "MAST + SLANT-L"
    assert (onto["STAY-L a"], onto["STAY-R a"]) == ("SLANT-L", "SLANT-R")
    assert by_mark(found.job, "STAY-R").mirror_of == "STAY-L"


def test_two_that_land_beside_an_axis_are_not_mitred(tmp_path):
    """A wide tube 5 beside the node that two narrow ones of one size end at runs through there: both land on it."""
    nodes = "A 0 0 0; B 0 0 900; C 0 5 450; D 400 5 700; E 400 5 200"
    rows = [tube("POST", "big", "A", "B"), tube("UP", "low", "C", "D"), tube("DOWN", "low", "C", "E")]
    found = settled(frame(tmp_path, nodes, rows))
    assert lands(found) == {"UP a": "POST", "DOWN a": "POST + UP"}


def test_half_a_frame_and_the_whole_of_it_by_points(tmp_path):
    """The frame as it is settled, seen in a mirror across another plane, has the same blanks."""
    job = settled(frame(tmp_path, NODES, HALF, {"mirror": "y=0"})).job
    plain = replace(job, members=tuple(replace(member, mirror_of="") for member in job.members))
    here, there = lay_out(plain), lay_out(mirrored(plain))
    assert [(blank.mark, blank.length) for blank in here.blanks] == [
        (blank.mark, blank.length) for blank in there.blanks
    ]


def test_a_member_by_points_joins_in(tmp_path):
    """Points and nodes in one job; an end by nodes lands on a tube by points, and a pair of those is mirrored."""
    points = [["mark", "x", "y", "z"], ["OLD", 0, 150, 0], ["OLD", 800, 150, 0]]
    rows = [
        tube("NEW", "low", "P", "Q"),
        {"mark": "OLD", "tube": "mid", "pair": "yes"},
        tube("ON", "low", "S-R", "T-R", pair="no", end_a="cope", onto_a="OLD-R"),
    ]
    job = frame(
        tmp_path, "P 300 150 0; Q 300 150 400; S 500 150 0; T 500 150 400", rows, {"mirror": "y=0"}, Points=points
    )
    found = settled(job)
    assert lands(found) == {"NEW-L a": "OLD-L", "NEW-R a": "OLD-R", "ON a": "OLD-R"}
    assert [point.y for point in by_mark(found.job, "OLD-R").points] == [-150, -150]


def test_settling_again_changes_nothing(tmp_path):
    """A job that is worked out is taken as it is, so that a saw list may carry it."""
    job = settled(frame(tmp_path, NODES, HALF, {"mirror": "y=0"})).job
    assert settled(job).job is job


@pytest.fixture(scope="module")
def dune() -> tuple[Job, Layout]:
    """The space frame of the examples."""
    job = read(EXAMPLE).job
    assert job is not None
    found = settled(job)
    assert found.faults == ()
    return found.job, lay_out(found.job)


def test_the_space_frame_of_the_examples(dune):
    """65 tubes and 18 nodes where they meet, most of them five tubes and more; no fault, no collision, nothing over an
    end, and not one angle in its tables."""
    job, layout = dune
    assert (layout.faults, layout.remarks) == ((), ())
    assert sum(blank.count for blank in layout.blanks) == 65
    met = {node.name: 0 for node in job.nodes}
    for member in job.members:
        if member.route is not None:
            for name in member.route.nodes:
                met[name] += 1
    joints = {name: tubes for name, tubes in met.items() if not name.startswith(("T", "U"))}
    assert len(joints) == 18
    assert sum(tubes >= 5 for tubes in joints.values()) >= 14
    with (EXAMPLE / "Members.csv").open(encoding="utf-8") as file:
        by_nodes = [row for row in csv.DictReader(file) if row["from"]]
    assert not any(row[heading] for row in by_nodes for heading in ("angle a", "angle b", "onto a", "onto b"))
