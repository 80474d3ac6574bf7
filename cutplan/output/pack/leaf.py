"""A page of the printed pack: lines, boxes and text in mm from its upper left corner, text always inside its box."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from reportlab.pdfbase.pdfmetrics import stringWidth

from cutplan.output.pdf import POINT_MM, Paper, begin_path, latin

MARGIN = 10.0
"""Of every page, in mm."""

FOOT = 8.0
"""Kept at the lower edge of every page for its number, in mm."""

_LINE = 1.17
"""How far lines of text are from each other, in sizes."""

_READABLE = 7.0
_SMALLEST = 2.0
"""Points: below the first, words may be broken to keep letters larger; the second is where shrinking ends."""

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Text:
    """Lines of text, the size in points that they fit at, and how high they are together in mm."""

    lines: tuple[str, ...]
    size: float
    bold: bool

    @property
    def height(self) -> float:
        """In mm."""
        return len(self.lines) * self.size * _LINE * POINT_MM


@dataclass(slots=True)
class Leaf:
    """A page of ``width`` by ``height`` mm. ``part``: of the pack that it belongs to, shown in its foot."""

    width: float
    height: float
    part: str = ""
    _made: list[Callable[[Any], None]] = field(default_factory=list)

    @property
    def right(self) -> float:
        """The right margin, in mm from the left edge."""
        return self.width - MARGIN

    @property
    def bottom(self) -> float:
        """The lower end of what may be used, in mm from the upper edge."""
        return self.height - MARGIN - FOOT

    def text(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        text: str,
        size: float,
        *,
        bold: bool = False,
        align: str = "left",
        middle: bool = True,
        whole: bool = False,
    ) -> float:
        """Set ``text`` in the box, in letters of at most ``size`` points, smaller where it would not fit. ``align``:
        left, centre or right; ``middle``: half-way down the box, else at its top; ``whole``: on one line, and no
        word broken. Gives its height in mm."""
        laid = fitted(text, width, height, size, bold=bold, whole=whole)
        top = y + (max(height - laid.height, 0.0) / 2.0 if middle else 0.0)
        # The ascent of Helvetica is 0.72 of its size, its descent 0.21: centred in the line.
        for number, line in enumerate(laid.lines):
            base = top + (number * _LINE + 0.5 * _LINE + 0.255) * laid.size * POINT_MM
            left = x + {"left": 0.0, "centre": 0.5, "right": 1.0}[align] * (
                width - width_of(line, laid.size, bold=bold)
            )
            self._made.append(_write(line, left, base, laid.size, bold, self.height))
        return laid.height

    def upright(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        text: str,
        size: float,
        *,
        bold: bool = False,
        least: float,
    ) -> bool:
        """Set ``text`` from the bottom up in the middle of the box, in letters of at most ``size`` points; nothing
        where they would be smaller than ``least``. Gives whether it was set."""
        fits = min(
            size, size * (height - 0.8) / max(width_of(text, size, bold=bold), 0.1), (width - 0.6) / 0.75 / POINT_MM
        )
        if fits < least:
            return False
        # A capital of Helvetica is 0.72 of its size high.
        base = x + width / 2.0 + 0.36 * fits * POINT_MM
        start = y + (height + width_of(text, fits, bold=bold)) / 2.0

        def draw(canvas: Any) -> None:
            canvas.saveState()
            canvas.setFillGray(0)
            canvas.setFont(_font(bold), fits)
            canvas.translate(base / POINT_MM, (self.height - start) / POINT_MM)
            canvas.rotate(90)
            canvas.drawString(0, 0, latin(text))
            canvas.restoreState()

        self._made.append(draw)
        return True

    def line(self, points: Sequence[Point], width: float = 0.2, dash: float = 0.0, grey: float = 0.0) -> None:
        """A line through ``points``. ``width`` and ``dash`` in mm; ``grey``: 0 black, 1 white."""
        self._made.append(_draw(points, width, dash, grey, None, self.height))

    def shape(self, points: Sequence[Point], fill: float, width: float = 0.0) -> None:
        """The area within ``points``, filled with a grey, and outlined where ``width`` is not 0."""
        self._made.append(_draw(points, width, 0.0, 0.0, fill, self.height))

    def box(
        self, x: float, y: float, width: float, height: float, *, line: float = 0.25, fill: float | None = None
    ) -> None:
        """A rectangle."""
        corners = ((x, y), (x + width, y), (x + width, y + height), (x, y + height), (x, y))
        self._made.append(_draw(corners, line, 0.0, 0.0, fill, self.height))

    def tick(self, x: float, y: float, side: float, *, ticked: bool = False) -> None:
        """A box to tick, ``side`` mm wide and high; ``ticked``: with a cross in it."""
        self.box(x, y, side, side, line=0.5)
        if ticked:
            for ends in (((x, y), (x + side, y + side)), ((x + side, y), (x, y + side))):
                self.line(ends, 0.6)

    def hatch(self, x: float, y: float, width: float, height: float, gap: float = 2.0) -> None:
        """Slanting lines all over a rectangle."""
        at = gap
        while at < width + height:
            start = (x + max(at - height, 0.0), y + min(at, height))
            end = (x + min(at, width), y + max(at - width, 0.0))
            self.line((start, end), 0.15)
            at += gap

    def put(self, draw: Callable[[Any], None]) -> None:
        """Anything else, straight onto the page."""
        self._made.append(draw)

    def print(self, canvas: Any) -> None:
        """Put all of it on ``canvas``, as a page of its own."""
        canvas.setPageSize((self.width / POINT_MM, self.height / POINT_MM))
        for draw in self._made:
            draw(canvas)
        canvas.showPage()


def width_of(text: str, size: float, *, bold: bool = False) -> float:
    """The width of ``text`` in mm, by the published widths of Helvetica."""
    width: float = stringWidth(latin(text), _font(bold), size)
    return width * POINT_MM


@lru_cache(maxsize=4096)
def fitted(text: str, width: float, height: float, size: float, *, bold: bool = False, whole: bool = False) -> Text:
    """``text`` in lines that fit ``width`` by ``height`` mm, at ``size`` points or the most below it that do;
    ``whole``: in one line."""
    found = _shrunk(text, width, height, size, bold, broken=False, most=1 if whole else None)
    if found.size >= min(_READABLE, size) or whole:
        return found
    other = _shrunk(text, width, height, size, bold, broken=True)
    return other if other.size > found.size else found


def _shrunk(
    text: str, width: float, height: float, size: float, bold: bool, *, broken: bool, most: int | None = None
) -> Text:
    while True:
        lines = _wrapped(text, width, size, bold, broken=broken)
        laid = Text(tuple(lines), size, bold)
        fits = (
            (most is None or len(lines) <= most)
            and laid.height <= height + 1e-6
            and all(width_of(line, size, bold=bold) <= width + 1e-6 for line in lines)
        )
        if fits or size <= _SMALLEST:
            return laid
        size = max(size - 0.25, _SMALLEST)


def wrapped(text: str, width: float, size: float, *, bold: bool = False) -> Text:
    """``text`` in lines of at most ``width`` mm at ``size`` points, as many as it takes."""
    return Text(tuple(_wrapped(text, width, size, bold, broken=True)), size, bold)


def _wrapped(text: str, width: float, size: float, bold: bool, *, broken: bool) -> list[str]:
    lines: list[str] = []
    for part in text.split("\n"):
        line = ""
        for word in part.split(" "):
            joined = f"{line} {word}" if line else word
            if width_of(joined, size, bold=bold) <= width + 1e-6:
                line = joined
                continue
            if line:
                lines.append(line)
            line = word
            while broken and len(line) > 1 and width_of(line, size, bold=bold) > width:
                keep = next((n for n in range(len(line) - 1, 1, -1) if width_of(line[:n], size, bold=bold) <= width), 1)
                lines.append(line[:keep])
                line = line[keep:]
        lines.append(line)
    return lines


def empty_leaf(paper: Paper, part: str) -> Leaf:
    """An empty page, upright."""
    width, height = paper.value
    return Leaf(width, height, part)


def _font(bold: bool) -> str:
    return "Helvetica-Bold" if bold else "Helvetica"


def _write(text: str, x: float, base: float, size: float, bold: bool, height: float) -> Callable[[Any], None]:
    def draw(canvas: Any) -> None:
        canvas.setFillGray(0)
        canvas.setFont(_font(bold), size)
        canvas.drawString(x / POINT_MM, (height - base) / POINT_MM, latin(text))

    return draw


def _draw(
    points: Sequence[Point], width: float, dash: float, grey: float, fill: float | None, height: float
) -> Callable[[Any], None]:
    def draw(canvas: Any) -> None:
        canvas.setStrokeGray(grey)
        canvas.setLineJoin(1)
        path = begin_path(canvas, ((x / POINT_MM, (height - y) / POINT_MM) for x, y in points), width, dash)
        if fill is None:
            canvas.drawPath(path, stroke=1, fill=0)
        else:
            canvas.setFillGray(fill)
            path.close()
            canvas.drawPath(path, stroke=int(width > 0), fill=1)

    return draw
