"""Guards what ``next`` shows: within the width of a terminal, with further lines under their first word; whole in a
pipe."""

from __future__ import annotations

import io

from rich.console import Console

from cutplan.output.terminal import show_progress

WORDS = " ".join(f"word{number}" for number in range(30))
BLOCKS = [("Now", ["first", f"  {WORDS}"])]


def shown(*, terminal: bool) -> list[str]:
    """What is shown on 60 columns, without what makes it bold."""
    file = io.StringIO()
    console = Console(file=file, width=60, force_terminal=terminal, color_system=None, no_color=True)
    show_progress("Frame", BLOCKS, console)
    return [line.replace("\x1b[1m", "").replace("\x1b[0m", "").rstrip() for line in file.getvalue().splitlines()]


def test_on_a_terminal_lines_keep_to_its_width() -> None:
    """No line is wider than the terminal or broken by it, and no word is lost; further lines are further in."""
    title, _, heading, first, *rest = shown(terminal=True)
    assert (title, heading, first.strip()) == ("Frame", "Now", "first")
    assert len(rest) > 3
    assert max(map(len, rest)) in range(50, 61)
    assert " ".join(line.strip() for line in rest) == WORDS
    indents = [len(line) - len(line.lstrip()) for line in (first, *rest)]
    assert indents[0] < indents[1] < indents[2]
    assert len(set(indents[2:])) == 1


def test_in_a_pipe_a_line_is_one_line() -> None:
    """Another program gets each line whole."""
    *_, first, last = shown(terminal=False)
    assert (first.strip(), last.strip()) == ("first", WORDS)
