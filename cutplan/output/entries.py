"""Where a person writes on a saw list, and entries that no one can read: formulas without a result."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from cutplan.output.sheets import bars_in_hand, saw_list
from cutplan.output.ticks import Row, SawListError, below_heads

Sheets = Mapping[str, Sequence[Row]]

ENTRIES = {
    saw_list.TITLE: (saw_list.DONE, saw_list.SPOILT, saw_list.STILL_GOOD, saw_list.FITTED),
    bars_in_hand.TITLE: (bars_in_hand.STRUCK_OUT, bars_in_hand.MEASURED),
}
"""Heads under which a person writes."""


def refuse_uncalculated(results: Sheets, written: Sheets) -> None:
    """Refuse a saw list on which an entry is a formula that was never calculated, which would be taken for empty.

    ``results``: the cells' values; ``written``: as they were written, formulas as text. Raises SawListError."""
    for title, heads in ENTRIES.items():
        if title not in results:
            continue
        needed = [head for head in heads if head != saw_list.FITTED]  # lists from before have no such column
        both = zip(below_heads(title, results[title], needed), below_heads(title, written[title], needed), strict=False)
        for (place, values), (_, texts) in both:
            for head in heads:
                text = texts.get(head)
                if values.get(head) is None and isinstance(text, str) and text.startswith("="):
                    raise SawListError(
                        place.at(head),
                        "was never calculated",
                        "open and save the list in a spreadsheet program, or type its result",
                        text,
                    )
