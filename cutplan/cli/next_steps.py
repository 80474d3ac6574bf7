"""``cutplan next``: how far a job has got."""

from __future__ import annotations

from pathlib import Path

import click

from cutplan.cli.exits import exits
from cutplan.cli.files import protect_inputs
from cutplan.cli.screen import console


@click.command("next")
@click.argument("sawlist", type=click.Path(path_type=Path, exists=True, dir_okay=False))
def next_steps(sawlist: Path) -> None:
    """How far the job has got, by what is ticked in SAWLIST: fitted, sawn, what to measure, the next cuts, what to buy.

    \b
    Example:
      cutplan next saw-list.xlsx
    """
    with exits():
        protect_inputs({"the saw list": sawlist})
        from cutplan.job.faults import JobError
        from cutplan.output.terminal import show_progress
        from cutplan.output.worked import believed
        from cutplan.plan.recut.job_file import change_of
        from cutplan.plan.recut.ticks import faults_of
        from cutplan.plan.tables.progress import progress

        plan, ticks, notes = believed(sawlist)
        if faults := tuple(faults_of(plan, ticks, notes, ())):
            raise JobError(faults)
        show_progress(f"{plan.job.settings.name}, from {sawlist.name}", progress(plan, ticks), console())
        if (change := change_of(plan)) is not None:
            click.echo(f'\nThe job has changed since: cutplan recut "{sawlist}" --job "{change.path}"')
