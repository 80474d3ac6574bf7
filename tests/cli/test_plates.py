"""A frame whose feet stand on sloping plates, by command: planned, checked, spoilt, planned again, changed."""

from __future__ import annotations

import csv
from pathlib import Path

from saw_lists import tick

TABLES: dict[str, list[list[object]]] = {
    "Job": [["setting", "value"], ["mirror", "y=0"]],
    "Tubes": [["tube", "od", "wall"], ["T", 38, 2]],
    "Stock": [["tube", "length"], ["T", 6000]],
    "Nodes": [
        ["name", "x", "y", "z"],
        ["P", 0, 100, 0],
        ["Q", 600, 120, 60],
        ["S", 100, 500, -40],
        ["A", 80, 220, 20],
        ["B", 150, 180, 700],
        ["C", 700, 150, 680],
        ["D", 500, 300, 0],
    ],
    "Members": [
        ["mark", "tube", "from", "to", "past b", "onto a"],
        ["LEG", "T", "A", "B", 40, "plane P + Q + S"],
        ["TOP", "T", "B", "C", 20, ""],
        ["FOOT", "T", "D", "C", "", "plane through A rising 5 along x"],
    ],
}


def write(folder: Path, tables: dict[str, list[list[object]]]) -> None:
    """The job's tables as a folder."""
    folder.mkdir(exist_ok=True)
    for name, table in tables.items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(table)


def test_a_saw_list_with_feet_on_slopes_holds_and_is_planned_again(tmp_path: Path, run) -> None:
    """The plates travel with the plan: a saw list is proven from its own data and from the job, a spoilt leg is cut
    again to the same plate, and a plate that was measured anew is reported in lengths and angles."""
    job, first, second = tmp_path / "job", tmp_path / "a.xlsx", tmp_path / "b.xlsx"
    write(job, TABLES)
    planned = run("plan", job, "--output", first)
    assert planned.exit_code == 0
    assert "mitre 15.79 onto its plate" in planned.stdout
    assert run("check", first, "--job", job).exit_code == 0
    tick(first, "done", "LEG-L")
    tick(first, "spoilt", "LEG-R")
    assert run("recut", first, "--output", second).exit_code == 0
    assert run("check", second, "--job", job).exit_code == 0
    slope = [[*row[:-1], str(row[-1]).replace("rising 5", "rising 6")] for row in TABLES["Members"]]
    write(job, {"Members": slope})
    changed = run("recut", second, "--job", job, "--output", tmp_path / "c.xlsx")
    assert changed.exit_code == 0
    assert "FOOT-R: was 671.5 mm, is now 663 mm; end a was mitre 24.36 onto its plate, is now mitre 25.23" in (
        changed.stdout
    )
