"""Random frames by points through every command: lengths, buy, plan, check, wrap, and recut after recut.

Run by hand: python tests/benchmarks/frames_through_commands.py [FRAMES [FIRST_SEED]]
Members with faults are taken out until the rest can be planned, as a person would mend them. Then lists are ticked at
random (done, spoilt, or both), and planned again, up to four times. Prints how each command ended, and every exit
code 4 and every list that does not hold.
"""

import csv
import random
import re
import sys
import tempfile
from collections import Counter
from pathlib import Path

from click.testing import CliRunner, Result
from openpyxl import load_workbook

from cutplan.cli.main import main as command
from cutplan.job.model import Job

sys.path.insert(0, str(Path(__file__).parents[1] / "geometry"))
from frames import random_frame

Table = list[list[object]]


def run(*arguments: object) -> Result:
    """The command, in this process."""
    return CliRunner().invoke(command, [str(argument) for argument in arguments])


def write(folder: Path, name: str, rows: Table) -> None:
    """One table of a job."""
    with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)


def tables(job: Job, dice: random.Random) -> dict[str, Table]:
    """The frame as a person's tables, with stock and settings."""
    members: Table = [["mark", "tube", "end a", "onto a", "end b", "onto b"]]
    points: Table = [["mark", "x", "y", "z", "radius"]]
    for member in job.members:
        row: list[object] = [member.mark, member.tube]
        for end in (member.end_a, member.end_b):
            row += [end.cut.value, " + ".join(one.onto.member or "" for one in end.saddles)]
        members.append(row)
        for point in member.points:
            xyz = (float(point.x), float(point.y), float(point.z))
            points.append([member.mark, *xyz, float(point.radius) if point.radius else None])
    names = [tube.name for tube in job.tubes]
    return {
        "Job": [
            ["setting", "value"],
            ["spares", dice.randint(0, 2)],
            ["end trim", 5],
            ["fitted", dice.choice(["after all cuts", "one at a time"])],
        ],
        "Tubes": [
            ["tube", "od", "wall", "clr"],
            *([tube.name, float(tube.od), float(tube.wall), float(tube.clr or 0)] for tube in job.tubes),
        ],
        "Stock": [
            ["tube", "length", "price", "available", "from"],
            *([name, 6000, 50, None, "buy"] for name in names),
            [names[0], 1800, None, 2, "rack"],
        ],
        "Members": members,
        "Points": points,
    }


def without(tables: dict[str, Table], shown: str) -> None:
    """Take out the members that the faults name, and landing on them."""
    members = tables["Members"]
    gone = {members[int(row) - 1][0] for row in re.findall(r"Members row (\d+)", shown)}
    tables["Members"] = [members[0], *(row for row in members[1:] if row[0] not in gone)]
    tables["Points"] = [row for row in tables["Points"] if row[0] not in gone]
    for row in tables["Members"][1:]:
        for at in (2, 4):
            left = [mark for mark in str(row[at + 1] or "").split(" + ") if mark and mark not in gone]
            row[at : at + 2] = ["cope" if left else "square", " + ".join(left)]


def tick(path: Path, dice: random.Random) -> None:
    """Tick a list at random."""
    book = load_workbook(path)
    sheet = book["Saw list"]
    rows = list(sheet.iter_rows())
    headings = next(row for row in rows if row[0].value == "cut")
    at = {str(cell.value).split(" (")[0]: cell.column for cell in headings}
    for row in rows:
        if isinstance(row[0].value, int):
            luck = dice.random()
            if luck < 0.45:
                sheet.cell(row[0].row, at["done"]).value = "x"
            if 0.4 < luck < 0.55:
                sheet.cell(row[0].row, at["spoilt"]).value = "x"
    book.save(path)


def main() -> None:
    """Count."""
    frames = int(sys.argv[1]) if len(sys.argv) > 1 else 25
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    ended: Counter[tuple[str, int]] = Counter()
    wrong = 0

    def look(seed: int, must_hold: bool, *arguments: object) -> Result:
        nonlocal wrong
        result = run(*arguments)
        ended[str(arguments[0]), result.exit_code] += 1
        if result.exit_code == 4 or (must_hold and result.exit_code):
            wrong += 1
            print(f"  frame {seed}, {arguments[0]}: {(result.stderr + result.stdout)[-300:]}", flush=True)
        return result

    for seed in range(first, first + frames):
        dice = random.Random(seed)
        with tempfile.TemporaryDirectory() as where:
            folder, made = Path(where, "job"), Path(where, "list.xlsx")
            folder.mkdir()
            given = tables(random_frame(seed, 10), dice)
            for _ in range(8):
                for name, rows in given.items():
                    write(folder, name, rows)
                result = look(seed, False, "plan", folder, "--output", made)
                if result.exit_code != 1:
                    break
                without(given, result.stderr)
            if result.exit_code:
                continue
            look(seed, True, "check", made, "--job", folder)
            look(seed, True, "wrap", folder, "--output", Path(where, "wraps.pdf"))
            look(seed, True, "lengths", folder)
            look(seed, True, "buy", folder, "--spares", 1)
            for step in range(4):
                tick(made, dice)
                again = Path(where, f"list {step}.xlsx")
                asked = ["--spares", dice.randint(0, 2)] if dice.random() < 0.3 else []
                if look(seed, False, "recut", made, "--output", again, *asked).exit_code or not again.exists():
                    break
                look(seed, True, "check", again)
                made = again
    print(f"{frames} frames: {dict(ended)}; {wrong} wrong")
    sys.exit(wrong > 0)


if __name__ == "__main__":
    main()
