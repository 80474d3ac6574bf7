"""What measuring before ordering could save, in words: a few sentences for each tube."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal

from cutplan.job.faults import listed
from cutplan.job.model import Settings
from cutplan.plan import wording
from cutplan.plan.measuring import Measuring, Price, Saving

TITLE = "What the estimates cost"


def measuring_blocks(found: Sequence[Measuring], settings: Settings) -> tuple[tuple[str, ...], ...]:
    """The sentences of each tube, what shops charge included; where there are several, of all of them together too."""
    blocks = tuple(tuple(_sentences(one, settings)) for one in found)
    if len(found) > 1 and len({one.priced for one in found}) == 1:
        greatest, likely = found[0].greatest, found[0].likely
        for one in found[1:]:
            greatest, likely = greatest + one.greatest, likely + one.likely
        return (*blocks, (f"Together: {_both(greatest, likely, found[0].priced, settings)}",))
    return blocks


def _sentences(one: Measuring, settings: Settings) -> Iterator[str]:
    kept = f" with {wording.counted(one.spares, 'spare')}" if one.spares else ", with no spare"
    yield f"{one.tube}{kept}: {_both(one.greatest, one.likely, one.priced, settings)}"
    if one.fewest is None:
        if not (one.greatest.proven and one.likely.proven):
            yield "Measuring before you order may still save something, which was not settled in the time given."
        return
    each = "; ".join(_one(saving, one.priced, settings) for saving in one.each)
    yield f"If you measure before you order, and find the likely length: {each}."
    if len(one.each) > 1:
        amount = _amount(one.fewest, one.priced, settings)
        only = "" if len(one.fewest.members) == len(one.each) else "only "
        yield f"To save {amount}, measure {only}{listed(one.fewest.members)}."


def _both(greatest: Price, likely: Price, priced: bool, settings: Settings) -> str:
    if greatest.cost == likely.cost:
        return f"{_price(greatest, priced, settings)}, and the same if every length turns out to be the likely one."
    return (
        f"{_price(greatest, priced, settings)} for the greatest lengths, {_price(likely, priced, settings)} if every "
        "length turns out to be the likely one."
    )


def _price(price: Price, priced: bool, settings: Settings) -> str:
    cost = wording.cost(price.cost, priced, settings)
    return cost if price.proven else f"{cost} (at least {wording.cost(price.bound, priced, settings)})"


def _one(saving: Saving, priced: bool, settings: Settings) -> str:
    (member,) = saving.members
    return f"{member} alone saves {_amount(saving, priced, settings)}"


def _amount(saving: Saving, priced: bool, settings: Settings) -> str:
    if not saving.most:
        return "nothing"
    most = wording.cost(saving.most, priced, settings)
    if saving.proven:
        return most
    return f"{wording.cost(saving.least, priced, settings) if saving.least > Decimal(0) else 'nothing'} to {most}"
