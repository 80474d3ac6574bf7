"""``cutplan recut``: the rest of a job from what really remains."""

from __future__ import annotations

import re
from pathlib import Path

import click

from cutplan.cli.bug import wrote
from cutplan.cli.exits import exits
from cutplan.cli.files import JOB_ITSELF, protect_inputs, protect_others, put_json
from cutplan.cli.screen import console
from cutplan.cli.search import TIME_LIMIT, search
from cutplan.job.model import MOST_SPARES


@click.command()
@click.argument("sawlist", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@click.option(
    "--job",
    "job_path",
    type=click.Path(path_type=Path),
    help="Go on with this job as it is now: re-measured, with members added or dropped.",
)
@click.option("--as-planned", is_flag=True, help="Go on as planned, though the job has changed since.")
@click.option("--output", type=click.Path(path_type=Path, dir_okay=False), help="Write the new saw list here.")
@click.option(
    "--bar", "got", nargs=2, multiple=True, metavar="TUBE LENGTH", help="Another bar you now have; may be repeated."
)
@click.option("--spares", type=click.IntRange(0, MOST_SPARES), help="Keep this many spares, even if that costs.")
@click.option("--json", "json_to", metavar="FILE", help="Write the new plan as JSON to FILE; '-' for standard output.")
@TIME_LIMIT
def recut(
    sawlist: Path,
    job_path: Path | None,
    as_planned: bool,
    output: Path | None,
    got: tuple[tuple[str, str], ...],
    spares: int | None,
    json_to: str | None,
    time_limit: float | None,
) -> None:
    """After a mistake, or when the job has changed: plan the rest from what is ticked in SAWLIST.

    Tick done or spoilt on its Saw list sheet; strike out a bar, or correct its length, on Bars in hand. The new
    list is written beside the old one, which stays as it is. If the job has changed since the list was planned,
    --job takes the changes in, against what is cut already.

    \b
    Example:
      cutplan recut saw-list.xlsx
      cutplan recut saw-list.xlsx --job frame.xlsx
    """
    if as_planned and job_path is not None:
        raise click.UsageError("--job takes the changes in, --as-planned leaves them out: give only one of the two")
    with exits():
        protect_inputs({"the old saw list": sawlist, JOB_ITSELF: job_path}, output, json_to)
        if output is not None and output.exists() and output.is_file():
            raise click.UsageError(f"{output} already exists and may have ticks; give the new list another name")
        protect_others(False, {".xlsx": output, ".json": json_to})
        from cutplan.api import rest_of
        from cutplan.job.units import LengthError, parse_length
        from cutplan.output.as_json import plan_json
        from cutplan.output.files import write_beside
        from cutplan.output.terminal import show_plan
        from cutplan.output.workbook import saw_list_bytes
        from cutplan.output.worked import ticked
        from cutplan.plan import StockError
        from cutplan.plan.recut.job_file import written_at
        from cutplan.plan.rough import with_rough_ends

        old = ticked(sawlist, job_path, as_planned=as_planned)
        if old.untouched and not got and spares is None:
            same = "" if old.now is None else ", and the job is as it was planned"
            raise click.UsageError(
                f"nothing is ticked in {sawlist}{same}: tick what is done or spoilt, save and try again"
            )
        try:
            bars = [(tube, parse_length(length, old.plan.job.settings.units)) for tube, length in got]
        except LengthError as error:
            raise click.UsageError(f"--bar: {error}") from error
        try:
            with search(time_limit) as limits:
                result = rest_of(old, bars, spares, limits)
        except StockError:
            click.echo(f'remark: once you have a bar: cutplan recut "{sawlist}" --bar TUBE LENGTH', err=True)
            raise
        after = result.plan
        say = json_to != "-"
        changes = "".join(f"{change}\n" for change in result.changes) if say else ""
        if after is None:
            click.echo(changes, nl=False)
            to_fit = (
                f" Go on ticking fitted on this list; not fitted yet: {result.to_fit}."
                if result.to_fit
                else " Everything is fitted."
            )
            click.echo(f"Everything is cut: no new list is needed.{to_fit}", err=not say)
            return
        target = output or _next_to(sawlist)
        # Written before anything is shown, in case the reader of a pipe goes away.
        book = written_at(with_rough_ends(after), target)
        write_beside(target, lambda beside: beside.write_bytes(saw_list_bytes(book)), force=False)
        wrote(target, "; tick this one from now on")
        if json_to is not None:
            put_json(plan_json(after), json_to)
        if say:
            click.echo(changes, nl=False)
            show_plan(after, console())


def _next_to(sawlist: Path) -> Path:
    """The first free name after the old list's: ``list.xlsx``, ``list 2.xlsx``, ``list 3.xlsx`` ..."""
    found = re.fullmatch(r"(.*\S) (\d+)", sawlist.stem)
    stem, number = (found[1], int(found[2])) if found else (sawlist.stem, 1)
    taken = []
    while (path := sawlist.with_name(f"{stem} {number + 1}{sawlist.suffix}")).exists():
        taken.append(path.name)
        number += 1
    if taken:
        click.echo(
            f"remark: there is a later list already ({', '.join(taken)}): is {sawlist.name} the one you last ticked?",
            err=True,
        )
    return path
