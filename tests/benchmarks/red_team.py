"""Random jobs that must not end well, through the command line, against a judge of its own.

Run by hand: python tests/benchmarks/red_team.py [JOBS [FIRST_SEED]]
Three kinds, so many of each: *short of stock*, *partly priced*, and *with one fault*. What the command says is taken
from its screen, its JSON and its exit code, and held to an assignment of every piece to a bar by CP-SAT. Prints the
counts and every answer found wrong.
"""

import csv
import json
import random
import re
import sys
import tempfile
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from click.testing import CliRunner, Result
from ortools.sat.python import cp_model

from cutplan.cli.main import main as command

KERF, TRIM, HOLD = 25, 100, 500  # tenths of a millimetre, as are all lengths here
GARBAGE = (
    "1,5",
    "abc",
    "-5",
    "0",
    "9" * 40,
    "=A1",
    "1e308",
    "±",
    "  ",
    "½ x",
    "NaN",
    "12 furlongs",
    "\u202e1",
    "'",
    "{}",
)

Row = tuple[str, int, str, str, str]
"""Of the sheet Stock: tube, length, price, how many, buy or rack."""


def write(folder: Path, stock: Sequence[Row], members: Sequence[tuple[str, str, int, int]], spares: int) -> None:
    """The job as a folder of tables."""
    tables = {
        "Job": [
            ["setting", "value"],
            *(["units", "mm"], ["kerf", KERF / 10], ["end trim", TRIM / 10]),
            *(["saw hold", HOLD / 10], ["step", 0.5], ["spares", spares]),
        ],
        "Tubes": [["tube", "od", "wall"], ["T", 38, 2.5], ["U", 30, 2]],
        "Stock": [
            ["tube", "length", "price", "available", "from"],
            *([tube, length / 10, price, count, source] for tube, length, price, count, source in stock),
        ],
        "Members": [
            ["mark", "tube", "qty", "length"],
            *([mark, tube, qty, length / 10] for mark, tube, qty, length in members),
        ],
    }
    folder.mkdir()
    for name, table in tables.items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(table)


def members(dice: random.Random, tubes: str) -> list[tuple[str, str, int, int]]:
    """A dozen or so pieces on a grid of half millimetres."""
    return [
        (f"{tube}{number}", tube, dice.randint(1, 4), dice.randint(400, 4000) * 5)
        for tube in tubes
        for number in range(dice.randint(1, 5))
    ]


def room(row: Row) -> int:
    """What a bar yields: less what the vice holds, and less both trims of the mill's ends, or, of a piece of the rack,
    sawn at both, a kerf in front of the vice."""
    return row[1] - HOLD - (2 * TRIM if row[4] == "buy" else KERF)


def least(pieces: Sequence[int], bars: Sequence[tuple[int, int]]) -> int | None:
    """The least cost of bars (room, cost; 0 for those in hand) that hold the pieces; None: they do not."""
    model = cp_model.CpModel()
    held = [[model.new_bool_var("") for _ in bars] for _ in pieces]
    used = [model.new_bool_var("") for _ in bars]
    for row in held:
        model.add_exactly_one(row)
    for place, (length, _) in enumerate(bars):
        load = sum((piece + KERF) * row[place] for piece, row in zip(pieces, held, strict=True))
        model.add(load <= (max(length, 0) + KERF) * used[place] - (0 if length > 0 else KERF * used[place]))
    model.minimize(sum(cost * on for (_, cost), on in zip(bars, used, strict=True)))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = 20
    answer = solver.solve(model)
    if answer == cp_model.INFEASIBLE:
        return None
    return round(solver.objective_value) if answer == cp_model.OPTIMAL else -1


def most(pieces: Sequence[int], rooms: Sequence[int]) -> tuple[int, int]:
    """The greatest length that can be cut from these bars, and then the most pieces."""
    best = (-1, -1)
    for _ in range(2):
        model = cp_model.CpModel()
        held = [[model.new_bool_var("") for _ in rooms] for _ in pieces]
        for row in held:
            model.add_at_most_one(row)
        for place, length in enumerate(rooms):
            load = sum((piece + KERF) * row[place] for piece, row in zip(pieces, held, strict=True))
            model.add(load <= (length + KERF if length > 0 else 0))
        cut = sum(piece * sum(row) for piece, row in zip(pieces, held, strict=True))
        count = sum(sum(row) for row in held)
        if best[0] < 0:
            model.maximize(cut)
        else:
            model.add(cut >= best[0])
            model.maximize(count)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.max_time_in_seconds = 20
        if solver.solve(model) != cp_model.OPTIMAL:
            return -1, -1
        found = round(solver.objective_value)
        best = (found, -1) if best[0] < 0 else (best[0], found)
    return best


def run(*arguments: object) -> Result:
    """The command, in this process."""
    return CliRunner().invoke(command, [str(argument) for argument in arguments])


def spread(wanted: Sequence[tuple[str, str, int, int]], tube: str) -> list[int]:
    """The pieces of a tube one by one."""
    return [length for _, of, qty, length in wanted if of == tube for _ in range(qty)]


def bars_of(stock: Sequence[Row], tube: str, pieces: int) -> list[tuple[int, int]]:
    """Every bar that can be had of a tube: room, and cost in cents or in tenths of a millimetre."""
    bars = []
    for row in stock:
        if row[0] == tube:
            cost = 0 if row[4] == "rack" else round(float(row[2]) * 100) if row[2] else row[1]
            bars += [(room(row), cost)] * (int(row[3]) if row[3] else pieces)
    return bars


def short_of_stock(seed: int, folder: Path) -> str:
    """Too few bars on purpose: the verdict, what can be cut, and the least to buy on top."""
    dice = random.Random(seed)
    wanted = members(dice, "T")
    pieces = spread(wanted, "T")
    stock: list[Row] = [("T", dice.randint(2000, 30_000), "", str(dice.randint(1, 2)), "rack")]
    if dice.random() < 0.6:
        price = f"{dice.randint(500, 6000) / 100}"
        stock.append(("T", dice.choice([30_000, 60_000]), price, str(dice.randint(0, 1)), "buy"))
    write(folder, stock, wanted, spares=0)
    result = run("plan", folder)
    have = bars_of(stock, "T", len(pieces))
    truth = least(pieces, have)
    if truth == -1:
        return "the judge is not certain"
    if truth is not None:
        return "enough after all" if result.exit_code == 0 else f"exit {result.exit_code} where the stock is enough"
    if result.exit_code != 3:
        return f"exit {result.exit_code} where the stock is short"
    said = " ".join(result.stdout.split())
    can = re.search(r"Can be cut(.*?): (.*?)(?= Cannot be cut| Left out| Least| Enough|$)", said)
    counts = {mark: int(n) for n, mark in re.findall(r"(\d+) x (\w+)", can[2])} if can else {}
    lengths = {mark: length for mark, _, _, length in wanted}
    ours = (sum(lengths[mark] * n for mark, n in counts.items()), sum(counts.values()))
    best = most(pieces, [length for length, _ in have])
    if best != (-1, -1) and ours != best:
        return f"can be cut: {ours}, the truth is {best}"
    row = next((row for row in stock if row[4] == "buy"), ("T", 60_000, "", "", "buy"))
    top = re.search(r"Least to buy on top: (\d+) x ([\d.]+) mm", said)
    cost = round(float(row[2]) * 100) if row[2] else row[1]
    more = least(pieces, [(length, 0) for length, _ in have] + [(room(row), cost)] * len(pieces))
    if more == -1:
        return "the judge is not certain"
    if more is None:
        return (
            "short, and nothing sold helps" if top is None and "needs one piece" in said else "what helps, if none does"
        )
    if top is None or int(top[1]) * cost != more or float(top[2]) * 10 != row[1]:
        return f"least to buy: {top and top[0]}, the truth is {more / cost:g} of {row[1] / 10}"
    return "short, right in full"


def partly_priced(seed: int, folder: Path) -> str:
    """One tube priced and one not: no sum, no proof of one, no budget; every tube the best there is."""
    dice = random.Random(seed)
    wanted = members(dice, "TU")
    stock: list[Row] = [("T", 60_000, f"{dice.randint(2000, 6000) / 100}", "", "buy"), ("U", 60_000, "", "", "buy")]
    if dice.random() < 0.5:
        stock.append(("U", dice.randint(20_000, 90_000), "", "1", "rack"))
    spares = dice.randint(0, 1)
    write(folder, stock, wanted, spares)
    result = run("plan", folder, "--json", "-")
    if result.exit_code:
        return f"exit {result.exit_code}"
    plan = json.loads(result.stdout)
    bought = {line["tube"] for line in plan["buy"]}
    whole = "U" not in bought
    total = sum(line["cost"] or 0 for line in plan["buy"])
    if (plan["cost"] is None, plan["bound"] is None) != (not whole, not whole) or (plan["proven"] and not whole):
        return f"a sum of {plan['cost']} where {sorted(bought)} is bought"
    if whole and abs(plan["cost"] - total) > 0.005:
        return f"a sum of {plan['cost']}, the lines say {total}"
    for tube in plan["tubes"]:
        pieces = spread(wanted, tube["tube"])
        truth = least([*pieces, *[max(pieces)] * spares], bars_of(stock, tube["tube"], len(pieces) + 1))
        cost = round(tube["bought"] * 10) if tube["cost"] is None else round(tube["cost"] * 100)
        if truth not in (-1, cost) and tube["proven"]:
            return f"{tube['tube']} costs {cost}, the truth is {truth}"
    answer = run("buy", folder, "--spares", 1, "--budget", "100000")
    options = json.loads(run("buy", folder, "--spares", 1, "--json", "-").stdout)["options"]
    unpriced = any(line["price"] is None for option in options for line in option["buy"])
    if unpriced != (answer.exit_code == 1 and "no price is given for U" in answer.stderr):
        return f"a budget answered with exit {answer.exit_code}: {answer.stdout[-80:]}"
    if any((option["cost"] is None) != any(line["price"] is None for line in option["buy"]) for option in options):
        return "an option's sum leaves something out"
    return "partly priced, no sum" if not whole else "partly priced, whole after all"


def one_fault(seed: int, folder: Path) -> str:
    """One cell of a sound job spoilt: a fault with its sheet and row, or a job that still makes sense; never ours."""
    dice = random.Random(seed)
    write(folder, [("T", 60_000, "50", "", "buy"), ("U", 60_000, "40", "", "buy")], members(dice, "TU"), 1)
    path = folder / f"{dice.choice(['Job', 'Tubes', 'Stock', 'Members'])}.csv"
    rows = list(csv.reader(path.open(encoding="utf-8", newline="")))
    at = dice.randrange(len(rows))
    cell = dice.randrange(len(rows[at]))
    was, rows[at][cell] = rows[at][cell], dice.choice(GARBAGE)
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)
    target = folder.parent / f"{folder.name}.xlsx"
    result = run("plan", folder, "--output", target)
    if result.exit_code == 0:
        return "still a job" if run("check", target).exit_code == 0 else f"a plan that does not hold ({was!r})"
    if target.exists():
        return "a file was written beside a fault"
    if result.exit_code == 3:
        return "still a job, short of stock"
    data = result.stderr
    if result.exit_code != 1 or not re.search(rf"{path.stem}|Members|Stock|Tubes|Job", data) or "Traceback" in data:
        return f"exit {result.exit_code}: {data[-200:]}"
    return "a fault, with its place"


RIGHT = {
    "the judge is not certain",
    "enough after all",
    "short, right in full",
    "short, and nothing sold helps",
    "partly priced, no sum",
    "partly priced, whole after all",
    "still a job",
    "still a job, short of stock",
    "a fault, with its place",
}


def main() -> None:
    """Count."""
    jobs = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    wrong = 0
    for kind in (short_of_stock, partly_priced, one_fault):
        counts: Counter[str] = Counter()
        with tempfile.TemporaryDirectory() as where:
            for seed in range(first, first + jobs):
                said = kind(seed, Path(where, f"job{seed}"))
                counts[said] += 1
                if said not in RIGHT:
                    wrong += 1
                    print(f"  {kind.__name__} {seed}: {said}", flush=True)
        print(f"{kind.__name__}: {dict(counts)}", flush=True)
    print(f"{3 * jobs} jobs, {wrong} wrong")
    sys.exit(wrong > 0)


if __name__ == "__main__":
    main()
