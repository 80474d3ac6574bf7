"""Errors turned into exit codes, in this one place: 0 done, 1 faults, 2 wrong use, 3 the stock cannot serve."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager

from cutplan.errors import CutplanError


@contextmanager
def exits() -> Iterator[None]:
    """Show any error meant for a person on standard error, and leave with its exit code."""
    try:
        yield
    except CutplanError as error:
        sys.exit(_told(error))
    except KeyboardInterrupt:
        print("stopped: no plan was written", file=sys.stderr)
        sys.exit(130)


def _told(error: CutplanError) -> int:
    from rich.console import Console

    from cutplan.job.faults import JobError
    from cutplan.output.files import OutputError
    from cutplan.output.terminal import show_faults, show_lack
    from cutplan.plan import StockError, TimeError

    console = Console(stderr=True, highlight=False)
    if isinstance(error, JobError):
        show_faults(error, console)
        return 1
    if isinstance(error, StockError):
        show_lack(error, Console(highlight=False))
        return 3
    print(f"cutplan: {error}", file=sys.stderr)
    # A file that cannot be written and a time too short are asked for on the command line, not in the job.
    return 2 if isinstance(error, (OutputError, TimeError)) else 1
