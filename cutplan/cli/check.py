"""``cutplan check``: a saw list, or the JSON of a plan, proved from scratch."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cutplan.cli.exits import exits
from cutplan.cli.files import JOB_ITSELF, protect_inputs
from cutplan.cli.parameters import RACK, TAKEN, prepared, remark

if TYPE_CHECKING:
    from cutplan.plan import Plan


@click.command()
@click.argument("file", type=click.Path(path_type=Path, exists=True))
@click.option("--job", "job_path", type=click.Path(path_type=Path), help="The job the plan is for; needed for JSON.")
@RACK
@TAKEN
def check(file: Path, job_path: Path | None, rack_file: Path | None, taken: bool) -> None:
    """Prove a saw-list workbook, or the JSON of a plan, from scratch.

    \b
    Example:
      cutplan check saw-list.xlsx
      cutplan check plan.json --job frame.xlsx
    """
    with exits():
        protect_inputs({"the plan": file, JOB_ITSELF: job_path, "the rack": rack_file})
        if job_path is None and rack_file is not None:
            raise click.UsageError("--rack goes with --job: a saw list has its own bars")
        job = None if job_path is None else prepared(job_path, rack_file, taken=taken)
        if file.suffix.lower() == ".json":
            if job is None:
                raise click.UsageError("a plan's JSON is checked against its job: add --job")
        elif file.is_dir():
            raise click.UsageError(f'{file} is a folder; to check a job: cutplan lengths "{file}"')
        elif file.suffix.lower() != ".xlsx":
            raise click.UsageError(f"{file} is neither a saw list in .xlsx nor a plan's .json")
        from cutplan.api import check as checked

        found = checked(file, job)
        made = found.plan
        remark((*found.remarks, *_other_spares(made)))
        if found.wrong:
            what = f"does not match {job_path} as it is now" if found.changed else "is not correct"
            click.echo(f"{file} {what}:\n" + "\n".join(f"  {text}" for text in found.wrong))
            if found.changed:
                click.echo(f'To go on with the job as it is now: cutplan recut "{file}" --job "{job_path}"')
            sys.exit(1)
        click.echo(
            f"{file} is correct: every member, bar, kerf, trim, spare and price was calculated again"
            f"{f', from {job_path}' if job_path else ''}."
            + (" Optimality was not checked again: plan the job again to have it proven." if made.proven else "")
        )


def _other_spares(made: Plan) -> Iterable[str]:
    """Where a plan keeps fewer spares than its job asks for, as an option or the choice of what to buy may have it."""
    asked = made.job.settings.spares
    for tube in made.tubes:
        if tube.spares.wanted < asked:
            yield f"{tube.tube} keeps {tube.spares.wanted} of the {asked} spares that the job asks for"
