"""The screen that commands show their results on."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.console import Console


def console(*, stderr: bool = False) -> Console:
    """A console that leaves a closed pipe to ``exits``, as every other fault."""
    from rich.console import Console

    class Screen(Console):
        def on_broken_pipe(self) -> None:
            raise BrokenPipeError

    return Screen(stderr=stderr, highlight=False)
