"""What all PDFs that are written share: paper, sizes in mm, lines, and letters."""

from __future__ import annotations

from collections.abc import Iterable
from enum import Enum
from pathlib import Path
from typing import Any

from cutplan.job.model import Units

POINT_MM = 25.4 / 72


class Paper(Enum):
    """Paper by its short and long side in mm."""

    A4 = (210.0, 297.0)
    LETTER = (215.9, 279.4)

    @classmethod
    def of(cls, name: str | None, units: Units) -> Paper:
        """The paper called ``name``; None: A4 for ``units`` of mm, Letter for inches."""
        return cls[name.upper()] if name else cls.A4 if units is Units.MM else cls.LETTER


def new_canvas(path: Path, title: str, *, compressed: bool = False) -> Any:
    """An empty PDF to be written to ``path``: without a date or a random name, so that the same content gives the same
    file."""
    from reportlab.pdfgen.canvas import Canvas

    canvas = Canvas(str(path), invariant=1, pageCompression=int(compressed))
    canvas.setTitle(latin(title))
    canvas.setCreator("cutplan")
    return canvas


def begin_path(canvas: Any, points: Iterable[tuple[float, float]], width: float, dash: float) -> Any:
    """A path through ``points`` (PDF points), to be drawn in lines ``width`` mm wide, with dashes of ``dash`` mm (0:
    unbroken)."""
    canvas.setLineWidth(width / POINT_MM)
    canvas.setDash(*([dash / POINT_MM] * 2 if dash else []))
    path = canvas.beginPath()
    first, *rest = points
    path.moveTo(*first)
    for point in rest:
        path.lineTo(*point)
    return path


def latin(text: str) -> str:
    """What the PDF's built-in letters can show; the rest as question marks."""
    return text.encode("cp1252", "replace").decode("cp1252")
