"""A plan as tables: typed columns under the same names everywhere, one row a thing, lengths in the job's units.

Data frames of pandas. Lengths and angles are floats, counts whole numbers, money Decimals; what is not known is None
(in a column of floats: nan). ``frame.attrs["units"]`` names the unit of every length.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from cutplan.geometry.ends import end_line
from cutplan.geometry.model import EndShape
from cutplan.job.model import Cut as EndCut
from cutplan.job.model import Source
from cutplan.plan.model import Bar, Cut, Plan

if TYPE_CHECKING:
    import pandas as pd

Row = dict[str, Any]


def tables(plan: Plan) -> dict[str, pd.DataFrame]:
    """Every table of ``plan`` by its name: buy, saw list, bars, members, marks, bends, offcuts, spares."""
    return {name: _frame(plan, make(plan)) for name, make in TABLES.items()}


def table(plan: Plan, name: str) -> pd.DataFrame:
    """The table called ``name`` alone. Raises KeyError for one that is not in :data:`TABLES`."""
    return _frame(plan, TABLES[name](plan))


def _frame(plan: Plan, rows: Iterable[Row]) -> pd.DataFrame:
    import pandas as pd

    frame = pd.DataFrame(list(rows))
    frame.attrs["units"] = plan.job.settings.units.value
    return frame


def _length(plan: Plan) -> Callable[[Any], float]:
    mm = plan.job.settings.units.mm
    return lambda value: float(Fraction(value) / mm)


def _bars(plan: Plan) -> Iterable[Bar]:
    return (bar for tube in plan.tubes for bar in tube.bars)


def _cuts(plan: Plan) -> list[tuple[Cut, Bar]]:
    return sorted(((cut, bar) for bar in _bars(plan) for cut in bar.cuts), key=lambda pair: pair[0].number)


def _buy(plan: Plan) -> Iterable[Row]:
    to_units = _length(plan)
    for line in plan.buy:
        yield {
            "tube": line.tube,
            "length": to_units(line.length),
            "bars": line.count,
            "price": line.price,
            "cost": line.cost,
        }


def _saw_list(plan: Plan) -> Iterable[Row]:
    to_units = _length(plan)
    blanks = plan.by_mark()
    for cut, bar in _cuts(plan):
        blank = blanks[cut.mark]
        ends = (blank.end_b, blank.end_a) if cut.flipped else (blank.end_a, blank.end_b)
        yield {
            "cut": cut.number,
            "bar": bar.name,
            "tube": bar.tube,
            "mark": cut.mark,
            "blank": to_units(cut.blank),
            "first end": _shape(ends[0]),
            "second end": _shape(ends[1]),
            "start": to_units(cut.start),
            "left": to_units(cut.left),
            "if spoilt": cut.if_spoilt.how if cut.if_spoilt else None,
        }


def _bar_rows(plan: Plan) -> Iterable[Row]:
    to_units = _length(plan)
    for bar in _bars(plan):
        yield {
            "bar": bar.name,
            "tube": bar.tube,
            "from": bar.source.value,
            "label": bar.label,
            "length": to_units(bar.length),
            "price": bar.price if bar.source is Source.BUY else None,
            "cuts": len(bar.cuts),
            "spares": bar.spares,
            "left": to_units(bar.offcut),
        }


def _members(plan: Plan) -> Iterable[Row]:
    to_units = _length(plan)
    for blank in plan.blanks:
        yield {
            "mark": blank.mark,
            "member": blank.member,
            "tube": blank.tube,
            "pieces": blank.count,
            "blank": to_units(blank.length),
            "end a": _shape(blank.end_a),
            "end b": _shape(blank.end_b),
            "turn": blank.turn_deg if blank.turn_known else None,
            "bends": len(blank.bends),
            "insured": blank.insured,
            "note": blank.note,
        }


def _shape(shape: EndShape) -> str:
    """``square``, ``mitre 45`` or ``cope 55 HOOP + 60 FR``."""
    if shape.cut is EndCut.SQUARE:
        return "square"
    if shape.cut is EndCut.MITRE:
        return f"mitre {shape.angle_deg:g}"
    return "cope " + " + ".join(f"{round(one.angle_deg, 3):g} {one.onto.name}" for one in shape.saddles)


def _marks(plan: Plan) -> Iterable[Row]:
    to_units = _length(plan)
    for blank in plan.blanks:
        for name, shape in (("a", blank.end_a), ("b", blank.end_b)):
            if shape.cut is not EndCut.SQUARE:
                quarters = [to_units(depth) for depth in end_line(shape, (0.0, 90.0, 180.0, 270.0))]
                yield {
                    "mark": blank.mark,
                    "end": name,
                    **{f"at {turn}": depth for turn, depth in zip((0, 90, 180, 270), quarters, strict=True)},
                    "tip at": shape.tip_turn_deg,
                    "throat at": shape.throat_turn_deg,
                    "throat": to_units(shape.throat),
                }


def _bends(plan: Plan) -> Iterable[Row]:
    to_units = _length(plan)
    for blank in plan.blanks:
        for bend in blank.bends:
            yield {
                "mark": blank.mark,
                "bend": bend.number,
                "start": to_units(bend.start),
                "bender's mark": to_units(bend.mark),
                "angle": bend.angle_deg,
                "radius": to_units(bend.radius),
                "rotation": bend.rotation_deg,
            }


def _offcuts(plan: Plan) -> Iterable[Row]:
    to_units = _length(plan)
    for bar in _bars(plan):
        yield {
            "bar": bar.name,
            "tube": bar.tube,
            "left": to_units(bar.offcut),
            "usable": to_units(bar.usable),
            "spares": bar.spares,
            "worth keeping": bar.offcut >= plan.job.settings.keep,
        }


def _spares(plan: Plan) -> Iterable[Row]:
    to_units = _length(plan)
    for tube in plan.tubes:
        yield {
            "tube": tube.tube,
            "kept": tube.spares.wanted,
            "length": to_units(tube.spares.length),
            "insured": ", ".join(tube.spares.insured),
            "not insured": ", ".join(tube.spares.not_insured),
        }


TABLES: Mapping[str, Callable[[Plan], Iterable[Row]]] = {
    "buy": _buy,
    "saw list": _saw_list,
    "bars": _bar_rows,
    "members": _members,
    "marks": _marks,
    "bends": _bends,
    "offcuts": _offcuts,
    "spares": _spares,
}
"""By name, what makes the rows."""
