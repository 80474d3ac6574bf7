"""What the commands write, and what they must not write over."""

from __future__ import annotations

import errno
import os
import re
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import click

from cutplan.cli.bug import wrote


class ClosedError(OSError):
    """Standard output is closed, and what was asked for can go nowhere else."""

    def __init__(self) -> None:
        super().__init__(errno.EBADF, "it is closed")


_OURS = {
    ".csv": (
        re.compile(rb"(cut,bar,tube|tube,length|bar,tube|mark,|tube,kept|stage,first cut|shop,bars)"),
        "is not a table written by cutplan",
    ),
    ".txt": (re.compile(rb"Round tube for: "), "is not an order written by cutplan"),
    ".json": (re.compile(rb'\s*\{\s*"(job|members|options)"'), "was not written by cutplan"),
    ".pdf": (re.compile(rb"%PDF.*\(cutplan\)", re.DOTALL), "was not written by cutplan"),
    ".svg": (
        re.compile(rb"<svg .*>measure this first|<\?xml .*<title>cutplan: drawings<", re.DOTALL),
        "was not written by cutplan",
    ),
}
"""By ending: what a file that cutplan wrote contains, and what is reported of one that does not."""


JOB_ITSELF = "the job itself, or a table of it"


def protect_inputs(read: Mapping[str, Path | None], *targets: Path | str | None) -> None:
    """Refuse to overwrite what is read (given by what it is called), to write two things to one file, and to read what
    may never end, such as a device. Raises UsageError."""
    for source in read.values():
        if source is not None and source.exists() and not (source.is_file() or source.is_dir()):
            raise click.UsageError(f"{source} is neither a file nor a folder; give the file itself")
    paths = [Path(target) for target in targets if target is not None and target != "-"]
    for path in paths:
        for name, source in read.items():
            if source is None or not source.exists():
                continue
            if path.exists() and path.samefile(source):
                raise click.UsageError(f"{path} is {name}; write to another file")
            folder = path.absolute().parent
            if path.suffix.lower() == ".csv" and folder.exists() and folder.samefile(source):
                raise click.UsageError(f"{path} would be read as a table of the job; write to another folder")
    if targets.count("-") > 1:
        raise click.UsageError("only one of them can go to standard output; write the others to files")
    places = [os.path.realpath(path) for path in paths]
    if len(set(places)) < len(places):
        twice = next(path for path, place in zip(paths, places, strict=True) if places.count(place) > 1)
        raise click.UsageError(f"{twice} is given twice; give each its own file")


def drawing_path(output: Path | None, usual: str) -> Path:
    """Where a drawing goes: to ``output``, or to the file called ``usual`` unless that exists. Raises UsageError."""
    to = output or Path(usual)
    if output is None and to.exists():
        raise click.UsageError(f"{to} exists; name another file with --output")
    return to


def put_json(data: dict[str, Any], to: str) -> None:
    """To standard output where ``to`` is "-", else to that file."""
    from cutplan.output.as_json import dump

    put_text(dump(data), to)


def put_text(text: str, to: str) -> None:
    """To standard output where ``to`` is "-", else to that file; the same bytes to both."""
    if to == "-":
        if sys.stdout is None:
            raise ClosedError
        click.echo(text.encode(), nl=False)
    else:
        from cutplan.output.files import write_text

        write_text(Path(to), text)
        wrote(to)


def protect_others(force: bool, files: Mapping[str, str | Path | None]) -> None:
    """Refuse to overwrite one kind of file with another, as by mixing up two options, or a file of another program.
    Raises UsageError.

    ``files``: what is to be written, by the ending it should have. Workbooks are looked into when they are replaced.
    """
    for ending, given in files.items():
        if given is None or given == "-" or force:
            continue
        path = Path(given)
        if path.suffix.lower() != ending and (path.is_file() or ending == ".xlsx"):
            raise click.UsageError(f"{path} does not end in {ending}; give it a name that does")
        if ending in _OURS and path.is_file():
            ours, rule = _OURS[ending]
            content = path.read_bytes().removeprefix(b"\xef\xbb\xbf")
            if content and not ours.match(content):
                raise click.UsageError(f"{path} already exists and {rule}; write to another file")
