"""``cutplan print``: one pack of paper for the whole job, in the order it is used."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from cutplan.cli.bug import wrote
from cutplan.cli.exits import exits
from cutplan.cli.files import JOB_ITSELF, protect_inputs, protect_others
from cutplan.cli.parameters import PAPER, prepared
from cutplan.cli.search import TIME_LIMIT, planned

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cutplan.plan import Plan
    from cutplan.plan.recut.ticks import Tick


@click.command("print")
@click.argument("file", metavar="SAWLIST_OR_JOB", type=click.Path(path_type=Path))
@click.option(
    "--output", required=True, type=click.Path(path_type=Path, dir_okay=False), help="Write the pack here, as a .pdf."
)
@click.option("--only", metavar="PARTS", help="Only these parts: order, saw, cards, wraps or frame, joined by commas.")
@PAPER
@click.option("--prices", is_flag=True, help="Show prices on the order.")
@TIME_LIMIT
def print_pack(
    file: Path, output: Path, only: str | None, paper: str | None, prices: bool, time_limit: float | None
) -> None:
    """One pack to print: order, saw sheets, a card for each piece, paper wraps, views of the frame.

    From a saw list, the pack is of its plan and shows what is ticked; from a job, of the plan that `cutplan plan`
    makes of it.

    \b
    Example:
      cutplan print saw-list.xlsx --output pack.pdf
      cutplan print frame.xlsx --only order,saw --output pack.pdf
    """
    if output.suffix.lower() != ".pdf":
        raise click.UsageError(f"{output} does not end in .pdf; give it a name that does")
    with exits():
        protect_inputs({f"the saw list, or {JOB_ITSELF}": file}, output)
        protect_others(False, {".pdf": output})
        from cutplan.api import write_pack

        parts = _parts(only)
        made, ticks = _plan_of(file, time_limit)
        count = write_pack(made, output, only=parts, paper=paper, prices=prices, ticks=ticks)
        wrote(output, f"; {count} pages: print at full size (100 %), and measure a check length first")


def _parts(only: str | None) -> Sequence[str]:
    """The parts named in ``only``; none where it is not given. Raises UsageError for a part that does not exist."""
    from cutplan.job.faults import listed
    from cutplan.output.pack import PARTS

    words = [word.strip().casefold() for word in only.split(",")] if only is not None else []
    for word in words:
        if word not in PARTS:
            raise click.UsageError(f'--only: "{word}" is not a part of the pack; the parts are: {listed(PARTS)}')
    return words


def _plan_of(file: Path, time_limit: float | None) -> tuple[Plan, Sequence[Tick]]:
    """The plan that ``file`` carries with what is ticked on it, or that of the job it holds."""
    from cutplan.output.opened import carries_plan
    from cutplan.output.worked import believed

    if file.suffix.lower() == ".xlsx" and file.is_file() and carries_plan(file):
        plan, ticks, _ = believed(file)
        return plan, ticks
    return planned(prepared(file), None, 0, time_limit), ()
