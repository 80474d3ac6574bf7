"""What the commands say to a person who uses them wrongly, or whose job has changed: each message once, by name.

What must be said is in ``messages.txt``; after a message was changed on purpose, ``renew_says.py`` writes it again.
"""

from __future__ import annotations

import csv
import io
import math
import re
import shutil
from collections.abc import Callable, Mapping
from pathlib import Path

from altered_lists import TABLES, Change, both, to
from click.testing import CliRunner
from openpyxl import load_workbook

from cutplan.cli.main import main

_VIEWS = re.compile(r"\n(Plan|Blanks|Buying options|Nodes): .*?(?=\nWithin|\Z)", re.DOTALL)
"""Where the views begin that other tests look at."""


def written_list(folder: Path) -> bytes:
    """The saw list of the small job, planned in ``folder`` as ``saw.xlsx`` beside the job's folder ``job``."""
    bench = Bench(folder)
    bench.run("plan", "@job", "--output", "@saw.xlsx", code=0)
    return bench.saw.read_bytes()


class Bench:
    """A folder with the small job (``job``), its saw list (``saw.xlsx``) and whatever a case puts beside them."""

    def __init__(self, folder: Path, saw_list: bytes = b"") -> None:
        self.folder = folder
        self.said: list[str] = []
        self.tables(TABLES)
        if saw_list:
            self.saw.write_bytes(saw_list)

    @property
    def saw(self) -> Path:
        return self.path("saw.xlsx")

    def path(self, name: str) -> Path:
        return self.folder / name

    def tables(self, tables: Mapping[str, str], where: str = "job") -> None:
        """Write these tables into a job's folder."""
        self.path(where).mkdir(exist_ok=True)
        for name, text in tables.items():
            (self.path(where) / f"{name}.csv").write_text(text, encoding="utf-8")

    def edit(self, table: str, old: str, new: str) -> None:
        """Replace a text in a table of the job, where it must be."""
        path = self.path("job") / f"{table}.csv"
        text = path.read_text(encoding="utf-8")
        assert old in text, old
        path.write_text(text.replace(old, new), encoding="utf-8")

    def mark(self, *changes: Change) -> None:
        """Change the saw list as a person would."""
        book = load_workbook(self.saw)
        both(*changes)(book)
        book.save(self.saw)

    def run(self, *arguments: str, code: int) -> None:
        """Run a command in the folder's names; its exit code must be this, and what it says is kept."""
        given = [str(self.folder / word[1:]) if word.startswith("@") else word for word in arguments]
        result = CliRunner().invoke(main, given)
        assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
        text = f"{result.stderr}{_VIEWS.sub('', result.stdout)}"
        assert result.exit_code == code, text
        plain = [line for line in text.splitlines() if line and not line.startswith(("Usage: ", "Try '", "written: "))]
        self.said.append(" ".join(" / ".join(plain).replace(f"{self.folder}/", "").split()))


Case = Callable[[Bench], None]


def recut(*changes: Change, also: tuple[str, ...] = (), code: int = 0) -> Case:
    """``cutplan recut`` of the saw list, ticked so."""

    def case(bench: Bench) -> None:
        if changes:
            bench.mark(*changes)
        bench.run("recut", "@saw.xlsx", *also, code=code)

    return case


def done(*cuts: int) -> Change:
    """Tick these cuts done."""
    return both(*(to("Saw list", cut, "done", "x") for cut in cuts))


def spoilt(cut: int, good: float | None = None) -> Change:
    """Tick a cut spoilt, with so much still good of it."""
    tick = to("Saw list", cut, "spoilt", "x")
    return tick if good is None else both(tick, to("Saw list", cut, "still good", good))


def in_hand(bar: str, heading: str, value: object) -> Change:
    """Write against a bar in hand."""
    return to("Bars in hand", bar, heading, value)


def job_changed(
    edits: Mapping[str, Mapping[str, str]], ticks: Change, also: tuple[str, ...] = ("--job", "@job"), code: int = 0
) -> Case:
    """``cutplan recut`` of the saw list, ticked so, once the tables of the job are others."""

    def case(bench: Bench) -> None:
        for table, changed in edits.items():
            for old, new in changed.items():
                bench.edit(table, old, new)
        bench.mark(ticks)
        bench.run("recut", "@saw.xlsx", *also, code=code)

    return case


def command(*arguments: str, code: int) -> Case:
    """One command."""
    return lambda bench: bench.run(*arguments, code=code)


def marked(change: Change, *arguments: str, code: int) -> Case:
    """A command on the saw list, ticked so."""

    def case(bench: Bench) -> None:
        bench.mark(change)
        bench.run(*arguments, code=code)

    return case


def job_with(table: str, old: str, new: str, *arguments: str, code: int) -> Case:
    """A command on the job changed in one place."""

    def case(bench: Bench) -> None:
        bench.edit(table, old, new)
        bench.run(*arguments, code=code)

    return case


def rack(text: str, *arguments: str, code: int) -> Case:
    """A command with a rack of these pieces."""

    def case(bench: Bench) -> None:
        bench.path("rack.csv").write_text(text, encoding="utf-8")
        bench.run(*arguments, code=code)

    return case


_FRAME = {
    "A": (0, 0, 0),
    "B": (1000, 0, 0),
    "C": (1000, 600, 0),
    "D": (0, 600, 0),
    "E": (150, 80, 800),
    "F": (850, 90, 790),
}
_PAIRS = ("AE", "BE", "CE", "DE", "AF", "BF", "CF", "DF", "EF")
_FEET = {"A": "0,0,0", "B": "1000,0,0", "C": "1000,600,0", "D": "0,600,0", "E": ",,> 0", "F": ",,> 0"}


def taped(
    off: Mapping[str, float] | None = None,
    *,
    pairs: tuple[str, ...] = _PAIRS,
    nodes: Mapping[str, str] | None = None,
    extra: str = "",
    code: int = 0,
) -> Case:
    """``cutplan nodes`` of a frame known by tape: what a reading is ``off`` by, and what is written of its nodes."""

    def case(bench: Bench) -> None:
        distances = io.StringIO()
        lines = csv.writer(distances, lineterminator="\n")
        lines.writerow(["from", "to", "distance"])
        for one, other in pairs:
            lines.writerow(
                [one, other, f"{math.dist(_FRAME[one], _FRAME[other]) + (off or {}).get(one + other, 0):.1f}"]
            )
        places = "".join(f"{name},{xyz}\n" for name, xyz in (_FEET | dict(nodes or {})).items())
        tables = {"Job": "setting,value\n", "Nodes": f"name,x,y,z\n{places}", "Distances": distances.getvalue() + extra}
        bench.tables(tables, "frame")
        bench.run("nodes", "@frame", code=code)

    return case


def finished_twice(bench: Bench) -> None:
    """Once with no tick, and once more."""
    for _ in range(2):
        bench.run("rack", "finish", "@saw.xlsx", "@rack.csv", code=0)


def planned_again(bench: Bench) -> None:
    """A plan where a ticked list is."""
    bench.mark(done(1, 2))
    bench.run("plan", "@job", "--output", "@saw.xlsx", code=2)


def recut_again(bench: Bench) -> None:
    """Beside a list of its own rest."""
    bench.mark(done(1))
    shutil.copy(bench.saw, bench.path("saw 2.xlsx"))
    bench.run("recut", "@saw.xlsx", "--spares", "0", code=0)


def nothing_for_sale(bench: Bench) -> None:
    """Bars struck out that cannot be bought again."""
    bench.mark(*(in_hand(bar, "struck out", "x") for bar in "45"))
    bench.edit("Stock", "U,2000,11.5,,,\n", "U,2000,11.5,0,,\n")
    bench.run("recut", "@saw.xlsx", "--job", "@job", code=3)


CASES: dict[str, Case] = {
    # recut: ticks and bars.
    "recut: nothing ticked": recut(code=2),
    "recut: the job is as it was": recut(also=("--job", "@job"), code=2),
    "recut: ticks of every kind": recut(
        both(done(1, 3), spoilt(2), spoilt(3), spoilt(5, 300), spoilt(7)),
        both(in_hand("3", "measured now", 2950), in_hand("5", "struck out", "x")),
        also=("--bar", "U", "2500"),
    ),
    "recut: all cut": recut(done(*range(1, 10))),
    "recut: all fitted": recut(both(*(to("Saw list", cut, "fitted", "x") for cut in range(1, 10)))),
    "recut: ticks that cannot be": recut(
        both(done(9), to("Saw list", 1, "still good", 100), spoilt(2, 150), in_hand("1", "measured now", 3500)),
        both(in_hand("3", "struck out", "x"), in_hand("3", "measured now", 2950)),
        also=("--bar", "V", "2500", "--bar", "T", "0"),
        code=1,
    ),
    "recut: a bar of no length": recut(done(1), also=("--bar", "T", "long"), code=2),
    "recut: more spares": recut(done(1), also=("--spares", "2")),
    "recut: no spares, and a later list": recut_again,
    "recut: no saw list": command("recut", "@job/Job.csv", code=1),
    "recut: a name that is taken": recut(done(1), also=("--output", "@saw.xlsx"), code=2),
    "recut: both ways on": command("recut", "@saw.xlsx", "--job", "@job", "--as-planned", code=2),
    "recut: no tube left": nothing_for_sale,
    # recut: a job that changed.
    "job changed, and no word of it": job_changed({"Members": {"yes,600": "yes,613"}}, done(1), also=(), code=1),
    "job changed: not cut yet": job_changed(
        {
            "Job": {"kerf,2": "kerf,3"},
            "Stock": {"T,3000,20": "T,3000,25", "T,1300,,1,rack,R1": "T,1400,,1,rack,R2"},
            "Members": {
                "yes,600": "yes,613",
                "TAB,T,3": "TAB,T,4",
                "100,,,,no,": "100,,,,,",
                "BR,U,2": "BRACE,U,2",
                "HOOP,U": "GUSSET,T,,,120,,,,,\nHOOP,U",
            },
        },
        done(1),
    ),
    "job changed: sawn already": job_changed(
        {
            "Bends": {"HOOP,400,\n": "HOOP,450,\n"},
            "Members": {
                "LONG,T,,,1500": "LONG,T,,,1100",
                "TAB,T,3": "TAB,T,1",
                "cope,90,LONG": "cope,80,LONG",
                "BR,U,2": "BR,T,2",
            },
        },
        done(1, 2, 3, 5, 7, 8),
    ),
    "job changed: sawn and too short": job_changed(
        {
            "Bends": {"HOOP,400,90": "HOOP,410,80"},
            "Members": {"LONG,T,,,1500": "LONG,T,,,1520", "TAB,T,3,,100,,,,no,\n": ""},
        },
        done(1, 2, 7),
    ),
    "job changed: fitted": job_changed(
        {"Members": {"LONG,T,,,1500": "LONG,T,,,1480", "BR,U,2,,300,mitre,45,,,\n": ""}},
        both(*(to("Saw list", cut, "fitted", "x") for cut in (1, 8))),
    ),
    # plan, buy, print, draw, wrap, new.
    "plan: the stock is not enough": job_with(
        "Stock", "U,2000,11.5,,,", "U,2000,11.5,1,,", "plan", "@job", "--spares", "2", code=3
    ),
    "plan: a member longer than any bar": job_with("Members", "LONG,T,,,1500", "LONG,T,,,3100", "plan", "@job", code=3),
    "plan: a fault": job_with("Members", "LONG,T", "LONG,V", "plan", "@job", code=1),
    "plan: no such job": command("plan", "@nothing.xlsx", code=1),
    "plan: a saw list": command("plan", "@saw.xlsx", code=1),
    "plan: no such option": command("plan", "@job", "--option", "99", code=2),
    "plan: a table without csv": command("plan", "@job", "--table", "buy", code=2),
    "plan: no such table": command("plan", "@job", "--csv", "-", "--table", "bying", code=2),
    "plan: taken without a rack": command("plan", "@job", "--taken", code=2),
    "plan: over the job": command("plan", "@job", "--output", "@job/Job.csv", code=2),
    "plan: over ticks": planned_again,
    "plan: not a workbook's name": command("plan", "@job", "--output", "@saw.txt", code=2),
    "plan: no seconds": command("plan", "@job", "--time-limit", "0", code=2),
    "plan: one file for two things": command("plan", "@job", "--csv", "-", "--json", "-", code=2),
    "buy: too small a budget": command("buy", "@job", "--budget", "1", code=3),
    "buy: not money": command("buy", "@job", "--budget", "lots", code=2),
    "buy: an order of no option": command("buy", "@job", "--order", "-", code=2),
    "buy: an option and no order": command("buy", "@job", "--option", "1", code=2),
    "print: not a PDF": command("print", "@saw.xlsx", "--output", "@pack.txt", code=2),
    "print: no such part": command("print", "@saw.xlsx", "--output", "@pack.pdf", "--only", "saws", code=2),
    "draw: no such mark": command("draw", "@job", "LNG", "--output", "@draw.pdf", code=2),
    "draw: not a drawing": command("draw", "@job", "--output", "@draw.png", code=2),
    "wrap: square ends": command("wrap", "@job", "TAB", "--output", "@wrap.pdf", code=1),
    "new: a folder": command("new", "@job", code=2),
    "new: a file that is there": command("new", "@saw.xlsx", code=2),
    "new: no name": command("new", code=2),
    # check and next.
    "check: a folder": command("check", "@job", code=2),
    "check: neither kind of file": command("check", "@job/Job.csv", code=2),
    "check: the job has changed": job_with(
        "Members", "yes,600", "yes,613", "check", "@saw.xlsx", "--job", "@job", code=1
    ),
    "check: good": command("check", "@saw.xlsx", code=0),
    "next: the job has changed": job_with("Members", "yes,600", "yes,613", "next", "@saw.xlsx", code=0),
    # The rack.
    "rack: finished twice": finished_twice,
    "rack: some ticked": marked(both(done(*range(2, 10))), "rack", "finish", "@saw.xlsx", "@rack.csv", code=1),
    "rack: given up": marked(
        both(done(1), spoilt(2)), "rack", "finish", "@saw.xlsx", "@rack.csv", "--broken-off", code=0
    ),
    "rack: faults in it": rack(
        "tube,lenght,length,label\nT,,2400,\nT,,2400 mm,A\nT,,2400 mm,A\nT,,0 mm,\n",
        "rack",
        "show",
        "@rack.csv",
        code=1,
    ),
    "rack: not there": command("rack", "show", "@rack.csv", code=1),
    "rack: neither kind of file": command("rack", "show", "@job/Job.txt", code=1),
    "rack: taken by another job": rack(
        "tube,length,taken by\nT,2400 mm,Gate\n", "buy", "@job", "--rack", "@rack.csv", code=0
    ),
    # Nodes from tape distances.
    "nodes: none": command("nodes", "@job", code=0),
    "nodes: not fixed": taped(pairs=("AE", "BE", "AF", "BF", "CF"), code=1),
    "nodes: a slip": taped({"AE": 12}),
    "nodes: much too far out": taped({"AE": 40}, code=1),
    "nodes: a coordinate that cannot be": taped(nodes={"D": "0,650,0"}, code=1),
    "nodes: either side": taped(nodes={"E": ",,", "F": ",,"}, code=1),
    "nodes: names": taped(nodes={"a": "1,1,1"}, extra="A,G,500\nA,A,500\n", code=1),
}
"""What is done, by the name of the case."""

SAYS = {
    name: text
    for name, _, text in (
        line.partition("\t")
        for line in Path(__file__).with_suffix(".txt").read_text(encoding="utf-8").split("\n")
        if line
    )
}
"""What must be said, on one line: runs of a case by `` // ``, lines of a run by `` / ``."""


def said_in(name: str, folder: Path, saw_list: bytes) -> str:
    """What is said in this case."""
    bench = Bench(folder, saw_list)
    CASES[name](bench)
    return " // ".join(bench.said)
