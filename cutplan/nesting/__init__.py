"""The packing engine: whole-number lengths into bars, at the least cost, with a bound that can be trusted.

It knows nothing of tubes, units or files, and it will not print, read or write anything.
"""

from cutplan.nesting.linear import Region
from cutplan.nesting.model import PackedBar, Packing, Piece, Progress, Spare, Status, Stock
from cutplan.nesting.packing import pack, pack_most

__all__ = [
    "PackedBar",
    "Packing",
    "Piece",
    "Progress",
    "Region",
    "Spare",
    "Status",
    "Stock",
    "pack",
    "pack_most",
]
