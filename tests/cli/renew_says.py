"""Writes ``lies_say.txt`` again: ``python tests/cli/renew_says.py``, after a message of the check was changed.

Read the difference before it is committed: it is what people will read.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from altered_lists import LIES, planned, said_of


def main() -> None:
    """Every lie in its order, with what is said of it now."""
    with tempfile.TemporaryDirectory() as where:
        good = planned(Path(where))
        lines = [f"{name}\t{said_of(good, name, Path(where) / 'altered.xlsx')}\n" for name in LIES]
    Path(__file__).with_name("lies_say.txt").write_text("".join(lines), encoding="utf-8", newline="")
    print(f"{len(lines)} messages written")


if __name__ == "__main__":
    main()
