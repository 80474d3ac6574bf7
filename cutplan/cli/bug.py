"""A bug: a report to pass on, with the job in it, instead of a plan or a traceback.

The report is a ``.zip`` that anyone can open: ``report.txt`` says what went wrong and where, and the files that the
command read are beside it as they are. Nothing is sent.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click

from cutplan import __version__

LIBRARIES = ("ortools", "numpy", "openpyxl", "click", "rich", "reportlab")
CODE = 4
"""The exit code of a bug."""

_WRITTEN = "cutplan.written"
_READ = ("job", "job_path", "sawlist", "file", "rack_file")
"""The parameters of commands that name what they read."""


def wrote(path: Path | str, more: str = "") -> None:
    """Note that this run has written ``path``: it is reported at the end, in any case, with ``more`` about it."""
    context = click.get_current_context(silent=True)
    if context is not None:
        context.meta.setdefault(_WRITTEN, []).append(f"{path}{more}")


def written() -> list[str]:
    """What this run has written so far."""
    context = click.get_current_context(silent=True)
    return list(context.meta.get(_WRITTEN, ())) if context is not None else []


def report_bug(fault: Exception) -> int:
    """Write a report of ``fault``, report it on standard error in one block, and give the exit code."""
    from cutplan.plan import WrongPlanError

    context = click.get_current_context(silent=True)
    params = dict(context.params) if context is not None else {}
    used = [f"{name} = {value}" for name, value in params.items() if value not in (None, False, ())]
    shown = str(fault) if isinstance(fault, WrongPlanError) else f"{type(fault).__name__}: {fault}"
    done = "Nothing more was written" if written() else "Nothing was written"
    outcome: tuple[str, ...]
    try:
        said = _report(fault, [context.command_path if context is not None else "none", *used])
        path = _put(params, said, _attached(fault, params))
        outcome = (
            f"{done} except this report, which contains the job's files: {path}",
            "Nothing was sent. Please open the report, then send it to the people who maintain cutplan.",
        )
    except Exception as error:
        outcome = (f"{done}, not even a bug report: {error}",)
    lines = (f"cutplan: this is a bug in cutplan, not a mistake in your job: {shown}", *outcome)
    print("\n".join(lines), file=sys.stderr)
    return CODE


def _report(fault: BaseException, command: list[str]) -> str:
    """What went wrong, where, and with which versions."""
    import platform
    import traceback
    from importlib.metadata import distributions

    from cutplan.plan import WrongPlanError

    home = str(Path(__file__).parents[2])
    what = [line.replace(home, "") for line in traceback.format_exception(fault)]
    if isinstance(fault, WrongPlanError):
        what = ["the plan failed its own check:", *fault.wrong]
    libraries = sorted({f"{one.name} {one.version}" for one in distributions() if one.name in LIBRARIES})
    parts = {
        "Command": command,
        "Versions": [f"cutplan {__version__}", f"python {sys.version}", platform.platform(), *libraries],
        "What went wrong": what,
    }
    lines = [
        f"cutplan {__version__}: bug report",
        "With the job's files. Nothing was sent: send it yourself.",
    ]
    for heading, texts in parts.items():
        lines += ["", f"# {heading}", "", *(f"  {line}" for text in texts for line in text.splitlines())]
    return "\n".join(lines) + "\n"


def _attached(fault: BaseException, params: dict[str, Any]) -> Iterator[tuple[str, bytes]]:
    """What the command read, file by file, and a plan that failed its check."""
    from cutplan.output.state import freeze
    from cutplan.plan import WrongPlanError

    if isinstance(fault, WrongPlanError):
        yield "plan.json", freeze(fault.plan).encode()
    for name in _READ:
        path = Path(params.get(name) or "-").absolute()
        for file in sorted(path.glob("*.csv")) if path.is_dir() else [path] if path.is_file() else ():
            try:
                yield f"{name}/{file.relative_to(path.parent)}", file.read_bytes()
            except OSError as error:
                yield f"{name}/{file.name} is missing.txt", f"{error}; please send it too".encode()


def _put(params: dict[str, Any], said: str, attached: Iterator[tuple[str, bytes]]) -> Path:
    """Write the report beside what the command was to write, else beside what it read, else here, else among the
    temporary files; over nothing. Raises OutputError where it can be written nowhere."""
    import io
    import tempfile
    from zipfile import ZIP_DEFLATED, ZipFile

    from cutplan.output.files import OutputError, write_beside

    filled = io.BytesIO()
    with ZipFile(filled, "w", ZIP_DEFLATED) as book:
        book.writestr("report.txt", said.encode("utf-8", "backslashreplace"))
        for name, content in attached:
            book.writestr(name, content)
    read = next((params[name] for name in _READ if params.get(name)), None)
    stem = f"{Path(read).absolute().stem} bug report" if read is not None else "bug report"
    beside = [params.get(name) for name in ("output", "json_to", "csv_to")]
    folders = [*(Path(to).parent for to in (*beside, read) if to not in (None, "-")), Path()]
    for folder in (*folders, last := Path(tempfile.gettempdir())):
        names = (folder / (f"{stem}.zip" if number == 1 else f"{stem} {number}.zip") for number in range(1, 1000))
        path = next(path for path in names if not (path.exists() or path.is_symlink()))
        try:
            write_beside(path, lambda one: one.write_bytes(filled.getvalue()), force=False)
        except OutputError:
            if folder == last:
                raise
        else:
            return path
    raise AssertionError("the last folder is always tried")
