"""``cutplan nodes``: where the nodes of a job are, what meets there, and what the tape readings say of each other."""

from __future__ import annotations

from pathlib import Path

import click

from cutplan.cli.exits import exits
from cutplan.cli.parameters import JOB, remark
from cutplan.cli.screen import console


@click.command()
@JOB
def nodes(job: Path) -> None:
    """The nodes of a job: where each is, with its ±, and which tubes meet there; slips of the tape are pointed out.

    Only the sheets Job, Nodes and Distances need to be filled in.

    \b
    Example:
      cutplan nodes frame.xlsx
    """
    with exits(plans=False):
        from cutplan.job.faults import JobError
        from cutplan.output.terminal import show_nodes
        from cutplan.plan.located import surveyed
        from cutplan.plan.tables.nodes import needed, node_rows, reading_rows

        found = surveyed(job)
        remark(found.remarks)
        if found.job.nodes:
            rows = tuple(node_rows(found.job, found.located, found.moved))
            readings = tuple(reading_rows(found.read, found.located))
            show_nodes(found.job.settings, rows, readings, needed(found.located), console())
        else:
            click.echo("The job has no nodes: see `cutplan manual nodes`.")
        if found.unfinished:
            rest = "the sheets of tubes, bars and members are not finished yet"
            remark([f"{rest}: `cutplan lengths` reports what is wrong there"])
        if found.faults:
            raise JobError(found.faults)
