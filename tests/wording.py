"""What people read, where a test asks for the words themselves: all of it in one file, renewed on purpose.

A test that takes the fixture ``as_worded`` gives it texts; they must be those that ``wording.txt`` has under the test's
name. After words were changed on purpose, ``python tests/renew_wording.py`` writes the file again. What a text is about
(that a fault is reported, of which cell, with which number) is asserted in the test, by fields and codes.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterable
from functools import cache
from itertools import count
from pathlib import Path

import pytest

HERE = Path(__file__).parent
FILE = Path(__file__).with_suffix(".txt")
RENEWING = "CUTPLAN_WORDING"
"""Where renewed texts go, in the environment, while they are renewed."""
Worded = Callable[..., None]
_HEADING = re.compile(r"\[((?:\w+/)?\w+\.py::.*)\]")


def blocks(text: str) -> dict[str, tuple[str, ...]]:
    """The lines under each heading of a file like ``wording.txt``."""
    found: dict[str, list[str]] = {}
    for line in text.splitlines():
        if heading := _HEADING.fullmatch(line):
            found[heading[1]] = lines = []
        elif line:
            lines.append(line)
    return {name: tuple(lines) for name, lines in found.items()}


def block(name: str, lines: Iterable[str]) -> str:
    """A heading and its lines, as they are in the file."""
    return "\n".join((f"[{name}]", *lines, "", ""))


def about(text: str, *what: str) -> str:
    """The lines of ``text`` that name any of these: marks, tubes, shops, files, whatever the words about them."""
    return "\n".join(line for line in text.splitlines() if any(one in line for one in what))


@pytest.fixture
def as_worded(request: pytest.FixtureRequest) -> Worded:
    """Ask whether these texts are those in ``wording.txt``. Folders made for the tests are written FOLDER in them."""
    test = f"{request.path.relative_to(HERE).as_posix()}::{request.node.name}"
    base = request.getfixturevalue("tmp_path_factory").getbasetemp()
    folder = re.compile(re.escape(str(base)) + r"[\\/][^\\/\s]+")
    numbers = count(1)

    def held(*texts: object) -> None:
        whole = folder.sub("FOLDER", "\n".join(str(text) for text in texts))
        lines = tuple(line.rstrip() for line in whole.splitlines() if line.strip())
        number = next(numbers)
        name = test if number == 1 else f"{test} ({number})"
        assert lines, "no words"
        if RENEWING in os.environ:
            with open(os.environ[RENEWING], "a", encoding="utf-8") as file:
                file.write(block(name, lines))
        else:
            assert lines == _kept().get(name), (
                f"changed on purpose? python tests/renew_wording.py {test.split('::')[0]}"
            )

    return held


@cache
def _kept() -> dict[str, tuple[str, ...]]:
    return blocks(FILE.read_text(encoding="utf-8"))
