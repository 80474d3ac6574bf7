"""Writes ``wording.txt`` again: ``python tests/renew_wording.py [MODULE ...]``, after words were changed on purpose.

MODULE is a module of tests below this folder, such as plan/test_steps.py; without one, every module with such texts.
Read the difference before it is committed: it is what people will read.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from wording import FILE, HERE, RENEWING, block, blocks


def main() -> None:
    """Run the tests that ask for words, take down what they ask for, and put it in place of what was there."""
    using = [path for path in sorted(HERE.rglob("test_*.py")) if "as_worded(" in path.read_text(encoding="utf-8")]
    modules = sys.argv[1:] or [path.relative_to(HERE).as_posix() for path in using]
    kept = blocks(FILE.read_text(encoding="utf-8")) if FILE.exists() else {}
    with tempfile.TemporaryDirectory() as folder:
        written = Path(folder) / "wording.txt"
        written.touch()
        subprocess.run(
            [sys.executable, "-m", "pytest", "-q", "-n", "0", *(str(HERE / module) for module in modules)],
            env=os.environ | {RENEWING: str(written), "CI": "1"},
            cwd=HERE.parent,
            check=True,
        )
        new = blocks(written.read_text(encoding="utf-8"))
    left = {name: lines for name, lines in kept.items() if name.split("::")[0] not in modules}
    whole = sorted((left | new).items(), key=lambda each: each[0].split("::")[0])
    FILE.write_text("".join(block(name, lines) for name, lines in whole), encoding="utf-8", newline="")
    print(f"{len(new)} texts written, {len(left)} left as they are")


if __name__ == "__main__":
    main()
