"""What geometry refuses, with the column of the member's row that is to blame."""

from __future__ import annotations

from cutplan.errors import FaultError, report
from cutplan.geometry.figures import MILLIMETRES, Figures
from cutplan.job.faults import Fault, Place


class GeometryError(FaultError):
    """A shape that cannot be made: the rule broken, the value received, the cure, the column to blame.

    ``lengths`` (mm) fill the places ``{0}``, ``{1}`` ... of the three texts, so that each reader sees them in
    the units of the job; ``places`` fill ``<0>``, ``<1>`` ... of the rule, and
    make the lengths misses, to be shown as a tape finds them.
    """

    def __init__(
        self,
        rule: str,
        got: str | None = None,
        cure: str = "",
        column: str = "",
        lengths: tuple[float, ...] = (),
        places: tuple[tuple[float, float, float], ...] = (),
    ) -> None:
        super().__init__(rule, got, cure)
        self.column, self.lengths, self.places = column, lengths, places

    def __str__(self) -> str:
        return report("", *self._texts(MILLIMETRES))

    def fault(self, place: Place, figures: Figures, end: str = "") -> Fault:
        """The same as a fault at ``place``, in this error's column of ``end`` ("a", "b", or "" for none)."""
        column = f"{self.column} {end}".strip()
        rule, got, cure = self._texts(figures)
        return Fault(place.at(column) if self.column else place, rule, got, cure)

    def _texts(self, figures: Figures) -> tuple[str, str | None, str]:
        # A length with a place is a miss, not a figure to calculate with.
        named = [figures.about(length) if self.places else figures.named(length) for length in self.lengths]
        got = self.got.format(*named) if self.got is not None else None
        rule = self.rule.format(*named)
        for number, place in enumerate(self.places):
            rule = rule.replace(f"<{number}>", figures.place(place))
        return rule, got, self.cure.format(*named)
