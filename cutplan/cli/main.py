"""The commands. Results go to standard output, remarks and progress to standard error."""

# ruff: noqa: D301 - click wants a real backspace before lines of help that it is not to wrap.

from __future__ import annotations

import re
import sys
from collections.abc import Iterable
from contextlib import suppress
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cutplan import __version__
from cutplan.cli.bug import wrote
from cutplan.cli.draw import draw
from cutplan.cli.exits import exits
from cutplan.cli.files import JOB_ITSELF, put_json, put_text, spare_inputs, spare_others
from cutplan.cli.form import write_job_form
from cutplan.cli.manual import manual
from cutplan.cli.marks import marked, tell_unmeasured
from cutplan.cli.next_steps import next_steps
from cutplan.cli.nodes import nodes
from cutplan.cli.ordering import put_order, refuse_half
from cutplan.cli.print_pack import print_pack
from cutplan.cli.rack import mark_taken, rack
from cutplan.cli.recut import recut
from cutplan.cli.screen import console
from cutplan.cli.search import TIME_LIMIT, measured_first, planned, search, ways_to_buy
from cutplan.job.schema import MOST_SPARES

if TYPE_CHECKING:
    from cutplan.plan import Plan, Prepared


def _amount(ctx: click.Context, param: click.Parameter, value: str | None) -> Decimal | None:
    """``value`` as an amount of money. Raises BadParameter."""
    if value is None:
        return None
    with suppress(ArithmeticError):
        amount = Decimal(value)
        if amount.is_finite() and amount >= 0:
            return amount
    raise click.BadParameter(f'"{value}" is not an amount of money: write it like 70 or 69.50', ctx, param)


JOB = click.argument("job", type=click.Path(path_type=Path))
JSON = click.option("--json", "json_to", metavar="FILE", help="Write JSON to FILE; '-' for standard output.")
SPARES = click.option(
    "--spares", type=click.IntRange(0, MOST_SPARES), help="How many mistakes to keep tube for; overrides the job."
)
FITTED = click.option(
    "--fitted",
    type=click.Choice(["after all cuts", "one at a time"]),
    help="When members are fitted; overrides the job.",
)
RACK = click.option(
    "--rack",
    "rack_file",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="Also use what is on this rack.",
)
TAKEN = click.option("--taken", is_flag=True, help="With --rack: also use what other jobs have taken from it.")
UP_TO = 2
"""The most spares that the buying options go up to, unless another number is given."""


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="cutplan")
def main() -> None:
    """From measured members of a round-tube frame to bars to buy, a spare that covers mistakes, and a saw list.

    \b
    Example:
      cutplan plan frame.xlsx --output saw-list.xlsx
    """


@main.command()
@click.argument("file", required=False, type=click.Path(path_type=Path))
@click.option("--units", type=click.Choice(["mm", "in"]), help="The job's units; mm unless given.")
@click.option("--force", is_flag=True, help="Overwrite FILE.")
@click.option(
    "--form",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write a form to fill in by hand, as a .pdf, in place of FILE; of FILE's members, where that is a job.",
)
def new(file: Path | None, units: str | None, force: bool, form: Path | None) -> None:
    """Write an empty job workbook with drop-downs, notes and a worked line in each sheet.

    \b
    Example:
      cutplan new frame.xlsx --units in
      cutplan new --form form.pdf
    """
    if form is not None:
        write_job_form(form, file, units)
        return
    if file is None:
        raise click.UsageError("name the workbook to write, such as frame.xlsx, or a form with --form FORM.pdf")
    if file.is_dir():
        raise click.UsageError(f"{file} is a folder; name the workbook to write")
    with exits():
        spare_others(force, {".xlsx": file})
        from cutplan.job.model import Units
        from cutplan.output.template import write_template

        if file.exists() and not force:
            raise click.UsageError(f"{file} exists; choose another name, or --force to overwrite it")
        write_template(file, Units(units or "mm"))
        click.echo(f"{file}: fill in the sheets from left to right, then: cutplan plan {file}")


@main.command()
@JOB
@click.option("--member", metavar="MARK", help="Explain one blank in full.")
@JSON
def lengths(job: Path, member: str | None, json_to: str | None) -> None:
    """Every blank, and how it came about.

    \b
    Example:
      cutplan lengths frame.xlsx --member BS-L
    """
    with exits():
        spare_inputs({JOB_ITSELF: job}, json_to)
        spare_others(False, {".json": json_to})
        from cutplan.output.as_json import lengths_json
        from cutplan.output.terminal import show_lengths, show_member
        from cutplan.plan.tables import standing_rows

        prepared = _prepared(job)
        blanks, standing = prepared.blanks, tuple(standing_rows(prepared.job))
        if member is not None:
            blanks, standing = marked(blanks, member, prepared.job), ()
        if json_to is not None:
            put_json(lengths_json(prepared.job, blanks, standing), json_to)
        if json_to == "-":
            return
        if member is None:
            show_lengths(prepared.job, blanks, console(), standing)
        else:
            for blank in blanks:
                show_member(prepared.job, blank, console())


@main.command()
@JOB
@JSON
@click.option(
    "--spares", type=click.IntRange(0, MOST_SPARES), default=UP_TO, show_default=True, help="Go up to this many spares."
)
@click.option(
    "--budget",
    callback=_amount,
    metavar="MONEY",
    help="Name the option that covers most within this budget; 0: using only the tube on the rack.",
)
@click.option("--option", "option_number", type=click.IntRange(1), help="With --order: which option to order.")
@click.option("--order", "order_to", metavar="FILE", help="Write an order to mail to FILE; '-' for standard output.")
@click.option("--prices", is_flag=True, help="Show prices on the order.")
@FITTED
@RACK
@TAKEN
@TIME_LIMIT
def buy(
    job: Path,
    json_to: str | None,
    spares: int,
    budget: Decimal | None,
    option_number: int | None,
    order_to: str | None,
    prices: bool,
    fitted: str | None,
    rack_file: Path | None,
    taken: bool,
    time_limit: float | None,
) -> None:
    """The buying options: what to buy, and what one more step of safety would cost.

    \b
    Example:
      cutplan buy frame.xlsx
      cutplan buy frame.xlsx --option 2 --order order.txt
    """
    with exits():
        spare_inputs({JOB_ITSELF: job, "the rack": rack_file}, json_to, order_to)
        spare_others(False, {".json": json_to, ".txt": order_to})
        refuse_half(option_number, order_to, prices=prices)
        from cutplan.output.as_json import options_json
        from cutplan.output.terminal import show_measuring, show_options, show_ways
        from cutplan.plan.options import buying_options, within_budget
        from cutplan.plan.wording import money

        prepared = _prepared(job, rack_file, taken=taken, fitted=fitted)
        guessed = any(blank.estimated for blank in prepared.blanks)
        choice = bool(prepared.job.shops)
        share = time_limit / (1 + guessed + choice) if time_limit else time_limit
        with search(share) as limits:
            options = buying_options(prepared.job, prepared.blanks, limits=limits, most=spares)
        measuring = measured_first(prepared, share) if guessed else ()
        ways = ways_to_buy(prepared, share) if choice else ()
        if json_to is not None:
            put_json(options_json(prepared.job, options, measuring, ways), json_to)
        if option_number is not None and order_to is not None:
            put_order(prepared.job, options, option_number, order_to, prices=prices)
        if "-" not in (json_to, order_to):
            show_options(prepared.job, options, console())
            show_ways(prepared.job, ways, console())
            show_measuring(prepared.job, measuring, console())
        if budget is not None:
            best = within_budget(options, budget)
            if best is None:
                least = money(options[0].cost, prepared.job.settings.currency)
                click.echo(f"Within {budget}: none; the cheapest is {least}", err="-" in (json_to, order_to))
                sys.exit(3)
            click.echo(f"Within {budget}: option {options.index(best) + 1}", err="-" in (json_to, order_to))
        beside = [f"--spares {spares}"] if spares != UP_TO else []
        beside += [f'--fitted "{fitted}"'] if fitted else []
        beside += [f"--rack {rack_file}{' --taken' if taken else ''}"] if rack_file else []
        if beside:
            click.echo(f"remark: to use these numbers, give {' and '.join(beside)} along with --option", err=True)


@main.command()
@JOB
@click.option("--output", type=click.Path(path_type=Path, dir_okay=False), help="Write the saw-list workbook here.")
@click.option("--csv", "csv_to", metavar="FILE", help="Write the saw list as CSV to FILE; '-' for standard output.")
@click.option("--table", metavar="NAME", help="With --csv: write this table of the plan, such as buy or offcuts.")
@JSON
@SPARES
@click.option(
    "--option", "option_number", type=click.IntRange(1), help="Follow this option of `cutplan buy`; same --spares."
)
@FITTED
@RACK
@TAKEN
@TIME_LIMIT
@click.option("--force", is_flag=True, help="Overwrite a saw list even if it has ticks.")
def plan(
    job: Path,
    output: Path | None,
    csv_to: str | None,
    table: str | None,
    json_to: str | None,
    spares: int | None,
    option_number: int | None,
    fitted: str | None,
    rack_file: Path | None,
    taken: bool,
    time_limit: float | None,
    force: bool,
) -> None:
    """The main job: what to buy, the bars, the saw list and the spare.

    \b
    Example:
      cutplan plan frame.xlsx --output saw-list.xlsx
    """
    with exits():
        spare_inputs({JOB_ITSELF: job, "the rack": rack_file}, output, csv_to, json_to)
        spare_others(force, {".xlsx": output, ".csv": csv_to, ".json": json_to})
        from cutplan.output.as_json import plan_json
        from cutplan.output.terminal import show_plan
        from cutplan.output.workbook import spare_worked, write_saw_list

        if output is not None and not force:
            spare_worked(output)
        if table is not None:
            _check_table(table, csv_to)
        own = spares if option_number is None else None
        prepared = _prepared(job, rack_file, taken=taken, spares=own, fitted=fitted, quiet="-" not in (json_to, csv_to))
        made = planned(prepared, option_number, UP_TO if spares is None else spares, time_limit)
        if output is not None:
            from cutplan.plan.recut.job_file import written_at
            from cutplan.plan.rough import with_rough_ends

            if rack_file is not None:
                mark_taken(rack_file, made, taken)
            write_saw_list(written_at(with_rough_ends(made), output), output, force=force)
            wrote(output)
        if csv_to is not None:
            from cutplan.output.as_csv import table_csv

            put_text(table_csv(made, table or "saw list"), csv_to)
        if json_to is not None:
            put_json(plan_json(made), json_to)
        if "-" not in (json_to, csv_to):
            show_plan(made, console())


@main.command()
@click.argument("file", type=click.Path(path_type=Path, exists=True, dir_okay=False))
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
        spare_inputs({"the plan": file, JOB_ITSELF: job_path, "the rack": rack_file})
        if job_path is None and rack_file is not None:
            raise click.UsageError("--rack goes with --job: a saw list has its own bars")
        prepared = None if job_path is None else _prepared(job_path, rack_file, taken=taken)
        if file.suffix.lower() == ".json":
            if prepared is None:
                raise click.UsageError("a plan's JSON is checked against its job: add --job")
        elif file.suffix.lower() != ".xlsx":
            raise click.UsageError(f"{file} is neither a saw list in .xlsx nor a plan's .json")
        from cutplan.api import check as checked

        found = checked(file, prepared)
        made = found.plan
        for remark in (*found.remarks, *_other_spares(made)):
            click.echo(f"remark: {remark}", err=True)
        if found.wrong:
            click.echo(f"{file} is not correct:\n{_lines(found.wrong)}")
            sys.exit(1)
        click.echo(
            f"{file} is correct: every member, bar, kerf, trim, spare and price was calculated again"
            f"{f', from {job_path}' if job_path else ''}."
            + (" Optimality was not checked again: plan the job again to have it proven." if made.proven else "")
        )


def _other_spares(made: Plan) -> Iterable[str]:
    """Where a plan keeps other spares than its job asks for, as it may: said by an option, or chosen in buying."""
    asked = made.job.settings.spares
    for tube in made.tubes:
        if tube.spares.wanted < asked:
            yield f"{tube.tube} keeps {tube.spares.wanted} of the {asked} spares that the job asks for"


@main.command()
@JOB
@click.argument("marks", metavar="[MARK]...", nargs=-1)
@click.option(
    "--output", type=click.Path(path_type=Path, dir_okay=False), help="A .pdf or .svg; default MARK.pdf or wraps.pdf."
)
@click.option(
    "--paper", type=click.Choice(["A4", "Letter"], case_sensitive=False), help="Default A4 for mm, Letter for in."
)
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
        spare_inputs({JOB_ITSELF: job}, output)
        spare_others(False, {output.suffix.lower(): output} if output is not None else {})
        from cutplan.job.model import Units
        from cutplan.output.wraps import Paper, write_wraps

        prepared = _prepared(job)
        blanks = prepared.blanks
        if marks:
            job_of = prepared.job
            blanks = tuple(dict.fromkeys(blank for mark in marks for blank in marked(prepared.blanks, mark, job_of)))
        tell_unmeasured(blanks, asked=bool(marks))
        sheet = paper or ("A4" if prepared.job.settings.units is Units.MM else "Letter")
        named = blanks[0].mark if len(blanks) == 1 else marks[0] if len(marks) == 1 else "wraps"
        # A mark may hold what no name of a file can.
        name = re.sub(r"[^-.()&# \w]+", "-", named)
        to = output or Path(f"{name}.pdf")
        if output is None and to.exists():
            raise click.UsageError(f"{to} exists; name another file with --output")
        write_wraps(prepared.job, blanks, to, paper=Paper[sheet.upper()])
        click.echo(f"{to}: print at full size, measure the check bar first, then wrap it round the tube")


def _check_table(name: str, csv_to: str | None) -> None:
    """Raises UsageError for a table that there is not, and for one that goes nowhere."""
    from cutplan.job.listing import listed
    from cutplan.plan.tables import TABLES

    if name not in TABLES:
        raise click.UsageError(f'there is no table "{name}"; the tables are: {listed(tuple(TABLES))}')
    if csv_to is None:
        raise click.UsageError("--table says which table --csv writes: add --csv FILE")


def _prepared(
    path: Path,
    rack_file: Path | None = None,
    *,
    taken: bool = False,
    spares: int | None = None,
    fitted: str | None = None,
    quiet: bool = False,
) -> Prepared:
    """The sound job at ``path`` with its blanks; unless ``quiet``, its remarks go to standard error."""
    from cutplan.api import read_job

    if taken and rack_file is None:
        raise click.UsageError("--taken goes with --rack: it is about what is on it")
    prepared = read_job(path, rack=rack_file, taken=taken, spares=spares, fitted=fitted)
    if not quiet:
        for remark in prepared.remarks:
            click.echo(f"remark: {remark}", err=True)
    return prepared


def _lines(texts: Iterable[str]) -> str:
    return "\n".join(f"  {text}" for text in texts)


main.add_command(draw)
main.add_command(recut)
main.add_command(next_steps)
main.add_command(rack)
main.add_command(print_pack)
main.add_command(nodes)
main.add_command(manual)


if __name__ == "__main__":
    main()
