"""``cutplan wrap``: paper wraps, true to size, to mark copes and mitres by."""

from __future__ import annotations

import re
from pathlib import Path

import click

from cutplan.cli.exits import exits
from cutplan.cli.files import JOB_ITSELF, drawing_path, protect_inputs, protect_others
from cutplan.cli.marks import marked, report_unmeasured
from cutplan.cli.parameters import JOB, PAPER, prepared


@click.command()
@JOB
@click.argument("marks", metavar="[MARK]...", nargs=-1)
@click.option(
    "--output", type=click.Path(path_type=Path, dir_okay=False), help="A .pdf or .svg; default MARK.pdf or wraps.pdf."
)
@PAPER
def wrap(job: Path, marks: tuple[str, ...], output: Path | None, paper: str | None) -> None:
    """Full-size paper wraps to mark the copes and mitres of each MARK; without one, of the whole frame.

    \b
    Example:
      cutplan wrap frame.xlsx BS-L --paper A4
      cutplan wrap frame.xlsx --output wraps.svg
    """
    if output is not None and output.suffix.lower() not in (".pdf", ".svg"):
        raise click.UsageError(f"{output} is neither a .pdf nor a .svg")
    with exits():
        protect_inputs({JOB_ITSELF: job}, output)
        protect_others(False, {output.suffix.lower(): output} if output is not None else {})
        from cutplan.output.pdf import Paper
        from cutplan.output.wraps import write_wraps

        found = prepared(job)
        blanks = found.blanks
        if marks:
            named = (marked(found.blanks, mark, found.job) for mark in marks)
            blanks = tuple(dict.fromkeys(blank for those in named for blank in those))
        report_unmeasured(blanks, asked=bool(marks))
        name = blanks[0].mark if len(blanks) == 1 else marks[0] if len(marks) == 1 else "wraps"
        # A mark may contain what the name of a file cannot.
        name = re.sub(r"[^-.()&# \w]+", "-", name)
        to = drawing_path(output, f"{name}.pdf")
        write_wraps(found.job, blanks, to, paper=Paper.of(paper, found.job.settings.units))
        click.echo(f"{to}: print at full size, measure the check bar first, then wrap it round the tube")
