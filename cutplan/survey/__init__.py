"""Named nodes of a frame from tape distances: where they are, how well that is known, and which reading is a slip.

Coordinates by least squares, more readings than needed being what shows a mistake. Millimetres throughout. It knows
nothing of tubes, members or files, and it never says that a reading is wrong where the others cannot tell.
"""

from cutplan.survey.adjust import adjust
from cutplan.survey.model import (
    COVERAGE,
    Adjustment,
    Advice,
    Astray,
    Distance,
    Either,
    Known,
    Node,
    Place,
    Reading,
    Side,
    Sign,
    Slip,
    SurveyError,
    Weak,
)

__all__ = [
    "COVERAGE",
    "Adjustment",
    "Advice",
    "Astray",
    "Distance",
    "Either",
    "Known",
    "Node",
    "Place",
    "Reading",
    "Side",
    "Sign",
    "Slip",
    "SurveyError",
    "Weak",
    "adjust",
]
