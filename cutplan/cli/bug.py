"""A fault of the program's own: a report to pass on, with the job attached, instead of a plan or a traceback.

Nothing is sent. The report is text; what comes from the user's tables is in it as JSON in which no text begins with
a character that a spreadsheet would take for a formula's.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterator
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from cutplan import __version__

if TYPE_CHECKING:
    from cutplan.plan.model import Plan

_Source = TypeVar("_Source")

LIBRARIES = ("ortools", "numpy", "openpyxl", "click", "rich", "reportlab")
CODE = 4
"""The exit code of a fault of the program's own."""

_WRITTEN = "cutplan.written"
_LIVE = re.compile(r"""(?<=[",;|\t])[=+\-@]""")
"""What would begin a formula, wherever a spreadsheet might split a line of text into cells."""


def wrote(path: Path | str, more: str = "") -> None:
    """Note that this run has written ``path``: it is reported at the end, in any case, with ``more`` about it."""
    context = click.get_current_context(silent=True)
    if context is not None:
        context.meta.setdefault(_WRITTEN, []).append(f"{path}{more}")


def written() -> list[str]:
    """What this run has written so far."""
    context = click.get_current_context(silent=True)
    return list(context.meta.get(_WRITTEN, ())) if context is not None else []


def tell_bug(fault: Exception) -> int:
    """Write a report of ``fault``, report it on standard error in one block, and give the exit code."""
    from cutplan.plan import WrongPlanError

    shown = str(fault) if isinstance(fault, WrongPlanError) else f"{type(fault).__name__}: {fault}"
    done = "Nothing more was written" if written() else "Nothing was written"
    outcome: tuple[str, ...]
    try:
        outcome = (
            f"{done} except this report, which contains the job's tables: {_put(report(fault))}",
            "Nothing was sent. Please read the report, then send it to the people who maintain cutplan.",
        )
    except Exception as error:
        outcome = (f"{done}, not even a bug report: {error}",)
    lines = (f"cutplan: this is a bug in cutplan, not a mistake in your job: {shown}", *outcome)
    print("\n".join(lines), file=sys.stderr)
    return CODE


def report(fault: BaseException) -> str:
    """All that another person needs to see the fault again."""
    import platform

    context = click.get_current_context(silent=True)
    params = dict(context.params) if context is not None else {}
    used = [f"{name} = {value}" for name, value in params.items() if value not in (None, False, ())]
    parts = [
        f"cutplan {__version__}: bug report",
        "It contains the job's tables. Nothing was sent: read it, then send it yourself.",
        _part("Command", [context.command_path if context is not None else "none", *used]),
        _part("Versions", [f"python {sys.version}", platform.platform(), *map(_version, LIBRARIES)]),
        _part("What went wrong", _what(fault)),
    ]
    for name, content in _attached(fault, params):
        parts.append(f"# {name}\n\n{content}")
    return ("\n\n".join(parts) + "\n").encode("utf-8", "backslashreplace").decode()


def inert(data: object) -> str:
    """``data`` as JSON in ASCII, a row a line, whose texts begin with nothing that makes a formula."""
    import json

    text = json.dumps(data, indent=1, default=str)
    text = re.sub(r"\[\s+([^\[\]{}]*?)\s+\]", lambda row: "[" + re.sub(r",\n\s+", ", ", row[1]) + "]", text)
    return _LIVE.sub(lambda first: f"\\u{ord(first[0]):04x}", text)


def _part(head: str, lines: list[str]) -> str:
    shown = (f"  {line}" for text in lines for line in text.splitlines())
    return "\n".join([f"# {head}", "", *(_LIVE.sub(r" \g<0>", line) for line in shown)])


def _version(library: str) -> str:
    from importlib.metadata import PackageNotFoundError, version

    try:
        return f"{library} {version(library)}"
    except PackageNotFoundError:
        return f"{library}, version unknown"


def _what(fault: BaseException) -> list[str]:
    import traceback

    from cutplan.plan import WrongPlanError

    if isinstance(fault, WrongPlanError):
        return ["the plan failed its own check:", *fault.wrong]
    home = str(Path(__file__).parents[2])
    return [line.replace(home, "") for line in traceback.format_exception(fault)]


def _attached(fault: BaseException, params: dict[str, Any]) -> Iterator[tuple[str, str]]:
    """What the command read, each by its name; what cannot be read a second time is named in its place."""
    from cutplan.plan import WrongPlanError

    if isinstance(fault, WrongPlanError):
        yield "The job as read, and the plan", _tried(_plan, fault.plan)
    for name in ("job", "job_path"):
        if params.get(name) is not None:
            path = Path(params[name])
            yield f"Tables of the job {path.name}", _tried(_tables, path)
    for name in ("sawlist", "file"):
        path = Path(params.get(name) or "-")
        if path.suffix.lower() == ".xlsx" and path.is_file():
            yield f"Saw list {path.name}", _tried(_saw_list, path)
    if params.get("rack_file") is not None:
        path = Path(params["rack_file"])
        yield f"Rack {path.name}", _tried(_rack, path)


def _tried(read: Callable[[_Source], str], source: _Source) -> str:
    try:
        return read(source)
    except Exception as error:
        return f"could not be read again ({type(error).__name__}: {error}); please attach the file itself"


def _plan(plan: Plan) -> str:
    import json

    from cutplan.output.state import freeze

    return inert(json.loads(freeze(plan)))


def _tables(path: Path) -> str:
    from cutplan.job.tables import read_tables

    found = read_tables(path)
    shown: dict[str, list[list[object]]] = {}
    for name, table in found.tables.items():
        headings = sorted(table.headings)
        shown[name] = [["row", *headings]]
        shown[name] += [[row.place.row, *map(row.cells.get, headings)] for row in table.rows]
    return inert(shown)


def _saw_list(path: Path) -> str:
    from cutplan.output.opened import read_saw_list

    found = read_saw_list(path)
    worked = [asdict(tick) for tick in found.ticks if tick.done or tick.spoilt or tick.left is not None]
    noted = [asdict(note) for note in found.notes if note.gone or note.measured is not None]
    return f"{inert({'ticked': worked, 'noted': noted})}\n\n{_plan(found.plan)}"


def _rack(path: Path) -> str:
    from cutplan.job.rack import read_rack, table_of

    return inert(list(table_of(read_rack(path))))


def _put(text: str) -> Path:
    """Write the report beside what the command was to write, else beside what it read, else here, else among the
    temporary files; over nothing.

    Raises OutputError where it can be written nowhere.
    """
    import tempfile

    from cutplan.output.files import OutputError, write_text

    context = click.get_current_context(silent=True)
    params = context.params if context is not None else {}
    targets = [params.get(name) for name in ("output", "json_to", "csv_to")]
    read = next((params[name] for name in ("job", "sawlist", "file") if params.get(name)), None)
    stem = f"{Path(read).absolute().stem} bug report" if read is not None else "bug report"
    beside = [Path(to).parent for to in (*targets, read) if to not in (None, "-")]
    folders = [*beside, Path(), Path(tempfile.gettempdir())]
    for at, folder in enumerate(folders):
        for number in range(1, 1000):
            path = folder / (f"{stem}.txt" if number == 1 else f"{stem} {number}.txt")
            if path.exists() or path.is_symlink():
                continue
            try:
                write_text(path, text, force=False)
            except OutputError:
                if path.exists():
                    continue
                if at == len(folders) - 1:
                    raise
                break
            return path
    raise OutputError(folders[-1], "already has too many bug reports", "delete old ones")
