"""How much the tests notice: change the code in seeded places, one at a time, and count what the suite finds.

    python tests/benchmarks/mutations.py --count 50 --seed 1

Each mutation alters one comparison, sum, bound, constant or condition of a copy of the project. The suite runs once
unchanged, every function that will be changed noting which tests reach it; then, for each mutation, only the test files
that reach it run, the quick ones first: the others cannot tell. What is changed outside functions is held against the
whole suite. A mutation that no test notices is printed with its place. Method: mutation analysis (DeMillo, Lipton and
Sayward 1978). Nothing outside a temporary folder is written.
"""

from __future__ import annotations

import argparse
import ast
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
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
HELPER = '''
import os, sys
from pathlib import Path

ROOT = Path(__file__).parent
seen = set()


def hit(place):
    """Note that the test that runs reaches this place; while tests are collected, the file that does."""
    test = os.environ.get("PYTEST_CURRENT_TEST", "")
    if (place, test) in seen:
        return
    seen.add((place, test))
    if not test:
        frame = sys._getframe(1)
        while frame and not Path(frame.f_code.co_filename).name.startswith("test_"):
            frame = frame.f_back
        test = f"{os.path.relpath(frame.f_code.co_filename, ROOT)} (file)" if frame else "everything (import)"
    with open(ROOT / "reached.txt", "a", encoding="utf-8") as file:
        file.write(f"{place}\\t{test}\\n")


def pytest_runtest_logreport(report):
    """Note how long each test took and whether it passed, in the run of the unchanged code."""
    if not (ROOT / "wanted.txt").exists() and "PYTEST_XDIST_WORKER" not in os.environ:
        with open(ROOT / "times.txt", "a", encoding="utf-8") as file:
            file.write(f"{report.outcome}\\t{report.duration:.3f}\\t{report.nodeid}\\n")


def pytest_collection_modifyitems(items):
    """Only the wanted tests, in their order."""
    if (ROOT / "wanted.txt").exists():
        order = {name: n for n, name in enumerate((ROOT / "wanted.txt").read_text(encoding="utf-8").split("\\n"))}
        items[:] = sorted((each for each in items if each.nodeid in order), key=lambda each: order[each.nodeid])
'''
"""A module written beside the copied project: a plugin of pytest, and what the functions to be changed report to."""
CALLS = {"min": "max", "max": "min", "any": "all", "all": "any"}


def mutations(tree: ast.AST) -> list[tuple[ast.AST, Callable[[ast.AST], None], str]]:
    """Every mutation of ``tree``: the node, what changes it, and in words what is changed and where."""
    return [
        (node, change, f"line {getattr(node, 'lineno', 0)}: {words}")
        for node in ast.walk(tree)
        for change, words in _changes(node)
    ]


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
            found += [(module.relative_to(ROOT), number) for number in range(len(mutations(tree)))]
    return found


@dataclass
class Seen:
    """What the run of the unchanged code showed: the time of each test that passed, and what reaches each place."""

    seconds: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    reached: dict[int, set[tuple[str, str]]] = field(default_factory=lambda: defaultdict(set))

    def wanted(self, place: int, module: Path) -> list[str]:
        """The tests that can notice a change in this place: whole files, as a file's tests share what was made once.

        What is made before a test may be shared by its folder, so the folder follows; what happens on import is
        everyone's. The module's own tests come first, then the quickest files.
        """
        reached = self.reached[place]
        files = {file for file, _ in reached}
        folders = {str(Path(file).parent) for file, when in reached if when == "setup"}
        everyone = any(when == "import" for _, when in reached)
        total: dict[str, float] = defaultdict(float)
        for test, seconds in self.seconds.items():
            total[test.split("::")[0]] += seconds

        def rank(test: str) -> tuple[object, ...]:
            file = test.split("::")[0]
            own = Path(file).stem == f"test_{module.stem}"
            return not own, file not in files, Path(file).parts[1] != module.parts[1], total[file], file

        reaching = (
            test
            for test in self.seconds
            if everyone or test.split("::")[0] in files or str(Path(test.split("::")[0]).parent) in folders
        )
        return sorted(reaching, key=rank)


def tested(copied: Path, workers: str, *options: str) -> bool:
    """Whether the tests in ``copied`` pass."""
    ran = subprocess.run(
        [
            sys.executable,
            "-m",
            "pytest",
            "-q",
            "-p",
            "reached_places",
            "-p",
            "no:cacheprovider",
            "-n",
            workers,
            *options,
        ],
        cwd=copied,
        env=os.environ | {"PYTHONPATH": str(copied), "CI": "1"},
        capture_output=True,
        timeout=7200,
        check=False,
    )
    return ran.returncode == 0


def look(copied: Path, chosen: list[tuple[Path, int]], workers: str, *options: str) -> Seen:
    """Run the unchanged code once, each function that will be changed noting what reaches it."""
    seen = Seen()
    sources = {module: (copied / module).read_text(encoding="utf-8") for module, _ in chosen}
    trees = {module: ast.parse(source) for module, source in sources.items()}
    places = [(n, trees[module], mutations(trees[module])[number][0]) for n, (module, number) in enumerate(chosen)]
    for n, tree, node in places:
        function = _function_of(tree, node)
        if function is None:
            seen.reached[n].add(("everything", "import"))
        else:
            hit = ast.parse(f"__import__('reached_places').hit({n})").body
            first = 1 if ast.get_docstring(function) else 0
            function.body[first:first] = hit
    for module, tree in trees.items():
        (copied / module).write_text(ast.unparse(ast.fix_missing_locations(tree)), encoding="utf-8")
    tested(copied, workers, *options)
    for module, source in sources.items():
        (copied / module).write_text(source, encoding="utf-8")
    failed = set()
    for line in (copied / "times.txt").read_text(encoding="utf-8").splitlines():
        outcome, seconds, test = line.split("\t", 2)
        seen.seconds[test] += float(seconds)
        if outcome == "failed":
            failed.add(test)
    for test in failed:
        del seen.seconds[test]
    for line in (copied / "reached.txt").read_text(encoding="utf-8").splitlines():
        place, test = line.split("\t", 1)
        name, _, when = test.rpartition(" (")
        seen.reached[int(place)].add((name.split("::")[0], when.rstrip(")")))
    return seen


def _function_of(tree: ast.AST, node: ast.AST) -> ast.FunctionDef | None:
    """The innermost function whose body holds ``node``; none where what it returns is kept for other tests."""
    within = [
        each
        for each in ast.walk(tree)
        if isinstance(each, ast.FunctionDef) and any(node is inner for part in each.body for inner in ast.walk(part))
    ]
    if any("cache" in ast.unparse(decorator) for each in within for decorator in each.decorator_list):
        return None
    return within[-1] if within else None


def main() -> None:
    """Run the mutations asked for and print what was noticed and what was not."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=50, help="how many places to change (50)")
    parser.add_argument("--seed", type=int, default=1, help="which places (1)")
    parser.add_argument("--workers", default="auto", help="tests at once (auto)")
    parser.add_argument("--beside", action="store_true", help="without the tests marked judge: a lower bound, sooner")
    asked = parser.parse_args()
    chosen = random.Random(asked.seed).sample(places(), asked.count)
    marked = ("-m", "not judge") if asked.beside else ()
    missed = []
    with tempfile.TemporaryDirectory() as folder:
        copied = Path(folder) / "cutplan"
        ignored = shutil.ignore_patterns(".git", ".venv*", "__pycache__", ".*_cache", ".hypothesis")
        shutil.copytree(ROOT, copied, ignore=ignored)
        (copied / "reached_places.py").write_text(HELPER, encoding="utf-8")
        seen = look(copied, chosen, asked.workers, *marked)
        print(f"unchanged: {len(seen.seconds)} tests pass, {sum(seen.seconds.values()):.0f} s", flush=True)
        for done, (module, number) in enumerate(chosen):
            started = time.monotonic()
            source = (copied / module).read_text(encoding="utf-8")
            mutant = ast.parse(source)
            node, change, words = mutations(mutant)[number]
            change(node)
            wanted = seen.wanted(done, module)
            (copied / "wanted.txt").write_text("\n".join(wanted), encoding="utf-8")
            (copied / module).write_text(ast.unparse(ast.fix_missing_locations(mutant)), encoding="utf-8")
            files = dict.fromkeys(test.split("::")[0] for test in wanted)
            found = bool(wanted) and not tested(copied, asked.workers, "-x", *files)
            (copied / module).write_text(source, encoding="utf-8")
            what = f"{module} {words}"
            if not found:
                missed.append(what)
            took = f"{time.monotonic() - started:5.0f} s of {sum(seen.seconds[test] for test in wanted):5.0f}"
            print(f"{done + 1:3} {'noticed' if found else 'MISSED '} {took}  {what}", flush=True)
    print(f"{len(chosen) - len(missed)} of {len(chosen)} noticed")


if __name__ == "__main__":
    main()
