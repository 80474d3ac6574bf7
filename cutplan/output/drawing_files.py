"""Sheets of drawings as a PDF, a page for each, or as one SVG, one below the other."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from cutplan.output.files import write_beside, write_text
from cutplan.output.pdf import POINT_MM, latin, new_canvas
from cutplan.plan.tables.labels import CAPITAL
from cutplan.plan.tables.sheet import Sheet
from cutplan.plan.tables.wraps import Stroke, Words


def write_sheets(sheets: Sequence[Sheet], path: Path) -> None:
    """Write ``sheets`` to ``path``: an SVG if it is called so, else a PDF. Raises OutputError."""
    if path.suffix.lower() == ".svg":
        write_text(path, svg(sheets))
    else:
        write_beside(path, lambda beside: _pdf(sheets, beside))


def _pdf(sheets: Sequence[Sheet], path: Path) -> None:
    from reportlab.graphics import renderPDF

    canvas = new_canvas(path, "Drawings")
    for sheet in sheets:
        canvas.setPageSize((sheet.width / POINT_MM, sheet.height / POINT_MM))
        renderPDF.draw(drawing([sheet]), canvas, 0, 0)
        canvas.showPage()
    canvas.save()


def svg(sheets: Sequence[Sheet]) -> str:
    """All of them as the text of one SVG, true to scale in mm."""
    from reportlab.graphics import renderSVG

    picture = drawing(sheets)
    made = renderSVG.drawToString(picture)
    text = made.decode("utf-8") if isinstance(made, bytes) else str(made)
    width, height = picture.width, picture.height
    # The library cuts the size to whole points.
    size = f'width="{width * POINT_MM:.3f}mm" height="{height * POINT_MM:.3f}mm" viewBox="0 0 {width:.3f} {height:.3f}"'
    text = re.sub(r'<svg width="[^"]*" height="[^"]*"( [^>]*?)viewBox="[^"]*"', rf"<svg \1{size}", text, count=1)
    text = re.sub(r"translate\(0,-\d+\)", f"translate(0,-{height:.3f})", text, count=1)
    return re.sub(r"<title>.*?</title>\s*<desc>.*?</desc>", f"<title>{SVG_TITLE}</title>", text, count=1)


SVG_TITLE = "cutplan: drawings"
"""By which such a file is known again."""


def drawing(sheets: Sequence[Sheet]) -> Any:
    """The sheets one below the other, as a drawing of reportlab's; one alone is a page, or a picture on a page."""
    from reportlab.graphics.shapes import Drawing

    width, height = max(sheet.width for sheet in sheets), sum(sheet.height for sheet in sheets)
    made = Drawing(width / POINT_MM, height / POINT_MM)
    top = height
    for sheet in sheets:
        for shape in _shapes(sheet, top):
            made.add(shape)
        top -= sheet.height
    return made


def _shapes(sheet: Sheet, top: float) -> list[Any]:
    from reportlab.graphics.shapes import Rect
    from reportlab.lib.colors import white

    patches = [
        Rect(
            box.x / POINT_MM,
            (top - box.y - box.height) / POINT_MM,
            box.width / POINT_MM,
            box.height / POINT_MM,
            fillColor=white,
            strokeColor=None,
        )
        for box in sheet.patches
    ]
    return [
        *(_line(stroke, top) for stroke in sheet.strokes),
        *patches,
        *(_line(stroke, top) for stroke in sheet.leaders),
        *(_text(words, top, number < sheet.bold) for number, words in enumerate(sheet.words)),
    ]


def _line(stroke: Stroke, top: float) -> Any:
    from reportlab.graphics.shapes import PolyLine
    from reportlab.lib.colors import black

    points = [value for x, y in stroke.points for value in (round(x / POINT_MM, 3), round((top - y) / POINT_MM, 3))]
    dash = [stroke.dash / POINT_MM, stroke.dash / POINT_MM] if stroke.dash else None
    return PolyLine(
        points,
        strokeWidth=stroke.width / POINT_MM,
        strokeColor=black,
        strokeDashArray=dash,
        strokeLineCap=1,
        strokeLineJoin=1,
    )


def _text(words: Words, top: float, bold: bool) -> Any:
    from reportlab.graphics.shapes import Group, String

    text = String(
        0,
        0,
        latin(words.text),
        fontName="Helvetica-Bold" if bold else "Helvetica",
        fontSize=round(words.size / CAPITAL / POINT_MM, 3),
    )
    group = Group(text)
    group.translate(words.x / POINT_MM, (top - words.y) / POINT_MM)
    if words.upright:
        group.rotate(90)
    return group
