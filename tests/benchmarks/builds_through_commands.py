"""Whole builds at the command line, through written workbooks: changes of mind and mistakes until all is cut.

Run by hand: python tests/benchmarks/builds_through_commands.py [BUILDS [FIRST_SEED]]
Each build plans a small frame, some of it estimates that land on what is known; ticks its list at random (done, fitted,
spoilt), measures, changes the job as a person does (measured again, added, dropped, another kerf), and goes on with
``recut --job``. Every list must pass ``check`` against the job, hold each member once, and give no length for what is
not measured; and nothing is bought before a mind changes beyond what was planned. Prints each build.
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


def write(folder: Path, members: Rows, kerf: float) -> None:
    """The job's tables."""
    tables = {
        "Job": [["setting", "value"], ["name", "Build"], ["kerf", kerf], ["end trim", 5], ["spares", 1]],
        "Tubes": [["tube", "od", "wall"], ["T", 40, 2]],
        "Stock": [["tube", "length", "price"], ["T", 6000, 40], ["T", 3000, 23]],
        "Members": [["mark", "tube", "qty", "length", "end a", "angle a", "onto a"], *members.values()],
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


def held(plan: Plan) -> Counter[str]:
    """What a list holds, cut or to be cut, by mark."""
    cuts = Counter(cut.mark for tube in plan.tubes for bar in tube.bars for cut in bar.cuts)
    return cuts + Counter(made.blank.mark for made in plan.made)


def build(seed: int, folder: Path) -> str:
    """One build to its end, in words; raises AssertionError where something is wrong."""
    dice = random.Random(seed)
    members: Rows = {}
    for number in range(dice.randint(3, 7)):
        ends = dice.choice([["", "", ""], ["mitre", "45", ""]])
        length = str(dice.randint(200, 1500))
        if number and dice.random() < 0.4:
            length, ends = f"{length} ± 40", ["cope", "60", "M0"]
        members[f"M{number}"] = [f"M{number}", "T", str(dice.randint(1, 2)), length, *ends]
    kerf, job, path = 2.0, folder / "job", folder / "list.xlsx"
    write(job, members, kerf)
    assert run("plan", job, "--output", path).exit_code == 0
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
            members[mark][3] = str(int(members[mark][3].split()[0]) + dice.choice([-40, dice.randint(-40, 40), 40]))
            measured += 1
            what = 1.0
        elif what < 0.4 and "±" not in members[mark][3]:
            members[mark][3] = str(int(members[mark][3]) + dice.randint(-30, 30))
        elif what < 0.5:
            new = f"N{lists}"
            members[new] = [new, "T", "1", str(dice.randint(200, 900)), "", "", ""]
        elif what < 0.6 and len(members) > 2 and mark != "M0":
            del members[mark]
        elif what < 0.65:
            kerf = 3.0
        changes += what < 0.65
        write(job, members, kerf)
        after = folder / f"list {lists + 1}.xlsx"
        result = run("recut", path, "--job", job, "--output", after)
        if result.exit_code == 2 and "nothing is ticked" in result.output:
            continue
        if changes == 0 and mistakes == 0:
            assert "To buy:" not in result.output, result.output
        assert result.exit_code == 0, result.output
        if not after.exists():
            assert "Everything is cut" in result.output
            return f"build {seed}: {lists} lists, {measured} measured, {changes} changes, {mistakes} mistakes: holds"
        checked = run("check", after, "--job", job)
        assert checked.exit_code == 0, checked.output
        wanted = Counter({blank.mark: blank.count for blank in read_job(job).blanks})
        assert held(read_saw_list(after).plan) == wanted
        assert run("next", after).exit_code == 0
        path = after


def main() -> None:
    """The builds asked for."""
    count, first = (int(text) for text in (*sys.argv[1:3], *("10", "1")[len(sys.argv[1:3]) :]))
    for seed in range(first, first + count):
        with tempfile.TemporaryDirectory() as folder:
            print(build(seed, Path(folder)), flush=True)


if __name__ == "__main__":
    main()
