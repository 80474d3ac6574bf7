"""Full-size paper wraps to mark copes and mitres by: PDF on A4 or Letter, tiled where need be, and SVG."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

from cutplan.errors import FaultError
from cutplan.geometry.model import Blank
from cutplan.job.model import INCH, Job
from cutplan.output.files import write_beside, write_text
from cutplan.output.pdf import POINT_MM, Paper, begin_path, latin, new_canvas
from cutplan.plan.tables.wraps import Stroke, Words, Wrap, every_wrap

_MARGIN = 12.0
_TOP = 34.0
_BOTTOM = 20.0
_LAP = 10.0
"""How much neighbouring tiles share (mm)."""

_HELPS = (
    "Print at 100 % (no fit to page). Cut out the frame, wrap it printed side out, mark along the thick line.",
    "It is the finished joint on the outside of the tube. Lengths only; check before cutting.",
)


class WrapError(FaultError):
    """A member with nothing to wrap."""

    def __init__(self, mark: str) -> None:
        rule = "both ends are square, and a square end needs no wrap"
        super().__init__(rule, cure="mark it from the saw list", where=mark)


@dataclass(frozen=True, slots=True)
class Tile:
    """One page of a wrap: paper size, and the part of the wrap that it shows (all in mm). A point x, y of the wrap
    is ``x - left + _MARGIN`` from the page's left edge and ``y - top + _MARGIN + _TOP`` from its upper edge."""

    paper_width: float
    paper_height: float
    left: float
    top: float
    width: float
    height: float

    def to_page(self, x: float, y: float) -> tuple[float, float]:
        """A point of the wrap in PDF points from the page's lower left corner."""
        across = x - self.left + _MARGIN
        down = y - self.top + _MARGIN + _TOP
        return across / POINT_MM, (self.paper_height - down) / POINT_MM


def write_wraps(job: Job, blanks: Sequence[Blank], path: Path, *, paper: Paper = Paper.A4) -> None:
    """Write the wraps of ``blanks`` of ``job`` to ``path``: one SVG if it is called so, else a PDF.

    A blank with square ends only is left out. Raises WrapError where none has anything to wrap, OutputError.
    """
    wraps = every_wrap(job, blanks)
    if not wraps:
        raise WrapError(", ".join(blank.mark for blank in blanks))
    if path.suffix.lower() == ".svg":
        write_text(path, svg(wraps, paper))
    else:
        write_beside(path, lambda beside: _pdf(wraps, beside, paper))


def tiles(wrap: Wrap, paper: Paper) -> tuple[Tile, ...]:
    """The pages that a wrap takes, on paper upright or on its side, whichever takes fewer (upright where equal)."""
    short, long = paper.value
    upright, sideways = _tiles(wrap, short, long), _tiles(wrap, long, short)
    return upright if len(upright) <= len(sideways) else sideways


def _tiles(wrap: Wrap, width: float, height: float) -> tuple[Tile, ...]:
    across, down = width - 2 * _MARGIN, height - 2 * _MARGIN - _TOP - _BOTTOM
    columns, rows = _count(wrap.width, across), _count(wrap.height, down)
    return tuple(
        Tile(
            width,
            height,
            column * (across - _LAP),
            row * (down - _LAP),
            min(across, wrap.width - column * (across - _LAP)),
            min(down, wrap.height - row * (down - _LAP)),
        )
        for row in range(rows)
        for column in range(columns)
    )


def _count(length: float, room: float) -> int:
    return max(1, ceil((length - _LAP) / (room - _LAP)))


def _pdf(wraps: Sequence[Wrap], path: Path, paper: Paper) -> None:
    canvas = new_canvas(path, "Paper wraps")
    for wrap in wraps:
        pages = tiles(wrap, paper)
        for number, tile in enumerate(pages, 1):
            canvas.setPageSize((tile.paper_width / POINT_MM, tile.paper_height / POINT_MM))
            draw_tile(canvas, wrap, pages, number, paper)
            canvas.showPage()
    canvas.save()


def draw_tile(canvas: Any, wrap: Wrap, pages: Sequence[Tile], number: int, paper: Paper) -> None:
    """Draw sheet ``number`` of the ``pages`` that ``wrap`` takes."""
    tile = pages[number - 1]
    part = f", sheet {number} of {len(pages)}" if len(pages) > 1 else ""
    _surround(canvas, tile, wrap.title + part, wrap.helps, paper)
    _inside(canvas, tile, wrap)
    if len(pages) > 1:
        _register(canvas, tile, wrap)


def draw_whole(canvas: Any, wrap: Wrap) -> None:
    """Draw all of ``wrap`` true to size, its upper left corner where the canvas has its origin."""
    _draw(canvas, Tile(0.0, 0.0, _MARGIN, _MARGIN + _TOP, wrap.width, wrap.height), wrap)


def _draw(canvas: Any, tile: Tile, wrap: Wrap) -> None:
    for stroke in (*wrap.strokes, wrap.line):
        _stroke(canvas, tile, stroke)
    canvas.setDash()
    for text in wrap.words:
        _words(canvas, tile, text)


def _surround(canvas: Any, tile: Tile, title: str, more: Sequence[str], paper: Paper) -> None:
    """Title, how to use it, and the bar that proves the printer's scale."""
    top = tile.paper_height / POINT_MM
    left = _MARGIN / POINT_MM
    canvas.setDash()
    canvas.setFont("Helvetica-Bold", 12)
    canvas.drawString(left, top - 16 / POINT_MM, latin(title))
    canvas.setFont("Helvetica", 9)
    for number, text in enumerate((*_HELPS, *more)):
        canvas.drawString(left, top - (20.5 + 4 * number) / POINT_MM, latin(text))
    bar, says = _check_bar(paper)
    up = 14 / POINT_MM
    canvas.setLineWidth(0.3 / POINT_MM)
    canvas.line(left, up, left + bar / POINT_MM, up)
    for end in (left, left + bar / POINT_MM):
        canvas.line(end, up - 2 / POINT_MM, end, up + 2 / POINT_MM)
    canvas.drawString(left + 2 / POINT_MM, up + 1.2 / POINT_MM, f"measure this first: {says}")


def _check_bar(paper: Paper) -> tuple[float, str]:
    """How long the check bar is, in mm and in words."""
    return (100.0, "100 mm") if paper is Paper.A4 else (4 * float(INCH), "4 in")


def _inside(canvas: Any, tile: Tile, wrap: Wrap) -> None:
    canvas.saveState()
    x, y = tile.to_page(tile.left, tile.top + tile.height)
    window = canvas.beginPath()
    # Half a millimetre more all round, so that lines along the edge print in full.
    more = 0.5 / POINT_MM
    window.rect(x - more, y - more, tile.width / POINT_MM + 2 * more, tile.height / POINT_MM + 2 * more)
    canvas.clipPath(window, stroke=0, fill=0)
    _draw(canvas, tile, wrap)
    canvas.restoreState()


def _stroke(canvas: Any, tile: Tile, stroke: Stroke) -> None:
    points = (tile.to_page(x, y) for x, y in stroke.points)
    canvas.drawPath(begin_path(canvas, points, stroke.width, stroke.dash), stroke=1, fill=0)


def _words(canvas: Any, tile: Tile, text: Words) -> None:
    x, y = tile.to_page(text.x, text.y)
    # A capital of Helvetica is 0.72 of its size high (its published metrics).
    canvas.setFont("Helvetica", text.size / 0.72 / POINT_MM)
    if not text.upright:
        canvas.drawString(x, y, latin(text.text))
        return
    canvas.saveState()
    canvas.translate(x, y)
    canvas.rotate(90)
    canvas.drawString(0, 0, latin(text.text))
    canvas.restoreState()


def _register(canvas: Any, tile: Tile, wrap: Wrap) -> None:
    """Crosses in the middle of what neighbouring tiles share: lay one on the other."""
    across = [x + _LAP / 2 for x in (tile.left, tile.left + tile.width - _LAP) if 0 < x + _LAP / 2 < wrap.width]
    downs = [tile.top + tile.height * share for share in (0.15, 0.85)]
    points = [(x, y) for x in across for y in downs if not (x < _LAP and tile.left == 0)]
    points += [
        (tile.left + tile.width * share, y + _LAP / 2)
        for share in (0.15, 0.85)
        for y in (tile.top, tile.top + tile.height - _LAP)
        if not (y == tile.top and tile.top == 0) and y + tile.height / 2 < wrap.height
    ]
    for x, y in points:
        for dx, dy in ((4.0, 0.0), (0.0, 4.0)):
            _stroke(canvas, tile, Stroke(((x - dx, y - dy), (x + dx, y + dy)), 0.2))


def svg(wraps: Sequence[Wrap], paper: Paper = Paper.A4) -> str:
    """The wraps one under the other as one SVG in mm, not tiled, with the check bar above them."""
    bar, says = _check_bar(paper)
    gap = 12.0
    # At least as wide as the longest line of help.
    width = max(bar, 160.0, *(wrap.width for wrap in wraps)) + 2 * gap
    lines = [
        _line(Stroke(((gap, gap), (gap + bar, gap)), 0.3)),
        *(_line(Stroke(((x, gap - 2), (x, gap + 2)), 0.3)) for x in (gap, gap + bar)),
        _text(Words(f"measure this first: {says}", gap + 2, gap - 1.2)),
    ]
    top = 2 * gap
    for wrap in wraps:
        said = (wrap.title, *_HELPS, *wrap.helps)
        lines += [_text(Words(text, gap, top + 4 * row, 2.3)) for row, text in enumerate(said, 1)]
        top += 4 * len(said) + 3
        lines.append(f'<g transform="translate({gap:g} {top:g})">')
        lines += [_line(stroke) for stroke in wrap.strokes]
        lines.append(_line(wrap.line, ' class="line"'))
        lines += [_text(text) for text in wrap.words]
        lines.append("</g>")
        top += wrap.height + gap
    heading = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.3f}mm" height="{top:.3f}mm" '
        f'viewBox="0 0 {width:.3f} {top:.3f}">'
    )
    return "\n".join((heading, *lines, "</svg>", ""))


def _line(stroke: Stroke, more: str = "") -> str:
    points = " ".join(f"{x:.4f},{y:.4f}" for x, y in stroke.points)
    dash = f' stroke-dasharray="{stroke.dash:g}"' if stroke.dash else ""
    return f'<polyline{more} fill="none" stroke="black" stroke-width="{stroke.width:g}"{dash} points="{points}"/>'


def _text(text: Words) -> str:
    turn = f' transform="rotate(-90 {text.x:.3f} {text.y:.3f})"' if text.upright else ""
    size = f'font-family="Helvetica, Arial, sans-serif" font-size="{text.size / 0.72:.3f}"'
    return f'<text x="{text.x:.3f}" y="{text.y:.3f}" {size}{turn}>{escape(text.text)}</text>'
