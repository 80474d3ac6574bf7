"""Pieces of a rack taken by a job: no two saw lists cut one piece, and nothing on the rack is lost or made of air."""

from __future__ import annotations

import csv
import random
from collections import Counter
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook
from wording import about

from cutplan.output.opened import read_saw_list

HEADINGS = "label,tube,length,count,taken by\n"
NAMES = ("Rack", "Gate")


def named(job: Path, name: str) -> Path:
    """The same job under another name."""
    other = job.parent / name
    other.mkdir()
    for table in job.iterdir():
        text = (
            table.read_text(encoding="utf-8").replace("name,Rack", f"name,{name}").replace(",1,rack,R1", ",0,rack,R1")
        )
        (other / table.name).write_text(text, encoding="utf-8")
    return other


def rows(path: Path) -> list[dict[str, str]]:
    """The rack's rows as they stand in the file, read without the program's own reader."""
    if path.suffix == ".csv":
        with path.open(encoding="utf-8", newline="") as file:
            return [row for row in csv.DictReader(file) if row["tube"]]
    headings, *lines = load_workbook(path).worksheets[0].iter_rows(values_only=True)
    reported = [
        {str(heading): "" if cell is None else str(cell) for heading, cell in zip(headings, line, strict=True)}
        for line in lines
    ]
    return [row for row in reported if row["tube"]]


def lying(path: Path) -> Counter[tuple[str, str]]:
    """How many lie there of each length and label, whoever has taken them."""
    counts: Counter[tuple[str, str]] = Counter()
    for row in rows(path):
        counts[row["length"], row["label"]] += int(row["count"] or 1)
    return counts


def taken(path: Path, name: str) -> Counter[tuple[str, str]]:
    """How many of each length and label this job has taken."""
    counts: Counter[tuple[str, str]] = Counter()
    for row in rows(path):
        if row.get("taken by") == name:
            counts[row["length"], row["label"]] += int(row["count"] or 1)
    return counts


def cut_from(saw: Path) -> Counter[tuple[str, str]]:
    """What of the rack a saw list cuts."""
    plan = read_saw_list(saw).plan
    bars = [bar for tube in plan.tubes for bar in tube.bars if bar.cuts and bar.source.value == "rack"]
    return Counter((f"{float(bar.length):g} mm", bar.label) for bar in bars)


@pytest.mark.parametrize(("seed", "kind"), [(seed, ("csv", "xlsx")[seed % 2]) for seed in range(6)])
def test_no_two_jobs_cut_one_piece(run, job, tmp_path, seed, kind):
    """Random racks, some pieces alike with and without a label; two jobs planned, one planned anew, both finished."""
    rng = random.Random(seed)
    lines = [HEADINGS.strip().split(",")]
    for label in ("A", "B", "C", "D", "", "E"):
        length = rng.choice((700, 1300, 1700, 1750, 2400)) if label else 1350
        lines.append([label, "T", f"{length} mm", rng.choice((1, 1, 2, 3)), ""])
    rack = tmp_path / f"lying.{kind}"
    if kind == "csv":
        with rack.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(lines)
    else:
        book = Workbook()
        for line in lines:
            book.worksheets[0].append([cell or None for cell in line])
        book.save(rack)
    before = lying(rack)
    jobs = {name: named(job, name) for name in NAMES}
    saws = {name: tmp_path / f"{name} list.xlsx" for name in jobs}
    for name in (*jobs, "Rack"):
        made = run("plan", jobs[name], "--rack", rack, "--output", saws[name], "--spares", rng.choice((0, 1, 2)))
        assert made.exit_code == 0, made.output
        assert lying(rack) == before
        assert cut_from(saws[name]) <= taken(rack, name)
        assert ("marked as taken" in made.stderr) == bool(taken(rack, name))
        assert taken(rack, "Rack") + taken(rack, "Gate") <= before
    used = cut_from(saws["Rack"]) + cut_from(saws["Gate"])
    assert used <= before
    for name, saw in saws.items():
        done = run("rack", "finish", saw, rack)
        assert done.exit_code == 0, done.output
        assert "no longer" not in done.stdout
        assert not taken(rack, name)
    back = lying(rack) - before
    assert lying(rack) == before - used + back
    ours = Counter(row["job"] for row in rows(rack) if row["job"])
    assert sum(ours.values()) == len([row for row in rows(rack) if row["job"] in jobs])


def test_a_taken_piece_is_left_alone_unless_told(run, job, tmp_path, as_worded):
    """The second job says what it leaves, uses it when asked to, and the mark goes over; the first then hears of it."""
    rack = tmp_path / "lying.csv"
    rack.write_text(HEADINGS + "A,T,2950 mm,1,\n", encoding="utf-8")
    first, second = named(job, "Rack"), named(job, "Gate")
    one, two = tmp_path / "one.xlsx", tmp_path / "two.xlsx"
    run("plan", first, "--rack", rack, "--output", one)
    assert taken(rack, "Rack") == {("2950 mm", "A"): 1}
    content = rack.read_bytes()
    left = run("plan", second, "--rack", rack, "--output", two)
    as_worded(about(left.stdout, "2950 mm"))
    assert not cut_from(two)
    assert rack.read_bytes() == content
    asked = run("buy", second, "--rack", rack, "--taken")
    as_worded(asked.stderr)
    reported = run("plan", second, "--rack", rack, "--taken", "--output", two, "--json", tmp_path / "two.json")
    assert "not used" not in reported.stdout
    assert cut_from(two) == {("2950 mm", "A"): 1}
    assert (taken(rack, "Rack"), taken(rack, "Gate")) == ({}, {("2950 mm", "A"): 1})
    assert run("check", tmp_path / "two.json", "--job", second, "--rack", rack).exit_code == 0
    shown = run("rack", "show", rack).stdout
    assert "taken by" in shown
    assert "Gate" in shown
    run("rack", "finish", two, rack)
    as_worded(run("rack", "finish", one, rack).stdout)


def test_what_is_not_written_takes_nothing(run, job, tmp_path):
    """A plan that is only looked at, or given as JSON, leaves the rack's file as it is."""
    rack = tmp_path / "lying.csv"
    rack.write_text(HEADINGS + "A,T,2950 mm,1,\n", encoding="utf-8")
    content = rack.read_bytes()
    run("plan", job, "--rack", rack, "--json", tmp_path / "plan.json")
    run("buy", job, "--rack", rack)
    assert rack.read_bytes() == content


def test_taken_without_a_rack_is_refused(run, job):
    """There is nothing it could be about."""
    result = run("plan", job, "--taken")
    assert result.exit_code == 2
    assert "--taken needs --rack" in result.stderr


def test_a_piece_taken_amid_the_search_stops_the_plan(run, job, tmp_path, monkeypatch):
    """Another job takes the piece between reading and writing: no saw list is written, and the message says why."""
    rack, saw = tmp_path / "lying.csv", tmp_path / "saw.xlsx"
    rack.write_text(HEADINGS + "A,T,2950 mm,1,\n", encoding="utf-8")
    from cutplan.output import rack_file

    change_rack = rack_file.change_rack

    def after_another(path, change):
        path.write_text(HEADINGS + "A,T,2950 mm,1,Gate\n", encoding="utf-8")
        change_rack(path, change)

    monkeypatch.setattr(rack_file, "change_rack", after_another)
    result = run("plan", job, "--rack", rack, "--output", saw)
    assert result.exit_code == 1
    assert "2950 mm of T was taken or cut since it was read" in result.stderr
    assert not saw.exists()


def test_a_rack_that_cannot_be_changed_is_planned_with_all_the_same(run, job, tmp_path, monkeypatch):
    """A remark says that nothing is marked, and the saw list is written."""
    rack, saw = tmp_path / "lying.csv", tmp_path / "saw.xlsx"
    rack.write_text(HEADINGS + "A,T,2950 mm,1,\n", encoding="utf-8")
    from cutplan.output import rack_file
    from cutplan.output.files import OutputError

    def refused(path, write):
        raise OutputError(path, "cannot be written", "close it")

    monkeypatch.setattr(rack_file, "write_beside", refused)
    result = run("plan", job, "--rack", rack, "--output", saw)
    assert result.exit_code == 0
    assert "nothing there is marked as taken by Rack" in result.stderr
    assert saw.exists()
