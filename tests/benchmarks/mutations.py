"""How much the tests notice: change the code in seeded places, one at a time, and count what the suite finds.

    python tests/benchmarks/mutations.py --count 50 --seed 1

Each mutation alters one comparison, sum, bound, constant or condition of a copy of the project; the tests beside the
changed module run first, then the rest of the suite. A mutation that no test notices is printed with its place. Method:
mutation analysis (DeMillo, Lipton and Sayward 1978). Nothing outside a temporary folder is written.
"""

from __future__ import annotations

import argparse
import ast
import copy
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[2]
PARTS = ("job", "geometry", "nesting", "plan", "output", "cli")
COMPARISONS: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
}
OPERATORS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.FloorDiv,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
}
CALLS = {"min": "max", "max": "min", "any": "all", "all": "any"}


def mutations(tree: ast.AST) -> Iterator[tuple[ast.AST, str]]:
    """Every mutation of ``tree``: the changed tree, and in words what was changed and where."""
    for index, node in enumerate(ast.walk(tree)):
        for change, words in _changes(node):
            mutant = copy.deepcopy(tree)
            target = next(each for i, each in enumerate(ast.walk(mutant)) if i == index)
            change(target)
            yield mutant, f"line {getattr(node, 'lineno', 0)}: {words}"


def _changes(node: ast.AST) -> Iterator[tuple]:
    if isinstance(node, ast.Compare) and type(node.ops[0]) in COMPARISONS:
        other = COMPARISONS[type(node.ops[0])]

        def compare(target, other=other):
            target.ops[0] = other()

        yield compare, f"{type(node.ops[0]).__name__} becomes {other.__name__}"
    if (
        isinstance(node, ast.BinOp)
        and type(node.op) in OPERATORS
        and not isinstance(node.left, (ast.JoinedStr, ast.List))
    ):
        operator = OPERATORS[type(node.op)]

        def operate(target, operator=operator):
            target.op = operator()

        yield operate, f"{type(node.op).__name__} becomes {operator.__name__}"
    if isinstance(node, ast.BoolOp):

        def connect(target):
            target.op = ast.Or() if isinstance(target.op, ast.And) else ast.And()

        yield connect, "and, or exchanged"
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in CALLS:

        def call(target):
            target.func.id = CALLS[target.func.id]

        yield call, f"{node.func.id} becomes {CALLS[node.func.id]}"
    if isinstance(node, ast.Constant) and type(node.value) is int and 0 <= node.value < 1000:

        def constant(target):
            target.value += 1

        yield constant, f"{node.value} becomes {node.value + 1}"
    if isinstance(node, ast.If):

        def condition(target):
            target.test = ast.UnaryOp(ast.Not(), target.test)

        yield condition, "an if is turned round"


def places() -> list[tuple[Path, int]]:
    """Every place that can be changed: a module and the number of one of its mutations."""
    found = []
    for part in PARTS:
        for module in sorted((ROOT / "cutplan" / part).rglob("*.py")):
            tree = ast.parse(module.read_text(encoding="utf-8"))
            count = sum(1 for node in ast.walk(tree) for _ in _changes(node))
            found += [(module.relative_to(ROOT), number) for number in range(count)]
    return found


def noticed(copied: Path, module: Path, workers: str, beside_only: bool) -> bool:
    """Whether the tests in ``copied`` fail: those of the module's own part first, then all unless ``beside_only``."""
    beside = [str(path) for path in (Path("tests") / module.parts[1],) if (copied / path).is_dir()]
    marked = ("-m", "not judge") if beside_only else ()
    for targets in (beside,) if beside_only else (beside, ["tests"]):
        ran = subprocess.run(
            [sys.executable, "-m", "pytest", "-x", "-q", "-n", workers, *marked, *targets],
            cwd=copied,
            env=os.environ | {"PYTHONPATH": str(copied)},
            capture_output=True,
            timeout=3600,
            check=False,
        )
        if ran.returncode:
            return True
    return False


def main() -> None:
    """Run the mutations asked for and print what was noticed and what was not."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=50, help="how many places to change (50)")
    parser.add_argument("--seed", type=int, default=1, help="which places (1)")
    parser.add_argument("--workers", default="auto", help="tests at once (auto)")
    parser.add_argument("--beside", action="store_true", help="only the tests of the changed part: a lower bound")
    asked = parser.parse_args()
    chosen = random.Random(asked.seed).sample(places(), asked.count)
    missed = []
    with tempfile.TemporaryDirectory() as folder:
        copied = Path(folder) / "cutplan"
        ignored = shutil.ignore_patterns(".git", ".venv*", "__pycache__", ".*_cache", ".hypothesis")
        shutil.copytree(ROOT, copied, ignore=ignored)
        for done, (module, number) in enumerate(chosen, 1):
            started = time.monotonic()
            source = (ROOT / module).read_text(encoding="utf-8")
            mutant, words = next(each for i, each in enumerate(mutations(ast.parse(source))) if i == number)
            (copied / module).write_text(ast.unparse(ast.fix_missing_locations(mutant)), encoding="utf-8")
            found = noticed(copied, module, asked.workers, asked.beside)
            (copied / module).write_text(source, encoding="utf-8")
            what = f"{module} {words}"
            if not found:
                missed.append(what)
            seconds = time.monotonic() - started
            print(f"{done:3} {'noticed' if found else 'MISSED '} {seconds:5.0f} s  {what}", flush=True)
    print(f"{len(chosen) - len(missed)} of {len(chosen)} noticed")


if __name__ == "__main__":
    main()
