"""Bent tubes between nodes that are in doubt: the ± of the whole and of each straight, and every command takes them.

The judge is the layout itself, of exact nodes that are moved by a little: it shares nothing with the ± but the job.
"""

from __future__ import annotations

import json
import math
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
from cutplan.plan.length_doubt import gradients
from cutplan.plan.located import located

TUBES = "tube,od,wall,clr,stretch\nT,48.3,2.6,150,3\n"
STOCK = "tube,length,price\nT,8000,62\n"
ONE = {
    "Nodes": "name,x,y,z\nC,0,0,0\nD,0,-1041,0\nG,0,,> 0\n",
    "Distances": "from,to,distance\nC,G,1109\nD,G,1423\nC,D,1041\n",
    "Members": "mark,tube,from,via,to\nHOOP,T,C,G,D\n",
}
TWO = {
    "Nodes": "name,x,y,z\nC,0,0,0\nD,0,-1041,0\nG,0 +/- 4,-138 +/- 2,1100 +/- 3\nH,20,-899,1096 +/- 2\n",
    "Members": "mark,tube,from,via,to\nHOOP,T,C,G+H,D\n",
}
THREE = {
    "Nodes": "name,x,y,z\nC,0,0,0\nD,60,-1241,0\nG,0,-138,900 +/- 3\nH,20,-620 ± 5,1300\nK,30,-1100,880\n",
    "Members": "mark,tube,from,via,to\nHOOP,T,C,G+H+K,D\n",
}
MIRRORED = {
    "Job": "setting,value\nmirror,y=0\n",
    "Nodes": "name,x,y,z\nA,0,500,0\nG,,> 0,> 0\nB,1000,500,0\nM,900,0,700 ± 2\n",
    "Distances": "from,to,distance\nA,G,1105\nG,G-R,800\nA-R,G,1418\nB,G,1491\nB,G,1490\n",
    "Members": "mark,tube,pair,from,via,to\nHOOP,T,,A-L,G-L+G-R,A-R\nARM,T,yes,B,G,M\n",
}
JOBS = {"one bend": ONE, "two bends": TWO, "three bends": THREE, "a mirrored half": MIRRORED}


def written(folder: Path, sheets: dict[str, str]) -> Path:
    for name, text in ({"Job": "setting,value\nname,x\n", "Tubes": TUBES, "Stock": STOCK} | sheets).items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return folder


@pytest.mark.parametrize("sheets", JOBS.values(), ids=JOBS.keys())
def test_every_command_takes_a_bent_tube_between_nodes_in_doubt(tmp_path, sheets):
    """Nobody's frame can do without."""
    path = written(tmp_path, sheets)
    for command in ("lengths", "plan", "buy", "nodes"):
        result = CliRunner().invoke(main, [command, str(path)])
        assert result.exit_code == 0, (command, result.stderr)
        assert "HOOP" in result.stdout or command == "buy"
        if command == "plan":
            said = " ".join(result.stdout.split())
            measured_first = sheets in (TWO, MIRRORED)
            assert ("Measure first: HOOP" in said, "The nodes of HOOP" in said) == (measured_first,) * 2


@pytest.mark.parametrize("sheets", JOBS.values(), ids=JOBS.keys())
def test_the_doubt_of_a_bent_tube_is_what_moved_nodes_make_of_it(tmp_path, sheets):
    """Nodes moved at random as their covariance allows, laid out again: the blank and its straights change as the
    gradient foresees, and their ± is that of all such changes."""
    before = read(written(tmp_path, sheets)).job
    here = located(before)
    spread = here.found._spread
    values, vectors = np.linalg.eigh(spread)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    index = {place.name: number for number, place in enumerate(here.found.places)}
    mirror = before.settings.mirror

    def lengths(moves: np.ndarray) -> dict[str, list[float]]:
        nodes = []
        for node in here.job.nodes:
            step = moves[3 * index[node.base] :][:3].copy()
            if mirror is not None and node.is_image:
                step[mirror.axis.number] *= -1.0
            x, y, z = (Fraction(round(float(by) * 10**6), 10**6) for by in step)
            nodes.append(replace(node, x=node.x + x, y=node.y + y, z=node.z + z))
        members = tuple(
            replace(one, tolerance=Fraction(0), route=replace(one.route, doubts=())) for one in here.job.members
        )
        layout = lay_out(settled(replace(here.job, nodes=tuple(nodes), members=members)).job)
        assert not layout.faults
        found = {}
        for blank in layout.blanks:
            parts = [(part.what, part.length) for part in blank.parts]
            each = [
                sum(mm for what, mm in parts if what.startswith(f"straight {k}:"))
                for k in range(1, len(blank.bends) + 2)
            ]
            bent = sum(mm for what, mm in parts if what.startswith("bend "))
            found[blank.member] = [sum(each) + bent, *each]
        return found

    likely = lengths(np.zeros(len(spread)))
    dice = np.random.default_rng(7)
    # Together with each move the opposite one: what is left of the second order falls out.
    draws = [root @ dice.standard_normal(len(spread)) for _ in range(6)]
    off: dict[str, list[list[float]]] = {mark: [] for mark in likely}
    for draw in draws:
        one, other = lengths(draw * 1e-2), lengths(draw * -1e-2)
        for mark in likely:
            off[mark].append([50.0 * (a - b) for a, b in zip(one[mark], other[mark], strict=True)])
    for member in before.members:
        rows = gradients(member, member.route, here.found, before)
        marks = [mark for mark in likely if mark == member.mark or mark[:-2] == member.mark]
        for mark in marks:
            for number, row in enumerate(rows):
                foreseen = [sum(by * draw[key] for key, by in row.items()) for draw in draws]
                assert [each[number] for each in off[mark]] == pytest.approx(foreseen, abs=2e-3)
        (doubted,) = (one for one in here.job.members if one.mark == member.mark)
        for row, shown in zip(rows, (doubted.tolerance, *doubted.route.doubts), strict=True):
            full = np.array([row.get(key, 0.0) for key in range(len(spread))])
            assert 0.0 <= float(shown) - 2.0 * math.sqrt(full @ spread @ full) <= 0.1
        assert doubted.tolerance > 0


def test_a_short_straight_held_by_the_bender_keeps_the_room(tmp_path):
    """An end straight shorter than the grip is made as long as that, whatever the nodes come to; the ± of the rest
    stays."""
    held = written(
        tmp_path, TWO | {"Tubes": TUBES.replace("clr,stretch\nT,48.3,2.6,150,3", "clr,grip\nT,48.3,2.6,150,1300")}
    )
    result = CliRunner().invoke(main, ["lengths", str(held), "--member", "HOOP"])
    assert result.exit_code == 0, result.stderr
    assert "for the bender to grip" in result.stdout
    assert "its greatest length" in result.stdout


PORTAL = {
    "Tubes": "tube,od,wall\nT,48.3,2.6\nN,33.7,2.6\n",
    "Stock": "tube,length\nT,6000\nN,6000\n",
    "Members": "mark,tube,from,to\nPL,T,A,E\nTOP,T,E,F\nPR,T,B,F\nRAIL,N,E,P\n",
}


@pytest.mark.parametrize("doubt", ["1", "15"])
def test_a_narrow_tube_on_a_mitred_corner_in_doubt_is_planned(tmp_path, doubt):
    """A portal's top is mitred at both ends, and a narrow tube lands on one corner: the plan's own proof takes the
    corner as it is, and not the mitred ends of the other one with it."""
    nodes = "name,x,y,z\nA,1400.1,-22,0\nB,1393.1,-1022.7,0\nE,1348.9 ± {0},-173.5,799.8\nF,1340.7,-873.4,803.5\n"
    path = written(tmp_path, PORTAL | {"Nodes": nodes.format(doubt) + "P,-42.2,-69.2,549.4\n"})
    result = CliRunner().invoke(main, ["plan", str(path), "--json", "-"])
    assert result.exit_code == 0, result.stderr
    plan = json.loads(result.stdout)
    assert {member["mark"] for member in plan["members"]} == {"PL", "TOP", "PR", "RAIL"}
    assert plan["proven"]


def test_points_in_doubt_on_a_mitred_corner_are_planned(tmp_path):
    """The same by points, each with a ± of its own."""
    sheets = {name: text for name, text in PORTAL.items() if name != "Members"} | {
        "Members": "mark,tube,end a,end b,onto a\nPL,T,,mitre,\nTOP,T,mitre,mitre,\nPR,T,,mitre,\n"
        "RAIL,N,cope,,PL + TOP\n",
        "Points": "mark,x,y,z\n"
        "PL,1400.1,-22,0\nPL,1348.9 ± 1,-173.5,799.8\nTOP,1348.9 ± 1,-173.5,799.8\nTOP,1340.7,-873.4,803.5\n"
        "PR,1393.1,-1022.7,0\nPR,1340.7,-873.4,803.5\nRAIL,1348.9 ± 1,-173.5,799.8\nRAIL,-42.2,-69.2,549.4\n",
    }
    result = CliRunner().invoke(main, ["plan", str(written(tmp_path, sheets))])
    assert result.exit_code == 0, result.stderr
    assert "measure first" in result.stdout
