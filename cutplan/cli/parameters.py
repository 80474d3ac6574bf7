"""Arguments and options that several commands have, and the job that they read."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cutplan.job.model import MOST_SPARES

if TYPE_CHECKING:
    from cutplan.job.faults import Remark
    from cutplan.plan import Prepared

JOB = click.argument("job", type=click.Path(path_type=Path))
JSON = click.option("--json", "json_to", metavar="FILE", help="Write JSON to FILE; '-' for standard output.")
SPARES = click.option(
    "--spares", type=click.IntRange(0, MOST_SPARES), help="How many mistakes to keep tube for; overrides the job."
)
FITTED = click.option(
    "--fitted",
    type=click.Choice(["after all cuts", "one at a time"]),
    help="When members are fitted; overrides the job.",
)
RACK = click.option(
    "--rack",
    "rack_file",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="Also use what is on this rack.",
)
TAKEN = click.option("--taken", is_flag=True, help="With --rack: also use what other jobs have taken from it.")
PAPER = click.option(
    "--paper", type=click.Choice(["A4", "Letter"], case_sensitive=False), help="Default A4 for mm, Letter for in."
)


def remark(texts: Iterable[Remark | str]) -> None:
    """What stops nothing and should be known, on standard error."""
    for text in texts:
        click.echo(f"remark: {text}", err=True)


def prepared(
    path: Path,
    rack_file: Path | None = None,
    *,
    taken: bool = False,
    spares: int | None = None,
    fitted: str | None = None,
    quiet: bool = False,
) -> Prepared:
    """The sound job at ``path`` with its blanks; unless ``quiet``, its remarks go to standard error."""
    from cutplan.api import read_job

    if taken and rack_file is None:
        raise click.UsageError("--taken needs --rack: it is about the pieces on it")
    found = read_job(path, rack=rack_file, taken=taken, spares=spares, fitted=fitted)
    if not quiet:
        remark(found.remarks)
    return found
