"""The table of nodes: where each is once it is moved onto a tube, and every tube that it is on."""

from __future__ import annotations

from pathlib import Path

from cutplan.plan.located import surveyed
from cutplan.plan.tables.nodes import node_rows

SHEETS = {
    "Job": "setting,value\n",
    "Nodes": "name,x,y,z\nA,0,0,0\nB,1000,0,0\nN,400,2,0\nC,400,300,500\nD,0,700,0\n",
    "Members": "mark,tube,from,to\nRAIL,T,A,B\nSTAY,T,N,C\nPOST,T,C,D\n",
    "Tubes": "tube,od,wall\nT,40,2\n",
    "Stock": "tube,length\nT,6000\n",
}


def test_a_node_names_the_tubes_that_end_there_and_those_that_pass(tmp_path: Path) -> None:
    """RAIL passes N, 2 mm beside it: the node is on it, and is named with it; at C two tubes end, at D one."""
    for name, text in SHEETS.items():
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
    found = surveyed(tmp_path)
    rows = {row.name: row for row in node_rows(found.job, found.located)}
    met = {name: set(row.meeting.split(", ")) for name, row in rows.items()}
    assert met == {"A": {"RAIL"}, "B": {"RAIL"}, "N": {"RAIL", "STAY"}, "C": {"STAY", "POST"}, "D": {"POST"}}
    assert (rows["N"].x, rows["N"].y, rows["N"].z) == (400.0, 0.0, 0.0)
    assert (rows["C"].x, rows["C"].y, rows["C"].z) == (400.0, 300.0, 500.0)
