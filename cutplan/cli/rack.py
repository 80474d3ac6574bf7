"""``cutplan rack``: the offcuts kept between jobs."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from cutplan.cli.bug import wrote
from cutplan.cli.exits import exits
from cutplan.cli.files import protect_inputs
from cutplan.cli.screen import console

if TYPE_CHECKING:
    from cutplan.plan import Plan

RACK = click.argument("file", type=click.Path(path_type=Path, dir_okay=False))


@click.group()
def rack() -> None:
    """The offcuts kept between jobs, in one workbook or CSV file.

    \b
    Example:
      cutplan rack show rack.csv
      cutplan plan frame.xlsx --rack rack.csv --output saw-list.xlsx
      cutplan rack finish saw-list.xlsx rack.csv
    """


@rack.command()
@RACK
def show(file: Path) -> None:
    """What is on the rack in FILE.

    \b
    Example:
      cutplan rack show rack.csv
    """
    with exits():
        protect_inputs({"the rack": file})
        from cutplan.job.rack import read_rack
        from cutplan.output.rack_file import show_rack

        show_rack(read_rack(file), console())


@rack.command()
@click.argument("sawlist", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@RACK
@click.option("--again", is_flag=True, help="This is another job made from the same plan: count it as well.")
@click.option("--broken-off", is_flag=True, help="Cuts that are not ticked will never be made: rack their tube too.")
def finish(sawlist: Path, file: Path, again: bool, broken_off: bool) -> None:
    """Finish a job: put the offcuts of SAWLIST worth keeping on the rack in FILE, take out what was used.

    Give the job's last saw list. Where nothing is ticked on it, all counts as cut. A job is finished once: a second
    run changes nothing. With --broken-off only what is ticked counts as cut.

    \b
    Example:
      cutplan rack finish saw-list.xlsx rack.csv
      cutplan rack finish saw-list.xlsx rack.csv --broken-off
    """
    with exits():
        protect_inputs({"the saw list": sawlist}, file)
        protect_inputs({"the rack": file})
        from cutplan.output.rack_file import finish_job, finished_lines, unticked_said
        from cutplan.output.state import origin_of
        from cutplan.output.worked import believed
        from cutplan.plan.rack import left_over

        plan, ticks, notes = believed(sawlist)
        units = plan.job.settings.units
        left = left_over(plan, ticks, notes, broken_off=broken_off)
        done = finish_job(file, left, origin_of(plan), units, again=again)
        if not done.already:
            if left.unticked:
                click.echo(f"remark: {unticked_said(sawlist, left)}", err=True)
            wrote(file)
        for line in finished_lines(done):
            click.echo(line)


def mark_taken(rack_file: Path, made: Plan, of_others: bool) -> None:
    """Mark what ``made`` needs of the rack as taken by its job; where the file cannot be changed, only say so. Raises
    RackError where a piece has gone since."""
    from cutplan.output.files import OutputError
    from cutplan.output.rack_file import take
    from cutplan.plan.rack import taken

    pieces, name = taken(made), made.job.settings.name
    try:
        take(rack_file, pieces, name, of_others=of_others)
    except OutputError as error:
        if pieces:
            click.echo(f"remark: {error}; nothing there is marked as taken by {name}", err=True)
    else:
        if pieces:
            count = "1 piece is" if len(pieces) == 1 else f"{len(pieces)} pieces are"
            click.echo(f"remark: {rack_file}: {count} marked as taken by {name}", err=True)
