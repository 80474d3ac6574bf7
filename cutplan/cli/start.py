"""Where the command begins: quick to import, so that Ctrl-C ends it without a word while the rest is still loading."""

from __future__ import annotations

import signal

_HEARD = signal.getsignal(signal.SIGINT) is signal.default_int_handler
if _HEARD:
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def main() -> None:
    """Load the commands and run the one asked for."""
    from cutplan.cli.main import main as run

    if _HEARD:
        signal.signal(signal.SIGINT, signal.default_int_handler)
    run()
