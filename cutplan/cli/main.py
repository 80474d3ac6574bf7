"""The commands. Results go to standard output, remarks and progress to standard error."""

from __future__ import annotations

import sys
from contextlib import suppress
from decimal import Decimal
from pathlib import Path

import click

from cutplan import __version__
from cutplan.cli.bug import wrote
from cutplan.cli.check import check
from cutplan.cli.draw import draw
from cutplan.cli.exits import exits
from cutplan.cli.files import JOB_ITSELF, protect_inputs, protect_others, put_json, put_text
from cutplan.cli.form import write_job_form
from cutplan.cli.manual import manual
from cutplan.cli.marks import marked
from cutplan.cli.next_steps import next_steps
from cutplan.cli.nodes import nodes
from cutplan.cli.ordering import put_order, refuse_half
from cutplan.cli.parameters import FITTED, JOB, JSON, RACK, SPARES, TAKEN, prepared
from cutplan.cli.print_pack import print_pack
from cutplan.cli.rack import mark_taken, rack
from cutplan.cli.recut import recut
from cutplan.cli.screen import console
from cutplan.cli.search import TIME_LIMIT, measured_first, planned, search, ways_to_buy
from cutplan.cli.wrap import wrap
from cutplan.job.model import MOST_SPARES


def _amount(ctx: click.Context, param: click.Parameter, value: str | None) -> Decimal | None:
    """``value`` as an amount of money. Raises BadParameter."""
    if value is None:
        return None
    with suppress(ArithmeticError):
        amount = Decimal(value)
        if amount.is_finite() and amount >= 0:
            return amount
    raise click.BadParameter(f'"{value}" is not an amount of money: write it as 70 or 69.50', ctx, param)


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
    help="Write a form to fill in by hand, as a .pdf, instead; with FILE's members, if FILE is a job.",
)
def new(file: Path | None, units: str | None, force: bool, form: Path | None) -> None:
    """Write an empty job workbook with drop-downs, notes and an example line in each sheet.

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
        protect_others(force, {".xlsx": file})
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
        protect_inputs({JOB_ITSELF: job}, json_to)
        protect_others(False, {".json": json_to})
        from cutplan.output.as_json import lengths_json
        from cutplan.output.terminal import show_lengths, show_member
        from cutplan.plan.tables import standing_rows

        found = prepared(job)
        blanks, standing = found.blanks, tuple(standing_rows(found.job))
        if member is not None:
            blanks, standing = marked(blanks, member, found.job), ()
        if json_to is not None:
            put_json(lengths_json(found.job, blanks, standing), json_to)
        if json_to == "-":
            return
        if member is None:
            show_lengths(found.job, blanks, console(), standing)
        else:
            for blank in blanks:
                show_member(found.job, blank, console())


@main.command()
@JOB
@JSON
@click.option(
    "--spares",
    type=click.IntRange(0, MOST_SPARES),
    default=UP_TO,
    show_default=True,
    help="Price up to this many spares.",
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
        protect_inputs({JOB_ITSELF: job, "the rack": rack_file}, json_to, order_to)
        protect_others(False, {".json": json_to, ".txt": order_to})
        refuse_half(option_number, order_to, prices=prices)
        from cutplan.api import buying_options
        from cutplan.output.as_json import options_json
        from cutplan.output.terminal import show_measuring, show_options, show_ways
        from cutplan.plan.options import within_budget
        from cutplan.plan.wording import money

        found = prepared(job, rack_file, taken=taken, fitted=fitted)
        guessed = any(blank.estimated for blank in found.blanks)
        choice = bool(found.job.shops)
        share = time_limit / (1 + guessed + choice) if time_limit else time_limit
        with search(share) as limits:
            options = buying_options(found, limits=limits, spares=spares)
        measuring = measured_first(found, share) if guessed else ()
        ways = ways_to_buy(found, share) if choice else ()
        if json_to is not None:
            put_json(options_json(found.job, options, measuring, ways), json_to)
        if option_number is not None and order_to is not None:
            put_order(found.job, options, option_number, order_to, prices=prices)
        shown = "-" not in (json_to, order_to)
        if shown:
            show_options(found.job, options, console())
            show_ways(found.job, ways, console())
            show_measuring(found.job, measuring, console())
        if budget is not None:
            best = within_budget(options, budget)
            if best is None:
                least = money(options[0].cost, found.job.settings.currency)
                click.echo(f"Within {budget}: none; the cheapest is {least}", err=not shown)
                sys.exit(3)
            click.echo(f"Within {budget}: option {options.index(best) + 1}", err=not shown)
        beside = [f"--spares {spares}"] if spares != UP_TO else []
        beside += [f'--fitted "{fitted}"'] if fitted else []
        beside += [f"--rack {rack_file}{' --taken' if taken else ''}"] if rack_file else []
        if beside:
            click.echo(f"remark: to follow one of these options, also give {' and '.join(beside)}", err=True)


@main.command()
@JOB
@click.option("--output", type=click.Path(path_type=Path, dir_okay=False), help="Write the saw-list workbook here.")
@click.option("--csv", "csv_to", metavar="FILE", help="Write the saw list as CSV to FILE; '-' for standard output.")
@click.option("--table", metavar="NAME", help="With --csv: write this table of the plan, such as buy or offcuts.")
@JSON
@SPARES
@click.option(
    "--option",
    "option_number",
    type=click.IntRange(1),
    help="Follow this option of `cutplan buy`, with the same --spares.",
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
    """The main command: what to buy, the bars, the saw list and the spare.

    \b
    Example:
      cutplan plan frame.xlsx --output saw-list.xlsx
    """
    with exits():
        protect_inputs({JOB_ITSELF: job, "the rack": rack_file}, output, csv_to, json_to)
        protect_others(force, {".xlsx": output, ".csv": csv_to, ".json": json_to})
        from cutplan.api import write_saw_list
        from cutplan.output.as_json import plan_json
        from cutplan.output.terminal import show_plan
        from cutplan.output.workbook import protect_ticked

        if output is not None and not force:
            protect_ticked(output)
        if table is not None:
            _check_table(table, csv_to)
        own = spares if option_number is None else None
        found = prepared(job, rack_file, taken=taken, spares=own, fitted=fitted, quiet="-" not in (json_to, csv_to))
        made = planned(found, option_number, UP_TO if spares is None else spares, time_limit)
        if output is not None:
            if rack_file is not None:
                mark_taken(rack_file, made, taken)
            write_saw_list(made, output, force=force)
            wrote(output)
        if csv_to is not None:
            from cutplan.output.as_csv import table_csv

            put_text(table_csv(made, table or "saw list"), csv_to)
        if json_to is not None:
            put_json(plan_json(made), json_to)
        if "-" not in (json_to, csv_to):
            show_plan(made, console())


def _check_table(name: str, csv_to: str | None) -> None:
    """Refuse a table that does not exist, or that is written nowhere. Raises UsageError."""
    from cutplan.job.faults import listed
    from cutplan.plan.tables import TABLES

    if name not in TABLES:
        raise click.UsageError(f'there is no table "{name}"; the tables are: {listed(tuple(TABLES))}')
    if csv_to is None:
        raise click.UsageError("--table says which table --csv writes: add --csv FILE")


main.add_command(check)
main.add_command(wrap)
main.add_command(draw)
main.add_command(recut)
main.add_command(next_steps)
main.add_command(rack)
main.add_command(print_pack)
main.add_command(nodes)
main.add_command(manual)


if __name__ == "__main__":
    main()
