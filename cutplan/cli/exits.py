"""Errors turned into exit codes, in this one place.

0 done, 1 faults, 2 wrong use, 3 not enough stock, 4 a fault of the program's own; 130 ended by Ctrl-C and 141 by
the reader of a pipe, as is usual.
"""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress

import click

from cutplan.cli.bug import report_bug, written
from cutplan.cli.files import ClosedError
from cutplan.cli.screen import console
from cutplan.cli.stop import EndedError, StoppedError, ended_by_signals
from cutplan.errors import CutplanError

_STOPPED, _PIPE = 130, 141


@contextmanager
def exits(*, plans: bool = True) -> Iterator[None]:
    """Show any error meant for a person on standard error, write a bug report of any other, and leave with the exit
    code. What the run has written is reported last. ``plans``: a plan was asked for, and faults prevent it."""
    # A terminal or a pipe that knows fewer characters gets what it can show.
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    code = 0
    try:
        with ended_by_signals():
            yield
            if sys.stdout is not None:
                sys.stdout.flush()
            elif not written():
                raise ClosedError
    except CutplanError as error:
        code = _reported(error, plans)
    except StoppedError:
        print("stopped: no plan was found", file=sys.stderr)
        code = _STOPPED
    except KeyboardInterrupt:
        print(f"stopped: {'nothing more' if written() else 'no plan'} was written", file=sys.stderr)
        code = _STOPPED
    except EndedError as error:
        error.end()
    except (click.exceptions.Exit, click.Abort, click.ClickException):
        raise
    except BrokenPipeError:
        _close_stdout()
        code = _PIPE
    except OSError as error:
        # Faults of files are reported where they are met, so that one without a name is that of standard output.
        _close_stdout()
        what = error.filename or "standard output"
        print(f"cutplan: {what}: cannot be used: {error.strerror or error}", file=sys.stderr)
        code = 2
    except Exception as error:
        code = report_bug(error)
    finally:
        for path in written():
            click.echo(f"written: {path}", err=True)
    if code:
        sys.exit(code)


def _close_stdout() -> None:
    """Keep Python from trying once more, at its end, to write what is left for standard output."""
    with suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _reported(error: CutplanError, plans: bool) -> int:
    from cutplan.job.faults import JobError
    from cutplan.output.files import OutputError
    from cutplan.output.terminal import show_faults, show_shortage
    from cutplan.plan import NoPlanInTimeError, StockError

    if isinstance(error, JobError):
        show_faults(error, console(stderr=True), plans=plans)
        return 1
    if isinstance(error, StockError):
        show_shortage(error, console())
        return 3
    print(f"cutplan: {error}", file=sys.stderr)
    # A file that cannot be written and a time too short are asked for on the command line, not in the job.
    return 2 if isinstance(error, (OutputError, NoPlanInTimeError)) else 1
