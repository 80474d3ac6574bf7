"""``cutplan buy --option N --order FILE``: one option as a text to mail to the shop."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from cutplan.cli.files import put_text

if TYPE_CHECKING:
    from cutplan.job.model import Job
    from cutplan.plan.model import Option


def refuse_half(option_number: int | None, order_to: str | None, *, prices: bool) -> None:
    """Refuse an order without its option, and words on an order where none is written. Raises UsageError."""
    if order_to is not None and option_number is None:
        raise click.UsageError("--order needs the option to order: add --option N (`cutplan buy JOB` lists them)")
    if order_to is None and (option_number is not None or prices):
        given = "--option" if option_number is not None else "--prices"
        raise click.UsageError(f"{given} is for an order: add --order FILE, or '-' to show it")


def put_order(job: Job, options: Sequence[Option], number: int, to: str, *, prices: bool) -> None:
    """Write option ``number`` as an order to the file ``to``, or to standard output where that is "-". Raises
    UsageError where there is no such option."""
    from cutplan.output.order_text import order_text
    from cutplan.plan.tables.order import bought
    from cutplan.plan.tables.shops import shop_rows
    from cutplan.plan.wording import option_cost

    if number > len(options):
        raise click.UsageError(f"there is no option {number}: `cutplan buy` shows {len(options)}")
    option = options[number - 1]
    said = [row.asks for row in shop_rows(job, option.orders)]
    order = bought(job, option.buy, option.orders, "\n".join([*said, f"Cost: {option_cost(option, job.settings)}."]))
    put_text(order_text(job.settings.name, order, prices=prices), to)
