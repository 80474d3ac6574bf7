"""Searching for a plan: within a time limit, reported on the way, ended by Ctrl-C, and proved before it is used."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING

import click

from cutplan.cli.stop import StoppedError, stoppable

if TYPE_CHECKING:
    from cutplan.plan import Limits, Prepared
    from cutplan.plan.compared import WayCost
    from cutplan.plan.measuring import Measuring
    from cutplan.plan.model import Plan


_LONGEST = 1_000_000.0
"""Seconds: eleven days. What is longer is a slip of the hand, and more than a solver can count."""


def _seconds(ctx: click.Context, param: click.Parameter, value: float | None) -> float | None:
    """``value`` as a time limit. Raises BadParameter."""
    if value is None or 0 < value <= _LONGEST:
        return value
    raise click.BadParameter(f"{value:g} is not a number of seconds above 0, up to {_LONGEST:,.0f}", ctx, param)


TIME_LIMIT = click.option(
    "--time-limit", type=float, callback=_seconds, metavar="SECONDS", help="Stop the search after this."
)


@contextmanager
def search(time_limit: float | None) -> Iterator[Limits]:
    """The limits of a search made inside."""
    from cutplan.plan import Limits

    with stoppable() as stop:
        yield Limits(seconds=time_limit, progress=_progress(), stop=stop)


def planned(prepared: Prepared, option_number: int | None, up_to: int, time_limit: float | None) -> Plan:
    """The plan, proved again.

    ``option_number``: which of the options up to ``up_to`` spares to follow (None: the job's own spares).
    """
    from time import monotonic

    from cutplan.api import buying_options, make_plan

    start, option = monotonic(), None
    with search(time_limit) as limits:
        if option_number is not None:
            half = limits if time_limit is None else replace(limits, seconds=time_limit / 2)
            options = buying_options(prepared, limits=half, spares=up_to)
            if option_number > len(options):
                if limits.stop is not None and limits.stop():
                    raise StoppedError
                raise click.UsageError(f"there is no option {option_number}: `cutplan buy` shows {len(options)}")
            option = options[option_number - 1]
            if time_limit is not None:
                limits = replace(limits, seconds=max(time_limit - (monotonic() - start), 0.0))
        return make_plan(prepared, option=option, limits=limits)


def measured_first(prepared: Prepared, time_limit: float | None) -> tuple[Measuring, ...]:
    """What measuring estimates before ordering could save; where there is no time to find out, that is remarked on."""
    from cutplan.api import measuring_first
    from cutplan.plan.model import NoPlanInTimeError

    try:
        with search(time_limit) as limits:
            return measuring_first(prepared, limits=limits)
    except NoPlanInTimeError:
        text = "there was no time to price what measuring first could save; allow more with --time-limit"
        click.echo(f"remark: {text}", err=True)
        return ()


def ways_to_buy(prepared: Prepared, time_limit: float | None) -> tuple[WayCost, ...]:
    """What each way of buying costs, where there is a choice of shops."""
    from cutplan.plan.compared import ways_compared

    with search(time_limit) as limits:
        return ways_compared(prepared.job, prepared.blanks, limits=limits)


def _progress() -> Callable[[str, Decimal | None, Decimal], None] | None:
    """What reports, every two seconds of a search, how far it is; None where standard error is not a terminal."""
    if sys.stderr is None or not sys.stderr.isatty():
        return None
    from time import monotonic

    last = monotonic()

    def report(tube: str, cost: Decimal | None, bound: Decimal) -> None:
        nonlocal last
        if monotonic() - last >= 2:
            last = monotonic()
            best = "no plan yet" if cost is None else f"best so far {cost:.2f}"
            click.echo(f"{tube}: {best}, none can cost less than {bound:.2f}", err=True)

    return report
