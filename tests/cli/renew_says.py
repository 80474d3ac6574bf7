"""Writes ``lies_say.txt`` and ``messages.txt`` again: ``python tests/cli/renew_says.py``, after a message was changed.

Read the difference before it is committed: it is what people will read.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
import altered_lists
import messages


def main() -> None:
    """Every case in its order, with what is said of it now."""
    with tempfile.TemporaryDirectory() as where:
        good = altered_lists.planned(Path(where))
        lies = {name: altered_lists.said_of(good, name, Path(where) / "altered.xlsx") for name in altered_lists.LIES}
    with tempfile.TemporaryDirectory() as where:
        saw_list = messages.written_list(Path(where))
    said = {}
    for name in messages.CASES:
        with tempfile.TemporaryDirectory() as where:
            said[name] = messages.said_in(name, Path(where), saw_list)
    for file, texts in (("lies_say.txt", lies), ("messages.txt", said)):
        lines = [f"{name}\t{text}\n" for name, text in texts.items()]
        Path(__file__).with_name(file).write_text("".join(lines), encoding="utf-8", newline="")
        print(f"{file}: {len(lines)} messages written")


if __name__ == "__main__":
    main()
