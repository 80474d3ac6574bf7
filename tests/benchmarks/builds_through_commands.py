"""Whole builds at the command line, through written workbooks: changes of mind and mistakes until all is cut.

Run by hand: python tests/benchmarks/builds_through_commands.py [BUILDS [FIRST_SEED]]
Each build plans a small frame, some of it estimates that land on what is known, on a bend of the hoop and on two tubes
at once among them; ticks its list at random (done, fitted, spoilt), measures, changes the job as a person does
(measured again, added, dropped, renamed, made by someone else, another kerf, other bars for sale), and goes on with
``recut --job``. Every list must pass ``check`` against the job, hold each member once, cut nothing before its stage,
name as to be measured what is estimated and nothing else, and give no length for that; nothing is bought before a mind
changes beyond what was planned; and what is left at the end goes on a rack. Prints each build.
"""

from __future__ import annotations

import csv
import random
import sys
import tempfile
from collections import Counter
from pathlib import Path

from click.testing import CliRunner, Result
from openpyxl import load_workbook

from cutplan.api import read_job
from cutplan.cli.main import main as command
from cutplan.output.opened import read_saw_list
from cutplan.plan import Plan

Rows = dict[str, list[str]]


def run(*arguments: object) -> Result:
    """The command, in this process."""
    return CliRunner().invoke(command, [str(argument) for argument in arguments])


def write(folder: Path, members: Rows, kerf: float, prices: tuple[int, ...] = (40, 23)) -> None:
    """The job's tables."""
    tables = {
        "Job": [["setting", "value"], ["name", "Build"], ["kerf", kerf], ["end trim", 5], ["spares", 1]],
        "Tubes": [["tube", "od", "wall", "clr"], ["T", 40, 2, 120]],
        "Stock": [
            ["tube", "length", "price"],
            *(["T", length, p] for p, length in zip(prices, (6000, 3000), strict=False)),
        ],
        "Members": [["mark", "tube", "qty", "length", "end a", "angle a", "onto a", "made"], *members.values()],
        "Bends": [["mark", "straight", "to", "angle"], ["M0", 500, "tangent", 90], ["M0", 400, "tangent", ""]],
    }
    folder.mkdir(exist_ok=True)
    for name, rows in tables.items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(rows)


def tick(path: Path, dice: random.Random) -> int:
    """Tick a list as a build goes on: how many mistakes."""
    book = load_workbook(path)
    rows = list(book["Saw list"].iter_rows())
    headings = [str(cell.value) for cell in next(row for row in rows if row[0].value == "cut")]
    spoilt = 0
    for row in rows:
        # What must be measured first cannot be ticked.
        if isinstance(row[0].value, int) and not str(row[headings.index("blank (mm)")].value).startswith("measure"):
            luck = dice.random()
            word = "done" if luck < 0.3 else "fitted" if luck < 0.45 else "spoilt" if luck < 0.5 else ""
            spoilt += word == "spoilt"
            if word:
                row[headings.index(word)].value = "x"
    book.save(path)
    return spoilt


LANDINGS = (
    ["cope", "60", "M0"],
    ["cope", "60 ± 4", "M0"],
    ["cope", "62 ± 4", "M0 bend 1 at 40 ± 5 side 80 to 100"],
    ["cope", "75 + 60 ± 3", "M0 + M1 at 90 ± 3"],
)


def settled(cell: str, dice: random.Random) -> str:
    """A cell with each ± measured, at the ends of its range or inside."""

    def one(text: str) -> str:
        if "±" in text:
            likely, doubt = (int(part) for part in text.split("±"))
            return str(likely + dice.choice([-doubt, dice.randint(-doubt, doubt), doubt]))
        return text.strip()

    return " + ".join(one(text) for text in cell.split("+"))


def in_order(plan: Plan, told: str) -> None:
    """Nothing is cut before its stage, and to be measured is what is estimated and can be, and nothing else."""
    blanks = plan.by_mark()
    cuts = sorted((cut.number, cut.mark) for tube in plan.tubes for bar in tube.bars for cut in bar.cuts)
    stages = [blanks[mark].stage for _, mark in cuts]
    assert stages == sorted(stages), stages
    for line in told.splitlines():
        if line.startswith("Stage ") and "first measure" in line:
            said = line.split("first measure ")[1].rstrip(".")
            for text in said.split("; "):
                if " against " in text:
                    assert all(blanks[mark].estimated for mark in text.split(" against ")[0].split(", ")), line


def held(plan: Plan) -> Counter[str]:
    """What a list holds, cut or to be cut, by mark."""
    cuts = Counter(cut.mark for tube in plan.tubes for bar in tube.bars for cut in bar.cuts)
    return cuts + Counter(made.blank.mark for made in plan.made)


def build(seed: int, folder: Path) -> str:
    """One build to its end, in words; raises AssertionError where something is wrong."""
    dice = random.Random(seed)
    members: Rows = {}
    members["M0"] = ["M0", "T", "1", "", "", "", "", ""]
    for number in range(1, dice.randint(3, 7)):
        ends = dice.choice([["", "", ""], ["mitre", "45", ""]])
        length = str(dice.randint(200, 1500))
        if dice.random() < 0.5:
            length = f"{length} ± 40"
            ends = dice.choice(LANDINGS[: 3 if number == 1 else 4])
        members[f"M{number}"] = [f"M{number}", "T", str(dice.randint(1, 2)), length, *ends, ""]
    prices = (40, 23)
    kerf, job, path = 2.0, folder / "job", folder / "list.xlsx"
    write(job, members, kerf)
    planned = run("plan", job, "--output", path)
    assert planned.exit_code == 0, planned.output
    in_order(read_saw_list(path).plan, planned.output)
    lists = mistakes = changes = measured = 0
    while True:
        lists += 1
        assert lists < 40
        mistakes += tick(path, dice)
        mark = dice.choice([*members])
        what = dice.random()
        waiting = [one for one, row in members.items() if "±" in row[3]]
        if waiting and dice.random() < 0.5:
            mark = waiting[0]
            row = members[mark]
            row[3], row[5] = settled(row[3], dice), settled(row[5], dice)
            onto = row[6].replace("40 ± 5 side 80 to 100", f"{dice.randint(35, 45)} side {dice.choice([80, 95, 100])}")
            row[6] = onto.replace("90 ± 3", str(dice.choice([87, 90, 93])))
            measured += 1
            what = 1.0
        elif what < 0.3 and members[mark][3] and "±" not in members[mark][3]:
            members[mark][3] = str(int(members[mark][3]) + dice.randint(-30, 30))
        elif what < 0.4:
            new = f"N{lists}"
            members[new] = [new, "T", "1", str(dice.randint(200, 900)), "", "", "", ""]
        elif what < 0.5 and len(members) > 3 and mark not in ("M0", "M1"):
            del members[mark]
        elif what < 0.55 and mark not in ("M0", "M1"):
            members[f"R{mark}"] = [f"R{mark}", *members.pop(mark)[1:]]
        elif what < 0.6 and mark not in ("M0", "M1"):
            members[mark][7] = "yes"
        elif what < 0.65:
            kerf = 3.0
        elif what < 0.7:
            prices = dice.choice([(44, 23), (40,)])
        changes += what < 0.7
        write(job, members, kerf, prices)
        after = folder / f"list {lists + 1}.xlsx"
        result = run("recut", path, "--job", job, "--output", after)
        if result.exit_code == 2 and "nothing is ticked" in result.output:
            continue
        if changes == 0 and mistakes == 0:
            assert "To buy:" not in result.output, result.output
        assert result.exit_code == 0, result.output
        if not after.exists():
            assert "Everything is cut" in result.output
            rack = run("rack", "finish", path, folder / "rack.csv")
            assert rack.exit_code == 0, rack.output
            return f"build {seed}: {lists} lists, {measured} measured, {changes} changes, {mistakes} mistakes: holds"
        checked = run("check", after, "--job", job)
        assert checked.exit_code == 0, checked.output
        wanted = Counter({blank.mark: blank.count for blank in read_job(job).blanks})
        plan = read_saw_list(after).plan
        assert held(plan) == wanted
        in_order(plan, result.output)
        stands = run("next", after)
        assert stands.exit_code == 0, stands.output
        path = after


def main() -> None:
    """The builds asked for."""
    count, first = (int(text) for text in (*sys.argv[1:3], *("10", "1")[len(sys.argv[1:3]) :]))
    for seed in range(first, first + count):
        with tempfile.TemporaryDirectory() as folder:
            print(build(seed, Path(folder)), flush=True)


if __name__ == "__main__":
    main()
