"""How much the tests notice: change the code in seeded places, one at a time, and count what the suite finds.

    python tests/benchmarks/mutations.py --count 50 --seed 1 --seen seen.json

Each mutation alters one comparison, sum, bound, constant or condition of a copy of the project. The suite runs once
unchanged, every function that will be changed noting which tests reach it; then, for each mutation, only the tests that
reach it run, those of its own part and the quick ones first, in lots, until one fails: the others cannot tell. What is
changed outside functions is held against the whole suite. A mutation that no test notices is printed with its place;
one whose tests take longer than ``--limit`` seconds of processor time is printed as open. ``--seen`` keeps what the
unchanged run showed, so that a later run, with ``--only`` some of the places, need not look again. Method: mutation
analysis (DeMillo, Lipton and Sayward 1978). Nothing but a temporary folder and that file is written.
"""

from __future__ import annotations

import argparse
import ast
import json
import os
import random
import resource
import shutil
import subprocess
import sys
import tempfile
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from hashlib import sha256
from itertools import pairwise
from pathlib import Path

ROOT = Path(__file__).parents[2]
PARTS = ("job", "geometry", "survey", "nesting", "plan", "output", "cli")
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

    def wanted(self, place: int, module: Path) -> list[list[str]]:
        """The tests that can notice a change in this place, in lots: whole files of them, the likeliest first.

        What is made before a test may be shared by its folder, so the folder follows; what happens on import is
        everyone's. The module's own tests come first, then its part's, then the quickest files.
        """
        reached = self.reached[place]
        tests = {test for test, _ in reached}
        folders = {str(Path(test.split("::")[0]).parent) for test, when in reached if when == "setup"}
        everyone = any(when == "import" for _, when in reached)
        files: dict[str, list[str]] = defaultdict(list)
        for test in self.seconds:
            file = test.split("::")[0]
            if everyone or test in tests or file in tests or str(Path(file).parent) in folders:
                files[file].append(test)

        def rank(file: str) -> tuple[object, ...]:
            own, part = Path(file).stem == f"test_{module.stem}", Path(file).parts[1] == module.parts[1]
            direct = not tests.isdisjoint(files[file])
            return not own, not direct, not part, sum(self.seconds[test] for test in files[file]), file

        ranked = sorted(files, key=rank)
        bounds = [0, *_LOTS, len(ranked)]
        lots = [[test for file in ranked[a:b] for test in files[file]] for a, b in pairwise(bounds)]
        return [lot for lot in lots if lot]


_LOTS = (4, 12, 30)
"""After how many files a new lot begins: each is a run of its own, which is a second or two."""


def passes(copied: Path, workers: str, *options: str, limit: float | None = None) -> bool | None:
    """Whether the tests in ``copied`` pass; None: not known within the limit of seconds of processor time."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)

    def limited() -> None:
        if limit is not None:
            resource.setrlimit(resource.RLIMIT_CPU, (max(1, int(limit)), max(1, int(limit)) + 5))

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
        preexec_fn=limited,
        check=False,
    )
    if limit is not None and ran.returncode and _spent(before) >= limit:
        return None
    return ran.returncode == 0


def _spent(since: resource.struct_rusage) -> float:
    now = resource.getrusage(resource.RUSAGE_CHILDREN)
    return now.ru_utime + now.ru_stime - since.ru_utime - since.ru_stime


def noticed(copied: Path, lots: list[list[str]], workers: str, limit: float) -> bool | None:
    """Whether any test of ``lots`` fails; None: not known within the limit."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    for lot in lots:
        left = limit - _spent(before)
        if left <= 0:
            return None
        (copied / "wanted.txt").write_text("\n".join(lot), encoding="utf-8")
        passed = passes(copied, workers, "-x", *dict.fromkeys(test.split("::")[0] for test in lot), limit=left)
        if not passed:
            return None if passed is None else True
    return False


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
    passes(copied, workers, *options)
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
        seen.reached[int(place)].add((name, when.rstrip(")")))
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
    parser.add_argument("--workers", default="auto", help="tests at once in the unchanged run (auto)")
    parser.add_argument("--beside", action="store_true", help="without the tests marked judge: a lower bound, sooner")
    parser.add_argument("--limit", type=float, default=90, help="seconds of processor time for one mutation (90)")
    parser.add_argument("--seen", type=Path, help="keep what the unchanged run showed here, or take it from here")
    parser.add_argument("--only", type=int, nargs="+", help="of the chosen places only those with these numbers")
    asked = parser.parse_args()
    chosen = random.Random(asked.seed).sample(places(), asked.count)
    marked = ("-m", "not judge") if asked.beside else ()
    count = {True: 0, False: 0, None: 0}
    with tempfile.TemporaryDirectory() as folder:
        copied = Path(folder) / "cutplan"
        ignored = shutil.ignore_patterns(".git", ".venv*", "__pycache__", ".*_cache", ".hypothesis")
        shutil.copytree(ROOT, copied, ignore=ignored)
        (copied / "reached_places.py").write_text(HELPER, encoding="utf-8")
        if asked.seen is not None and asked.seen.exists():
            seen = restored(asked.seen, chosen)
        else:
            seen = look(copied, chosen, asked.workers, *marked)
            if asked.seen is not None:
                keep(seen, chosen, asked.seen)
        print(f"unchanged: {len(seen.seconds)} tests pass, {sum(seen.seconds.values()):.0f} s", flush=True)
        for place in asked.only or range(1, len(chosen) + 1):
            module, number = chosen[place - 1]
            before, source = resource.getrusage(resource.RUSAGE_CHILDREN), (copied / module).read_text(encoding="utf-8")
            mutant = ast.parse(source)
            node, change, words = mutations(mutant)[number]
            change(node)
            (copied / module).write_text(ast.unparse(ast.fix_missing_locations(mutant)), encoding="utf-8")
            found = noticed(copied, seen.wanted(place - 1, module), "0", asked.limit)
            (copied / module).write_text(source, encoding="utf-8")
            count[found] += 1
            said = {True: "noticed", False: "MISSED", None: "open"}[found]
            print(f"{place:3} {said:7} {_spent(before):4.0f} s  {module} {words}", flush=True)
    print(f"{count[True]} noticed, {count[False]} missed, {count[None]} open")


def keep(seen: Seen, chosen: list[tuple[Path, int]], path: Path) -> None:
    """Write what was seen, with the places it was seen of."""
    reached = {place: sorted(tests) for place, tests in seen.reached.items()}
    data = {"places": _named(chosen), "seconds": seen.seconds, "reached": reached}
    path.write_text(json.dumps(data), encoding="utf-8")


def restored(path: Path, chosen: list[tuple[Path, int]]) -> Seen:
    """What an earlier run has seen, of the same places."""
    data = json.loads(path.read_text(encoding="utf-8"))
    if data["places"] != _named(chosen):
        raise SystemExit(f"{path} was seen of other places: the code has changed since, or --count or --seed differs")
    seen = Seen()
    seen.seconds.update(data["seconds"])
    for place, tests in data["reached"].items():
        seen.reached[int(place)] = {(test, when) for test, when in tests}
    return seen


def _named(chosen: list[tuple[Path, int]]) -> list[list[object]]:
    """Each place with the text of its module, as a hash: a changed module has other places."""
    hashes = {module: sha256((ROOT / module).read_bytes()).hexdigest()[:16] for module, _ in chosen}
    return [[module.as_posix(), number, hashes[module]] for module, number in chosen]


if __name__ == "__main__":
    main()
