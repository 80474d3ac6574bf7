"""Drawings of a job: the frame as a whole, and each piece by itself."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from cutplan.cli.exits import exits
from cutplan.cli.files import JOB_ITSELF, drawing_path, protect_inputs, protect_others
from cutplan.cli.marks import marked
from cutplan.cli.parameters import JOB, PAPER, remark

if TYPE_CHECKING:
    from cutplan.job.faults import Fault


@click.command()
@JOB
@click.argument("marks", metavar="[MARK]...", nargs=-1)
@click.option("--output", type=click.Path(path_type=Path, dir_okay=False), help="A .pdf or .svg; default drawings.pdf.")
@PAPER
def draw(job: Path, marks: tuple[str, ...], output: Path | None, paper: str | None) -> None:
    """Drawings for finding slips before anything is cut: the frame, or each MARK by itself.

    Members given by points are drawn in the frame, from four sides; each other one by itself, with both ends close up.

    \b
    Example:
      cutplan draw frame.xlsx --output frame.pdf
      cutplan draw frame.xlsx BS-L BS-R --output stays.svg
    """
    if output is not None and output.suffix.lower() not in (".pdf", ".svg"):
        raise click.UsageError(f"{output} is neither a .pdf nor a .svg")
    with exits(plans=False):
        protect_inputs({JOB_ITSELF: job}, output)
        protect_others(False, {output.suffix.lower(): output} if output is not None else {})
        from cutplan.api import read_job, write_drawings
        from cutplan.job.faults import JobError
        from cutplan.plan.prepare import as_far_as_sound
        from cutplan.plan.tables.drawings import drawable

        faults: tuple[Fault, ...] = ()
        try:
            prepared = read_job(job)
        except JobError:
            prepared, faults = as_far_as_sound(job)
        remark(prepared.remarks)
        every = (*prepared.blanks, *prepared.standing)
        chosen = tuple(blank.mark for mark in marks for blank in marked(every, mark))
        to = drawing_path(output, "drawings.pdf")
        if faults and not drawable(prepared):
            raise JobError(faults)
        sheets = write_drawings(prepared, to, marks=chosen, paper=paper, faults=faults)
        pages = "1 sheet" if sheets == 1 else f"{sheets} sheets"
        if faults:
            click.echo(f"{to}: {pages}, without the pieces that have faults: in the frame only their axes are drawn")
            raise JobError(faults)
        click.echo(f"{to}: {pages}; compare them with the real frame before you cut")
