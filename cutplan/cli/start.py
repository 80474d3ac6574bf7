"""Where the command begins: quick to import, so that Ctrl-C ends it silently before a command runs and after it (while
it runs, see ``exits``)."""

from __future__ import annotations

import os
import signal

if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def main() -> None:
    """Load the commands and run the one asked for."""
    # The number of a closed stream would go to the next file opened, and words meant for the stream would go there.
    for number in (0, 1, 2):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)
    from cutplan.cli.main import main as run

    run()
