"""Where the command begins: quick to import, so that Ctrl-C ends it without a word until a command runs (see ``exits``)
and after it."""

from __future__ import annotations

import os
import signal

if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def main() -> None:
    """Load the commands and run the one asked for."""
    # A stream that is closed would lend its number to the next file opened, and words meant for it would land there.
    for number in (0, 1, 2):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)
    from cutplan.cli.main import main as run

    run()
