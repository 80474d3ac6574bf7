"""Ctrl-C during a search: the first asks for the best plan so far, the second ends the run at once. And signals that
end a run from outside, which must leave no unfinished file."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

_STOPPING = b"\nstopping with the best plan found so far (Ctrl-C again ends at once)\n"


class StoppedError(KeyboardInterrupt):
    """Stopped before there was any plan."""


class EndedError(BaseException):
    """Ended by a signal from outside; unfinished files are removed on the way out."""

    def __init__(self, number: int) -> None:
        self.number = number
        super().__init__(number)

    def end(self) -> None:
        """End as the signal would have ended the run."""
        signal.signal(self.number, signal.SIG_DFL)
        os.kill(os.getpid(), self.number)


_ENDING = tuple(getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name))


@contextmanager
def ended_by_signals() -> Iterator[None]:
    """Inside, Ctrl-C raises KeyboardInterrupt, and the signals that end a run raise EndedError. Those that are ignored,
    as Ctrl-C is in the background, stay so; outside the main thread nothing is changed."""

    def end(number: int, frame: FrameType | None) -> None:
        raise EndedError(number)

    before: list[int] = []
    try:
        for number, handler in ((signal.SIGINT, signal.default_int_handler), *((one, end) for one in _ENDING)):
            if signal.getsignal(number) is signal.SIG_DFL:
                signal.signal(number, handler)
                before.append(number)
    except ValueError:  # only the main thread receives signals
        pass
    try:
        yield
    finally:
        for number in before:
            signal.signal(number, signal.SIG_DFL)


@contextmanager
def stoppable() -> Iterator[Callable[[], bool]]:
    """Inside, Ctrl-C makes the function that this gives return True, and a second one raises KeyboardInterrupt.

    A search that then had no plan (NoPlanInTimeError) ends as StoppedError. Where Ctrl-C is ignored, as in a job left
    running in the background, or where this is not the main thread, nothing is changed.
    """
    from cutplan.plan import NoPlanInTimeError

    asked = False

    def ask(number: int, frame: FrameType | None) -> None:
        nonlocal asked
        if asked:
            raise KeyboardInterrupt
        asked = True
        # The interrupted code may be amid a write of its own to standard error.
        os.write(2, _STOPPING)

    before = signal.getsignal(signal.SIGINT)
    try:
        if before is not signal.SIG_IGN:
            signal.signal(signal.SIGINT, ask)
    except ValueError:  # only the main thread receives signals
        before = signal.SIG_IGN
    try:
        yield lambda: asked
    except NoPlanInTimeError:
        if asked:
            raise StoppedError from None
        raise
    finally:
        if before is not signal.SIG_IGN:
            signal.signal(signal.SIGINT, before)
