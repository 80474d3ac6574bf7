"""The screen that commands show their results on."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.console import Console


_USUAL_WIDTH = 80


def console(*, stderr: bool = False) -> Console:
    """A console that leaves a closed pipe to ``exits``, as every other fault."""
    from rich.console import Console

    class Screen(Console):
        def on_broken_pipe(self) -> None:
            raise BrokenPipeError

    screen = Screen(stderr=stderr, highlight=False)
    # COLUMNS=0, as some schedulers set it, is no width: everything would be cut away.
    return screen if screen.width > 0 else Screen(stderr=stderr, highlight=False, width=_USUAL_WIDTH)
