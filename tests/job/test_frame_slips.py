"""Guards what is said of the usual slips in a frame by nodes and tape readings: one fault, with its cure."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from cutplan.job import read

Table = list[list[object]]
MEMBERS = ["mark", "tube", "from", "via", "to", "length", "end a", "onto a", "pair"]
NODES: Table = [["A", 0, 0, 0], ["B", 0, 0, 900], ["C", 800, 0, 900], ["D", 800, 0, 0]]


def said(folder: Path, members: Table, nodes: Table = NODES, distances: Table = [], **job: object) -> list[str]:  # noqa: B006
    """All faults and remarks of a job of these rows."""
    sheets: dict[str, Table] = {
        "Job": [["setting", "value"], *([key, value] for key, value in job.items())],
        "Tubes": [["tube", "od", "wall", "clr"], ["T", 38, 2, 114]],
        "Stock": [["tube", "length"], ["T", 6000]],
        "Nodes": [["name", "x", "y", "z"], *nodes],
        "Members": [MEMBERS, *([*row, *[""] * (len(MEMBERS) - len(row))] for row in members)],
    }
    if distances:
        sheets["Distances"] = [["from", "to", "distance"], *distances]
    for name, table in sheets.items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(table)
    reading = read(folder)
    return [str(one) for one in (*reading.faults, *reading.remarks)]


@pytest.mark.parametrize("via", ["B,C", "B and C", "B C", "B / C"])
def test_nodes_on_the_way_are_joined_by_a_plus(tmp_path, via):
    """However else they are written."""
    assert said(tmp_path, [["HOOP", "T", "A", via, "D"]]) == [
        f'Members row 2, via: "{via}": names several nodes (join them by +: B + C)'
    ]


def test_a_length_between_nodes_and_a_mark_used_twice(tmp_path):
    """One fault each."""
    assert said(tmp_path, [["LEG", "T", "A", "", "B", 900]]) == [
        'Members row 2, length: "900": is given here and by nodes (clear it here: it comes from the nodes)'
    ]
    assert said(tmp_path, [["LEG", "T", "A", "", "B"], ["LEG", "T", "C", "", "D"]]) == [
        'Members row 3, mark: "LEG": is in row 2 already (give each member a mark of its own)'
    ]


def test_a_floor_is_a_plane(tmp_path):
    """By whatever word."""
    for word in ("floor", "Ground", "z"):
        (fault,) = said(tmp_path, [["LEG", "T", "A", "", "B", "", "", word]])
        assert "does not say where that plane is (for a foot flat on a floor at height 0 write z=0" in fault


def test_a_slope_is_a_plane_through_something(tmp_path):
    """By whatever word; a tube of such a name is a tube."""
    for word in ("slope 5", "sloping floor", "rising 5 along x"):
        (fault,) = said(tmp_path, [["LEG", "T", "A", "", "B", "", "", word]])
        assert "does not say where that plane is (for a slope write z=0 rising 5 along x (degrees)" in fault
    (fault,) = said(tmp_path, [["LEG", "T", "A", "", "B", "", "", "z=40 slope 5"]])
    assert '"z=40 slope 5": is not how a slope is written (write z=40 rising 5 along x)' in fault
    slope = ["SLOPE", "T", "C", "", "D"]
    assert said(tmp_path, [["LEG", "T", "A", "", "B", "", "cope", "slope"], slope]) == []


def test_a_mirror_makes_both_sides(tmp_path):
    """A mark that names one of them is refused, unless the row is for that one alone."""
    nodes: Table = [["A", 0, 300, 0], ["B", 900, 300, 0]]
    assert said(tmp_path, [["SILL-L", "T", "A", "", "B"]], nodes, mirror="y=0") == [
        'Members row 2, mark: "SILL-L": names one side, and the mirror makes both: SILL-L-L and SILL-L-R '
        "(call it SILL, and leave out the row of the other side)"
    ]
    alone = [["SILL-L", "T", "A", "", "B", "", "", "", "no"]]
    assert said(tmp_path, alone, nodes, mirror="y=0") == []


def test_without_nodes_there_is_one_fault(tmp_path):
    """Not one for each end of each member."""
    rows: Table = [["LEG", "T", "A", "", "B"], ["TOP", "T", "B", "", "C"]]
    assert said(tmp_path, rows, []) == [
        "Nodes: has no rows, and Members names nodes such as A (name the points of the frame there)"
    ]


def test_what_is_reported_of_a_coordinate(tmp_path):
    """At least, and more than itself, are no sides."""
    readings: Table = [["A", "B", 900], ["A", "C", 1204], ["B", "C", 800]]
    nodes: Table = [["A", 0, 0, 0], ["B", 0, 0, ">= 0"], ["C", "> C", 0, ""]]
    assert said(tmp_path, [["LEG", "T", "A", "", "B"]], nodes, readings) == [
        'Nodes row 3, z: ">= 0": must be > or < (write > 0)',
        'Nodes row 4, x: "> C": is the node itself (name another node, or a number: > 0)',
    ]


def test_readings_in_another_unit_are_remarked_on(tmp_path):
    """A frame as small as a hand; and one as large as a barn."""
    nodes: Table = [["A", 0, 0, 0], ["B", "> 0", 0, 0], ["C", "", 0, "> 0"]]
    inches: Table = [["A", "B", 55], ["A", "C", 40], ["B", "C", 38]]
    assert "Distances: the longest reading is only 55 mm; if the readings are inches, set units to in on Job" in said(
        tmp_path, [["LEG", "T", "A", "", "B"]], nodes, inches
    )
    large: Table = [["A", "B", 900], ["A", "C", 400], ["B", "C", 800]]
    assert "Distances: the longest reading is 900 in; if the readings are millimetres, set units to mm on Job" in said(
        tmp_path, [["LEG", "T", "A", "", "B"]], nodes, large, units="in", currency=""
    )


def test_a_node_that_nothing_is_given_by_is_named(tmp_path):
    """It is left over, or a tube was given another by mistake; one that a plate or a reading needs is neither."""
    legs: Table = [["LEG", "T", "A", "", "B"], ["TOP", "T", "B", "", "C"]]
    left = "Nodes: no tube runs to {}: left over, or a tube was given another node by mistake"
    assert said(tmp_path, legs) == [left.format("D")]
    spare: Table = [*NODES, ["E", 300, 0, 900]]
    assert said(tmp_path, legs, spare) == [left.format("D, E")]
    assert said(tmp_path, [*legs, ["PROP", "T", "C", "", "A"]]) == [left.format("D")]
    on_a_plate: Table = [*legs, ["PROP", "T", "C", "", "A", "", "", "plane through D"]]
    assert said(tmp_path, on_a_plate) == []
    half: Table = [[name, x, y - 300, z] for name, x, y, z in NODES]
    assert said(tmp_path, [["LEG", "T", "A", "", "B"], ["X", "T", "C-L", "", "C-R"]], half, mirror="y=0") == [
        left.format("D")
    ]
    read_from: Table = [["D", "B", 1204]]
    assert left.format("D") not in said(tmp_path, legs, distances=read_from)
