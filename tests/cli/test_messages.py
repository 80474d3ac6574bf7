"""Guards the wording of the commands: what is said to a person who uses them wrongly, or whose job has changed."""

from __future__ import annotations

from pathlib import Path

import pytest
from messages import CASES, SAYS, said_in, written_list


@pytest.fixture(scope="session")
def small(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The saw list that the cases begin with."""
    return written_list(tmp_path_factory.mktemp("small"))


@pytest.mark.parametrize("name", CASES)
def test_what_is_said(name: str, small: bytes, tmp_path: Path) -> None:
    """Exit code and every line, as they are in ``messages.txt``; ``python tests/cli/renew_says.py`` renews them."""
    assert said_in(name, tmp_path, small) == SAYS[name]


def test_each_message_has_its_case() -> None:
    """No line is left of a case that is gone."""
    assert list(SAYS) == list(CASES)
