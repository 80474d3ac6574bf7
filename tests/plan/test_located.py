"""A frame from tape distances: from its sheets to members with their ±; what is missing or out is said as of a job."""

from __future__ import annotations

import csv
import math
import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from cutplan.cli.main import main
from cutplan.geometry import lay_out
from cutplan.geometry.nodes import settled
from cutplan.job import read
from cutplan.job.model import Units
from cutplan.plan import prepare, wording
from cutplan.plan.length_doubt import gradients
from cutplan.plan.located import located, surveyed
from cutplan.plan.tables.nodes import node_rows

TRUE = {
    "A": (0, 0, 0),
    "B": (1000, 0, 0),
    "C": (1000, 600, 0),
    "D": (0, 600, 0),
    "E": (150, 80, 800),
    "F": (850, 90, 790),
}
PAIRS = ["AE", "BE", "CE", "DE", "AF", "BF", "CF", "DF", "EF"]


def tape(start: str, end: str, off: float = 0.0) -> list[object]:
    """A row of Distances, exact to a thousandth of a millimetre but for what it is ``off``."""
    return [start, end, f"{math.dist(TRUE[start], TRUE[end]) + off:.3f}"]


def job(folder: Path, distances: list[list[object]], nodes: dict[str, str] | None = None, **settings: str) -> Path:
    """Four feet on the floor and two nodes above it, which are known by distances. ``nodes``: other x, y, z of one."""
    known = {name: ",".join(map(str, xyz)) for name, xyz in TRUE.items() if name in "ABCD"}
    known |= {"E": ",,> 0", "F": ",,about 700"} | (nodes or {})
    members = [("AB", "AB"), ("BC", "BC"), ("AE", "AE"), ("EF", "EF"), ("BF", "BF")]
    sheets: dict[str, list[list[object]]] = {
        "Job": [["setting", "value"], *([key, value] for key, value in settings.items())],
        "Tubes": [["tube", "od", "wall"], ["T", 30, 2]],
        "Stock": [["tube", "length"], ["T", 6000]],
        "Nodes": [["name", "x", "y", "z"], *([name, *xyz.split(",")] for name, xyz in known.items())],
        "Distances": [["from", "to", "distance"], *distances],
        "Members": [["mark", "tube", "from", "to"], *([mark, "T", *pair] for mark, pair in members)],
    }
    for name, table in sheets.items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(table)
    return folder


def said(path: Path) -> tuple[list[str], list[str]]:
    """Faults and remarks of the nodes."""
    found = surveyed(path)
    return [str(fault) for fault in found.faults], [str(remark) for remark in found.remarks]


def test_exact_distances_give_the_frame_back(tmp_path):
    """Every node to a thousandth of a millimetre; what is known has no ±, what is worked out has one."""
    prepared = prepare(job(tmp_path, [tape(*pair) for pair in PAIRS]))
    for node in prepared.job.nodes:
        assert [float(node.x), float(node.y), float(node.z)] == pytest.approx(TRUE[node.name], abs=1e-3)
    assert prepared.job.survey is None
    doubts = {member.mark: member.tolerance for member in prepared.job.members}
    assert (doubts["AB"], doubts["BC"]) == (0, 0)
    # The tape was laid along AE itself: it cannot be known worse than that one reading.
    assert all(0 < doubts[mark] <= Fraction(2) for mark in ("AE", "EF", "BF"))


def test_nothing_but_distances_is_needed_to_see_the_nodes(tmp_path):
    """People measure first: the same places without a tube, a bar or a member; sheets begun are said to be
    unfinished, and only faults of the nodes' own sheets are in the way."""
    whole = surveyed(job(tmp_path, [tape(*pair) for pair in PAIRS]))
    for name in ("Tubes", "Stock", "Members"):
        (tmp_path / f"{name}.csv").unlink()
    bare = surveyed(tmp_path)
    assert (bare.faults, bare.unfinished, bare.job.members) == ((), False, ())
    assert bare.job.nodes == whole.job.nodes
    (tmp_path / "Members.csv").write_text("mark,tube,from,to\nAB,T,A,B\nBX,T,B,X\n", encoding="utf-8")
    (tmp_path / "Tubes.csv").write_text("tube,od,wall\n", encoding="utf-8")
    result = CliRunner().invoke(main, ["nodes", str(tmp_path)])
    assert result.exit_code == 0
    assert "E  " in result.stdout
    assert "not finished yet: `cutplan lengths`" in result.stderr
    (tmp_path / "Distances.csv").write_text("from,to,distance\nA,Q,100\n", encoding="utf-8")
    result = CliRunner().invoke(main, ["nodes", str(tmp_path)])
    assert result.exit_code == 1
    assert '"Q": is not a node in Nodes' in result.stderr


def test_the_doubt_of_a_plate_is_that_of_its_tube_too(tmp_path):
    """By how much each coordinate of the nodes of a tube and of its plates changes its length: as much as the tube laid
    out with that node moved a little is longer."""
    members = "mark,tube,from,to,onto a,onto b\nLEG,T,A,E,plane A + C + D,plane D + F + E\nPOST,T,F,B,,z=5\n"
    job(tmp_path, [tape(*pair) for pair in PAIRS])
    (tmp_path / "Members.csv").write_text(members, encoding="utf-8")
    before = read(tmp_path).job
    here = located(before)

    def length(mark: str, moved: str, axis: str, by: Fraction) -> float:
        nodes = tuple(
            replace(node, **{axis: getattr(node, axis) + by}) if node.name == moved else node for node in here.job.nodes
        )
        blank = next(one for one in lay_out(settled(replace(here.job, nodes=nodes)).job).blanks if one.mark == mark)
        return sum(part.length for part in blank.parts if part.what.startswith("straight") or "plate" in part.what)

    places = [place.name for place in here.found.places]
    for member in before.members:
        row, *_ = gradients(member, member.route, here.found, before)
        for name in TRUE:
            for k, axis in enumerate("xyz"):
                step = Fraction(1, 100)
                wanted = (length(member.mark, name, axis, step) - length(member.mark, name, axis, -step)) / 0.02
                assert row.get(3 * places.index(name) + k, 0.0) == pytest.approx(wanted, abs=2e-3), (name, axis)


def test_a_poor_tape_makes_estimates(tmp_path):
    """The ± of nodes is that of the blanks between them: more than the setting sure, and they are measured first."""
    sure = prepare(job(tmp_path, [tape(*pair) for pair in PAIRS], tape="1"))
    assert not any(blank.estimated for blank in sure.blanks)
    poor = prepare(job(tmp_path, [tape(*pair) for pair in PAIRS], tape="20"))
    assert {blank.mark: blank.estimated for blank in poor.blanks} == dict.fromkeys(("AE", "EF", "BF"), True) | {
        "AB": False,
        "BC": False,
    }


def test_an_angle_that_a_tape_gave_is_shown_no_finer_than_a_tape_gives_it(tmp_path):
    """To a tenth of a degree; the same frame by coordinates, which are exact, to a hundredth."""
    taped = prepare(job(tmp_path, [tape(*pair) for pair in PAIRS])).blanks
    exact = prepare(job(tmp_path, [], {name: ",".join(map(str, xyz)) for name, xyz in TRUE.items()})).blanks
    shown = {}
    for name, blanks in (("taped", taped), ("exact", exact)):
        shown[name] = {blank.mark: wording.end(blank.end_b, Units.MM) for blank in blanks}
    assert shown["exact"] != shown["taped"]
    for mark, text in shown["taped"].items():
        assert not re.search(r"\.\d\d", text)
        fine = float(re.search(r"[\d.]+", shown["exact"][mark] + " 0")[0])
        assert float(re.search(r"[\d.]+", text + " 0")[0]) == pytest.approx(fine, abs=0.0501)


def test_a_slip_is_named_with_what_it_should_be(tmp_path):
    """With readings enough the one that is out is left out, and the frame is as it was."""
    far = [["E", "F", tape("E", "F")[2]], tape("E", "A"), tape("F", "B"), tape("E", "C"), tape("F", "D")]
    rows = [tape(*pair, off=25.0 if pair == "DE" else 0.0) for pair in PAIRS] + far
    faults, remarks = said(job(tmp_path, rows))
    assert faults == []
    true = math.dist(TRUE["D"], TRUE["E"])
    assert f"Distances row 5, distance: measure D to E again: the others make it {true:.1f} ±" in remarks[0]
    assert f"not {true + 25:.1f}; it was left out" in remarks[0]
    (node,) = (node for node in surveyed(tmp_path).job.nodes if node.name == "E")
    assert [float(node.x), float(node.y), float(node.z)] == pytest.approx(TRUE["E"], abs=1e-3)


def test_what_is_not_fixed_is_a_fault_with_the_reading_that_would_fix_it(tmp_path):
    """One distance too few, and it is said which would do; no frame is planned."""
    faults, _ = said(job(tmp_path, [tape(*pair) for pair in ("AE", "BE", "AF", "BF", "CF")]))
    assert len(faults) == 1
    assert '"E": is not fixed yet by what was measured (measure ' in faults[0]
    assert " to E" in faults[0] or "E to " in faults[0]
    result = CliRunner().invoke(main, ["nodes", str(tmp_path)])
    assert (result.exit_code, "open" in result.stdout) == (1, True)


def test_up_or_down_is_asked(tmp_path):
    """The mirror image of a node fits as well: which is meant must be said, and what is written is heeded."""
    rows = [tape(*pair) for pair in PAIRS]
    faults, _ = said(job(tmp_path, rows, {"E": ",,", "F": ",,"}))
    assert any("fits the distances equally well at z -" in fault for fault in faults)
    assert any("under z write < 0 for the first, > 0 for the second" in fault for fault in faults)
    faults, _ = said(job(tmp_path, rows, {"E": ",,> 0", "F": ",,> A"}))
    assert faults == []
    down = surveyed(job(tmp_path, rows, {"E": ",,< 0", "F": ",,about -700"}))
    assert [round(float(node.z)) for node in down.job.nodes][4:] == [-800, -790]


HALF = {"A": (0, 420, 0), "B": (1200, 430, 0), "C": (60, 330, 820), "D": (1150, 380, 410), "N": (1480, 0, 400)}
HALF |= {
    "E": (26, 345, 345),
    "G": (700, 7, 300),
    "P": (0, 0, 0),
    "Q": (1300, 0, 0),
    "K": (25, 382, 345),
    "H": (752, 191, 373),
}
FIXED = "A to A-R, B to B-R, A to B, A to B-R, A to C, C to C-R, C to B, C to B-R, D to B, D to A, D to C, D to D-R, "
FIXED += "D to A-R, N to A, N to B, N to C, N to D"


def half(folder: Path, pairs: str, nodes: str) -> Path:
    """A job of one half of a frame, mirrored in y=0, with exact readings."""
    rows: list[list[object]] = []
    for start, end in (pair.split(" to ") for pair in pairs.split(", ")):
        x, y, z = HALF[end[0]]
        rows.append([start, end, f"{math.dist(HALF[start], (x, -y if end.endswith('-R') else y, z)):.3f}"])
    job(folder, rows, mirror="y=0")
    (folder / "Nodes.csv").write_text("name,x,y,z\n" + "\n".join(nodes.split("; ")) + "\n", encoding="utf-8")
    (folder / "Members.csv").write_text("mark,tube,from,to\nTIE,T,N,A\n", encoding="utf-8")
    return folder


def test_nodes_that_change_sides_together_are_asked_of_once(tmp_path):
    """Which half was measured, which way is up and to the front: three questions in one go, each of one node, and one
    answer to each is enough. Two places too near each other to be told by their side are written roughly."""
    assert said(half(tmp_path, FIXED, "A,0,,0; B,,,0; C,,,; D,,,; N,,0,"))[0] == [
        'Nodes row 4, z: "C": fits the distances equally well at z -820 and at z 820; D, N change sides with it (say '
        "which, of C alone: under z write < 0 for the first, > 0 for the second)",
        'Nodes row 6, x: "N": fits the distances equally well at x -1480 and at x 1480; B, C, D change sides with it '
        "(say which, of N alone: under x write < 0 for the first, > 0 for the second)",
        'Nodes row 3, y: "B": fits the distances equally well at y -430 and at y 430; A, C, D change sides with it '
        "(say which half you measured, by B alone: under y write < 0 for the first, > 0 for the second)",
    ]
    assert said(half(tmp_path, FIXED, "A,0,,0; B,> 0,> 0,0; C,,,> 0; D,,,; N,,0,"))[0] == []
    near, known = "G to P, G to Q, G to N, G to G-R", "P,0,0,0; Q,1300,0,0; N,1480,0,400; A,0,420,0"
    (asked,) = said(half(tmp_path, near, f"{known}; G,,,> 0"))[0]
    assert asked.endswith("(say which half you measured, by G alone: under y write about -7, or about 7)")
    assert said(half(tmp_path, near, f"{known}; G,,about 7,> 0"))[0] == []


def test_a_node_that_is_poorly_fixed_is_named_with_what_would_fix_it(tmp_path):
    """On the straight between two others, measured to them and to what is in one plane with them, it may be well off
    sideways; what is advised, across the mirror, cures that."""
    nodes, pairs = (
        "A,0,,0; B,> 0,> 0,0; C,,,> 0; D,,,; N,,0,; E,,about 345,",
        f"{FIXED}, E to A, E to B, E to C, E to D",
    )
    (remark,) = (one for one in said(half(tmp_path, pairs, nodes))[1] if "poorly" in one)
    assert remark.startswith("Nodes row 7: poorly fixed by what was measured: E (± ")
    assert remark.endswith(" in y); to fix it better, measure also E to E-R")
    assert not any("poorly" in one for one in said(half(tmp_path, f"{pairs}, E to E-R", nodes))[1])
    result = CliRunner().invoke(main, ["nodes", str(tmp_path)])
    assert any(line.startswith("E to E-R") and line.endswith("hardly checked") for line in result.stdout.splitlines())


def test_the_doubt_of_a_node_that_was_moved_is_that_of_the_place_it_was_moved_to(tmp_path):
    """Against the scatter of random frames as the readings allow them, each node moved by plain vectors: across the
    tube it is known as the tube is, be that one moved itself; nothing is known worse for it."""
    pairs = f"{FIXED}, K to A, K to B, K to C, K to D, K to K-R, H to A, H to B, H to C, H to D, H to N"
    half(tmp_path, pairs, "A,0,,0; B,> 0,> 0,0; C,,,> 0; D,,,; N,,0,; K,,,; H,,,")
    (tmp_path / "Members.csv").write_text("mark,tube,from,to\nLEG,T,A,C\nTIE,T,K,N\nSTUB,T,H,B\n", encoding="utf-8")
    found = surveyed(tmp_path)
    assert (found.faults, sorted(found.moved)) == ((), ["H-L", "K-L"])
    survey = found.located.found
    at = {place.name: 3 * number for number, place in enumerate(survey.places)}
    means = np.array([place.xyz for place in survey.places]).ravel()
    drawn = np.random.default_rng(3).multivariate_normal(means, survey._spread, 4000, check_valid="ignore")

    def spots(name):
        return drawn[:, at[name] : at[name] + 3]

    def onto(point, one, other):
        way = other - one
        along = np.sum((point - one) * way, axis=1) / np.sum(way * way, axis=1)
        return one + along[:, None] * way

    moved = {"K-L": onto(spots("K"), spots("A"), spots("C"))}
    moved["H-L"] = onto(spots("H"), moved["K-L"], spots("N"))
    for name, places in moved.items():
        assert np.array(found.moved[name]) == pytest.approx(2.0 * places.std(axis=0), rel=0.05, abs=0.02)
        assert all(
            now <= before + 0.2 for now, before in zip(found.moved[name], survey.place(name[0]).doubts, strict=True)
        )
    rows = {
        row.name: (row.x_doubt, row.y_doubt, row.z_doubt) for row in node_rows(found.job, found.located, found.moved)
    }
    assert rows["K-L"] == rows["K-R"] == found.moved["K-L"] != survey.place("K").doubts
    assert rows["B-L"] == survey.place("B").doubts


def test_a_wrong_sign_and_a_rough_place_on_the_other_side_are_said_with_their_cure(tmp_path):
    """A minus too many, where nothing else is wrong; what is only roughly written, or cannot be read at all."""
    rows = [tape(*pair) for pair in [*PAIRS, "AB", "BC", "CD", "AC", "BD"]]
    faults, _ = said(job(tmp_path, rows, {"D": "0,-600,0"}))
    assert faults == [
        "Nodes row 4, y: all readings agree if one of these has the other sign, and do not as it is: y of C 600, "
        "y of D -600 (correct the one that is on the other side)"
    ]
    faults, _ = said(job(tmp_path, rows, {"F": ",,about -800"}))
    assert faults == [
        'Nodes row 7, z: "about -800": the distances, with what is written of the other nodes, put F at z 790 (check '
        "its sign, what is written of the others, and its distances)"
    ]
    _, remarks = said(job(tmp_path, rows, {"F": ",,about 1200"}))
    assert "Nodes row 7, z: about 1200 was written, but the distances" in remarks[0]
    reading = read(job(tmp_path, rows, {"F": ",,up"}))
    assert any('"up": is not a length (write how far it is, about 800' in str(fault) for fault in reading.faults)


def test_the_command_shows_nodes_and_readings(tmp_path):
    """Each node with its ± and tubes, each reading against the others."""
    result = CliRunner().invoke(main, ["nodes", str(job(tmp_path, [tape(*pair) for pair in PAIRS]))])
    assert result.exit_code == 0
    lines = result.stdout.splitlines()
    assert any(line.startswith("A        0.0") and line.endswith("AB, AE") for line in lines)
    assert any(line.split()[:4] == ["A", "to", "E", "817.9"] for line in lines)
    assert "9 readings, 3 more than needed." in result.stdout


@pytest.mark.parametrize(
    ("distances", "nodes", "says"),
    [
        ([["A", "E", "0"]], {}, 'Distances row 2, distance: "0": must be more than 0'),
        ([["A", "X", "700"]], {}, 'Distances row 2, to: "X": is not a node in Nodes'),
        ([["A", "A", "700"]], {}, 'Distances row 2, to: "A": is the node it is measured from (name the other node)'),
        ([tape("A", "E")], {"E": ",,> Q"}, 'Nodes row 6, z: "Q": is not a node in Nodes'),
        ([tape("A", "E")], {"E": "abt 4,,"}, 'Nodes row 6, x: "abt 4"'),
        ([], {"E": ",1,2"}, "Nodes row 6, x: must be filled in"),
        (
            [],
            {"E": "about 3,1,2"},
            'Nodes row 6, x: "about 3": does not fix the coordinate, and there are no Distances',
        ),
    ],
)
def test_what_cannot_be_read_is_a_fault(tmp_path, distances, nodes, says):
    """Sheet, row, column, the value and the rule."""
    path = job(tmp_path, distances, {"E": "1,1,1", "F": "2,2,9"} | nodes)
    if not distances:
        (path / "Distances.csv").unlink()
    assert any(str(fault).startswith(says) for fault in read(path).faults), read(path).faults
