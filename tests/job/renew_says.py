"""Writes ``broken_says.txt`` anew: ``python tests/job/renew_says.py``, after a message was changed on purpose.

Read the difference before it is committed: it is what people will read.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from broken_base import as_folder, broken_sheets
from broken_cases import CELLS
from broken_files import FILES
from test_broken import said_of


def main() -> None:
    """Every case in its order, with what is said of it now."""
    lines = []
    for name in (*CELLS, *FILES):
        with tempfile.TemporaryDirectory() as where:
            path = as_folder(broken_sheets(*CELLS[name]), Path(where)) if name in CELLS else FILES[name](Path(where))
            kind, texts = said_of(path)
        assert len(texts) == 1, (name, texts)
        lines.append(f"{name}\t{kind}\t{texts[0]}\n")
    Path(__file__).with_name("broken_says.txt").write_text("".join(lines), encoding="utf-8", newline="")
    print(f"{len(lines)} messages written")


if __name__ == "__main__":
    main()
