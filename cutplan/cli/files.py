"""What the commands write, and what they must not write over."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import click


def spare_the_job(job: Path, *targets: Path | str | None) -> None:
    """Refuse to write over the job itself: its workbook, or a table of its folder."""
    for target in targets:
        path = Path(target or "-")
        if not (path.exists() and job.exists()):
            continue
        if path.samefile(job) or (path.suffix.lower() == ".csv" and path.absolute().parent.samefile(job)):
            raise click.UsageError(f"{path} is the job itself, or a table of it; write to another file")


def put_json(data: dict[str, Any], to: str) -> None:
    from cutplan.output.as_json import dump

    put_text(dump(data), to)


def put_text(text: str, to: str) -> None:
    """To standard output where ``to`` is "-", else to that file."""
    if to == "-":
        sys.stdout.write(text)
    else:
        from cutplan.output.files import write_text

        write_text(Path(to), text)


def spare_others(force: bool, files: Mapping[str, str | Path | None]) -> None:
    """Refuse to write one kind of file over another, which a slip of the hand between two options would do.

    ``files``: what is to be written, by the ending it should have.
    """
    for ending, given in files.items():
        if given is None or given == "-" or force:
            continue
        path = Path(given)
        if path.suffix.lower() != ending and (path.exists() or ending == ".xlsx"):
            raise click.UsageError(f"{path} does not end in {ending}; give it a name that does")
