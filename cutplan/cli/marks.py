"""Which blanks a mark typed on the command line means, and which of them are not measured yet."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from cutplan.geometry.model import Blank
    from cutplan.job.model import Job


def marked(blanks: tuple[Blank, ...], mark: str, job: Job | None = None) -> tuple[Blank, ...]:
    """The blanks of this piece mark or member, in capitals or not. ``job``: to refuse what is made already.
    Raises UsageError naming the marks there are."""
    wanted = mark.casefold()
    for member in job.members if job is not None else ():
        if member.made and wanted in (each.casefold() for each in (member.mark, *member.marks)):
            raise click.UsageError(f"{mark} is made already, so it has no blank: clear made on Members to have it cut")
    found = tuple(blank for blank in blanks if wanted in (blank.mark.casefold(), blank.member.casefold()))
    if not found:
        from cutplan.job.faults import listed
        from cutplan.job.tables import nearest

        marks = [blank.mark for blank in blanks]
        meant = nearest(mark, list(dict.fromkeys([*marks, *(blank.member for blank in blanks)])))
        guess = f" (did you mean {meant}?)" if meant else ""
        raise click.UsageError(f'no member is marked "{mark}"{guess}; the marks are: {listed(marks)}')
    return found


def report_unmeasured(blanks: Iterable[Blank], *, asked: bool) -> None:
    """Remark on estimated members, which have no wraps yet. Raises UsageError where just these were ``asked`` for."""
    from cutplan.job.faults import listed

    waiting = tuple(blank.mark for blank in blanks if blank.estimated)
    text = f"no wrap for {listed(waiting)}: measure first, write what you measured in the job, then make the wrap"
    if waiting and asked:
        raise click.UsageError(text)
    if waiting:
        click.echo(f"remark: {text}", err=True)
