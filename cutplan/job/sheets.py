"""The sheets of a job and their columns: the one list that reading, templates and docs share."""

from __future__ import annotations

from dataclasses import dataclass, fields

from cutplan.job.model import Settings


@dataclass(frozen=True, slots=True)
class Column:
    """A head, whether the sheet needs it, and what belongs under it."""

    head: str
    says: str
    needed: bool = False


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet by name, its columns in their usual order, and whether a job needs it."""

    name: str
    columns: tuple[Column, ...]
    needed: bool = True

    @property
    def heads(self) -> tuple[str, ...]:
        """The heads of all columns."""
        return tuple(column.head for column in self.columns)


SETTINGS: tuple[str, ...] = tuple(field.name.replace("_", " ") for field in fields(Settings))
"""The words allowed under ``setting``, in the order of :class:`~cutplan.job.model.Settings`."""

_NOTE = Column("note", "anything; not read")


def _end(side: str) -> tuple[Column, ...]:
    return (
        Column(f"end {side}", "square, mitre or cope (blank: square)"),
        Column(f"angle {side}", "degrees: a mitre's from square, a cope's between the axes; several joined by +"),
        Column(f"onto {side}", "what a cope sits on: a tube, a mark or an outside diameter; several joined by +"),
        Column(f"offset {side}", "distance between the axes at a cope (blank: 0)"),
        Column(f"measured {side}", "what the tape ran to at this end, where it differs from measured"),
    )


SHEETS: tuple[Sheet, ...] = (
    Sheet(
        "Job",
        (Column("setting", "one of the settings", needed=True), Column("value", "its value", needed=True), _NOTE),
    ),
    Sheet(
        "Tubes",
        (
            Column("tube", "a name for the section", needed=True),
            Column("od", "outside diameter", needed=True),
            Column("wall", "wall thickness", needed=True),
            Column("clr", "centreline radius of the die"),
            Column("stretch", "growth in length per 90° of bend, from a test bend"),
            Column("grip", "straight the bender must hold at each end"),
            Column("mass", "kg/m (lb/ft in inches); blank: from od, wall and density"),
            Column("density", "kg/m3 (lb/in3 in inches); blank: steel"),
            _NOTE,
        ),
    ),
    Sheet(
        "Stock",
        (
            Column("tube", "a name from Tubes", needed=True),
            Column("length", "length of the bar as it lies there", needed=True),
            Column("price", "of one bar"),
            Column("available", "how many (blank: as many as wanted; one where it is from the rack)"),
            Column("from", "buy or rack (blank: buy)"),
            Column("label", "what is written on the bar"),
            Column("end trim", "lost at each end of this bar, where it differs from the setting"),
            _NOTE,
        ),
    ),
    Sheet(
        "Members",
        (
            Column("mark", "the piece mark", needed=True),
            Column("tube", "a name from Tubes", needed=True),
            Column("qty", "how many (blank: 1)"),
            Column("pair", "yes: a left and a right"),
            Column("length", "as measured, with its ± if known; blank where Bends or Points give it"),
            Column("measured", "what the tape ran between: centre, face, long, short or tip (blank: centre)"),
            *_end("a"),
            *_end("b"),
            Column("turn", "degrees, end b's short side about the axis from end a's, clockwise from a to b (blank: 0)"),
            Column("insured", "no: a spare need not cover it (blank: yes)"),
            Column("note", "anything; shown with the member"),
        ),
    ),
    Sheet(
        "Bends",
        (
            Column("mark", "a bent member's mark", needed=True),
            Column("straight", "in front of the bend; the last row is the last straight", needed=True),
            Column("to", "what it was measured to: tangent, apex or outside (blank: tangent)"),
            Column("angle", "degrees of bend; blank in the last row"),
            Column("radius", "centreline radius (blank: the tube's clr)"),
            Column("rotation", "degrees about the tube from the bend before; of the first, from end a's short side"),
            _NOTE,
        ),
        needed=False,
    ),
    Sheet(
        "Points",
        (
            Column("mark", "the member's mark", needed=True),
            Column("x", "of a point of the centreline", needed=True),
            Column("y", "of a point of the centreline", needed=True),
            Column("z", "of a point of the centreline", needed=True),
            Column("radius", "centreline radius at an inner point (blank: the tube's clr)"),
            _NOTE,
        ),
        needed=False,
    ),
)
