"""What a column of a table holds. A row is a frozen dataclass with exact values in mm; those of its fields that are
annotated with a :class:`Kind` are the table's columns, and the rest is for laying it out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from functools import cache
from typing import Annotated, Any, get_args, get_type_hints

from cutplan.job.model import Units
from cutplan.plan.wording import number


class Kind(Enum):
    """What a column holds, by its unit ("length": the job's own)."""

    TEXT = ""
    COUNT = "count"
    FLAG = "yes or no"
    LENGTH = "length"
    ANGLE = "deg"
    MONEY = "money"


Text = Annotated[str, Kind.TEXT]
Count = Annotated[int, Kind.COUNT]
Flag = Annotated[bool, Kind.FLAG]
Length = Annotated[Fraction, Kind.LENGTH]
MaybeLength = Annotated[Fraction | None, Kind.LENGTH]
Worked = Annotated[float, Kind.LENGTH]
"""A length that comes out of a curve, in mm."""
Angle = Annotated[float, Kind.ANGLE]
Money = Annotated[Decimal | None, Kind.MONEY]


@dataclass(frozen=True, slots=True)
class TableColumn:
    """``name``: as a person reads it; ``field``: the row's own."""

    name: str
    field: str
    kind: Kind

    def heading(self, units: Units) -> str:
        """The name with the unit in brackets, where there is one."""
        unit = {Kind.LENGTH: units.value, Kind.ANGLE: Kind.ANGLE.value}.get(self.kind)
        return f"{self.name} ({unit})" if unit else self.name

    def value(self, row: object, units: Units) -> Any:
        """What ``row`` holds here; a length as a plain number in ``units``."""
        value = getattr(row, self.field)
        return number(value, units) if self.kind is Kind.LENGTH and value is not None else value


@cache
def columns_of(row: type) -> tuple[TableColumn, ...]:
    """The columns of a table whose rows are of class ``row``. A name other than the field's follows the kind."""
    hints = get_type_hints(row, include_extras=True)
    found = []
    for field in fields(row):
        marked = [one for one in get_args(hints[field.name])[1:] if isinstance(one, Kind | str)]
        if marked and isinstance(marked[0], Kind):
            name = marked[1] if len(marked) > 1 else field.name.replace("_", " ")
            found.append(TableColumn(str(name), field.name, marked[0]))
    return tuple(found)


def frame(rows: Sequence[object], row: type, units: Units) -> Any:
    """``rows`` as a data frame of pandas: lengths as floats in ``units``, which ``attrs["units"]`` names."""
    import pandas as pd

    found = pd.DataFrame({one.name: [one.value(each, units) for each in rows] for one in columns_of(row)})
    lengths = [one.name for one in columns_of(row) if one.kind is Kind.LENGTH]
    found[lengths] = found[lengths].astype(float)
    found.attrs["units"] = units.value
    return found
