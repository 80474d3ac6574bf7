"""``cutplan new --form``: a job on paper, empty or with the members of one that exists."""

from __future__ import annotations

from pathlib import Path

import click

from cutplan.cli.bug import wrote
from cutplan.cli.exits import exits
from cutplan.cli.files import JOB_ITSELF, protect_inputs, protect_others

KNOWN = ("mark", "tube", "qty", "pair", "from", "via", "to", "end a", "onto a", "end b", "onto b", "stage", "made")
"""What a form takes over from a job: what a member is and what it lands on, not what is still to be measured."""


def write_job_form(form: Path, job: Path | None, units: str | None) -> None:
    """Write the form to ``form``. ``units`` None: those of the job, mm without one."""
    if form.suffix.lower() != ".pdf":
        raise click.UsageError(f"{form} does not end in .pdf; give it a name that does")
    with exits():
        protect_inputs({JOB_ITSELF: job}, form)
        protect_others(False, {".pdf": form})
        from cutplan.job.model import Units
        from cutplan.job.read import read_tables
        from cutplan.job.settings import read_settings
        from cutplan.output.form import write_form

        members: list[dict[str, str]] = []
        own = Units.MM
        if job is not None:
            # What is not filled in yet, or wrong, is no reason against a form to put it right on.
            tables = read_tables(job)
            own = read_settings(tables.rows("Job"), []).units
            for row in tables.rows("Members"):
                given = {heading: row.cells[heading] for heading in KNOWN if heading in row.cells}
                members.append({heading: _text(value) for heading, value in given.items()})
        unit = Units(units) if units is not None else own
        count = write_form(form, unit, members=members)
        wrote(form, f"; {count} pages: fill it in at the frame, then type it into the workbook that cutplan new writes")


def _text(value: object) -> str:
    """A cell as it would be written by hand: whole numbers as such, yes for a tick."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value) if isinstance(value, str | int | float) else ""
