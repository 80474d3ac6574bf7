"""Copes, mitres, bends and points: from a job's members to blank lengths and shop marks.

Lengths inside are millimetres. This package knows nothing of bars, packing or files, and gives no opinion on
whether a frame is strong or within anyone's rules.
"""

from cutplan.geometry.ends import bevel, ears_and_throats, end_line
from cutplan.geometry.layout import Layout, lay_out
from cutplan.geometry.model import BendMark, Blank, EndShape, Part

__all__ = [
    "BendMark",
    "Blank",
    "EndShape",
    "Layout",
    "Part",
    "bevel",
    "ears_and_throats",
    "end_line",
    "lay_out",
]
