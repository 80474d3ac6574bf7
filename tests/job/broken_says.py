"""What must be said of each broken job: name, whether the job cannot be read at all, the message."""

from __future__ import annotations

from pathlib import Path

SAYS = {
    name: (kind, text)
    for name, kind, text in (
        line.split("\t") for line in Path(__file__).with_suffix(".txt").read_text(encoding="utf-8").split("\n") if line
    )
}
SECONDS = 8.0
"""Of processor time, so that a busy machine fails no test; some of it is what measuring coverage costs."""
