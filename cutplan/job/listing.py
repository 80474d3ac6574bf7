"""Lists of names in a sentence, short enough to be read."""

from __future__ import annotations

from collections.abc import Sequence

_MOST, _SHOWN = 60, 40
"""So many names are reported in full; of more only the first few."""


def listed(names: Sequence[str]) -> str:
    """``names`` with commas between them; of a long list the first and how many more there are."""
    if len(names) <= _MOST:
        return ", ".join(names)
    return f"{', '.join(names[:_SHOWN])} and {len(names) - _SHOWN:,} more"
