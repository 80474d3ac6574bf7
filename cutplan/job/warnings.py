"""What reads well and may not be what was meant: remarks that stop nothing."""

from __future__ import annotations

import re
from fractions import Fraction

from cutplan.job.cells import Cells
from cutplan.job.faults import Remark
from cutplan.job.model import Units

_SHORTEST = Fraction(5)
"""mm; no member of a frame is as short as that."""
_POINT = re.compile(r"(\d{1,3})\.(\d{3})", re.ASCII)


def remark_length(cells: Cells, length: Fraction | None, remarks: list[Remark], *, member: bool) -> None:
    """A length in mm with a point before its last three figures may mean thousands; a ``member`` under 5 mm may be
    meant in another unit."""
    if length is None:
        return
    cell = cells.row.cells["length"]
    point = _POINT.fullmatch(cell) if isinstance(cell, str) and cells.units is Units.MM else None
    if point is not None:
        whole = f"{point[1]}{point[2]}".lstrip("0")
        text = f'"{cell}" is read as {cells.show(length)} (if the point is for thousands, leave it out: {whole})'
    elif member and length < _SHORTEST:
        text = f"is only {cells.show(length)} (check the unit and the decimal point)"
    else:
        return
    remarks.append(Remark(cells.place.at("length"), text))
