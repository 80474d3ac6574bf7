"""What a PDF shows, read back from its content: paths and texts in mm from the upper left corner of the page."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

from pypdf import PageObject
from reportlab.pdfbase.pdfmetrics import stringWidth

MM = 25.4 / 72
Matrix = tuple[float, float, float, float, float, float]


@dataclass(frozen=True)
class Path:
    """A painted path: its points, how wide its line is in mm (0: none), whether it is filled."""

    points: tuple[tuple[float, float], ...]
    width: float
    filled: bool
    dashed: bool


@dataclass(frozen=True)
class Words:
    """A piece of text and the box it takes: left, top, right, bottom."""

    text: str
    box: tuple[float, float, float, float]
    upright: bool


def times(inner: Matrix, outer: Matrix) -> Matrix:
    """First ``inner``, then ``outer`` (ISO 32000-1, 8.3.4)."""
    a, b, c, d, e, f = inner
    g, h, i, j, k, m = outer
    return (a * g + b * i, a * h + b * j, c * g + d * i, c * h + d * j, e * g + f * i + k, e * h + f * j + m)


def read_page(page: PageObject) -> tuple[list[Path], list[Words]]:
    """Every path that is painted and every text that is shown on ``page``."""
    tall = float(page.mediabox.height)
    fonts = {
        name: font.get_object()["/BaseFont"][1:] for name, font in page["/Resources"].get_object()["/Font"].items()
    }
    now: Matrix = (1, 0, 0, 1, 0, 0)
    kept: list[Matrix] = []
    text: Matrix = now
    font, size, width, dashed = "Helvetica", 0.0, 1.0, False
    points: list[tuple[float, float]] = []
    paths: list[Path] = []
    words: list[Words] = []

    def at(x: float, y: float, by: Matrix) -> tuple[float, float]:
        return ((x * by[0] + y * by[2] + by[4]) * MM, (tall - (x * by[1] + y * by[3] + by[5])) * MM)

    content = page.get_contents()
    assert content is not None
    for operands, operator in content.operations:
        if operator == b"q":
            kept.append(now)
        elif operator == b"Q":
            now = kept.pop()
        elif operator == b"cm":
            now = times(tuple(float(one) for one in operands), now)
            assert abs(hypot(now[0], now[1]) - 1.0) < 1e-6, "scaled"
        elif operator == b"w":
            width = float(operands[0])
        elif operator == b"d":
            dashed = bool(operands[0])
        elif operator in (b"m", b"l"):
            points = ([] if operator == b"m" else points) + [at(float(operands[0]), float(operands[1]), now)]
        elif operator == b"re":
            x, y, w, h = (float(one) for one in operands)
            points = [at(*corner, now) for corner in ((x, y), (x + w, y), (x + w, y + h), (x, y + h), (x, y))]
        elif operator in (b"S", b"f", b"f*", b"B", b"B*", b"b", b"b*"):
            stroked = operator in (b"S", b"B", b"B*", b"b", b"b*")
            paths.append(Path(tuple(points), width * MM if stroked else 0.0, operator != b"S", dashed))
        elif operator == b"Tf":
            font, size = fonts[operands[0]], float(operands[1])
        elif operator == b"Tm":
            text = tuple(float(one) for one in operands)
        elif operator == b"Tj":
            shown = operands[0] if isinstance(operands[0], str) else operands[0].decode("cp1252")
            by = times(text, now)
            long = stringWidth(shown, font, size)
            # Ascent and descent as Adobe's published metrics of Helvetica give them.
            corners = [at(x, y, by) for x in (0, long) for y in (-0.207 * size, 0.718 * size)]
            xs, ys = zip(*corners, strict=True)
            if shown.strip():
                words.append(Words(shown, (min(xs), min(ys), max(xs), max(ys)), abs(by[1]) > 0.5))
    return paths, words


def overlaps(words: list[Words], by: float = 0.15) -> list[tuple[str, str]]:
    """Pairs of texts whose boxes run into each other by more than ``by`` mm."""
    found = []
    for number, one in enumerate(words):
        for other in words[number + 1 :]:
            across = min(one.box[2], other.box[2]) - max(one.box[0], other.box[0])
            down = min(one.box[3], other.box[3]) - max(one.box[1], other.box[1])
            if across > by and down > by:
                found.append((one.text, other.text))
    return found


def strays(words: list[Words], width: float, height: float, margin: float = 9.9) -> list[str]:
    """Texts that run over the margin of a page of ``width`` by ``height`` mm."""
    return [
        one.text
        for one in words
        if one.box[0] < margin or one.box[2] > width - margin or one.box[1] < margin or one.box[3] > height - margin
    ]


def crossed(paths: list[Path], words: list[Words], by: float = 0.3) -> list[str]:
    """Texts that run over the edge of a rectangle by more than ``by`` mm: neither inside of it nor outside."""
    found = []
    for path in paths:
        xs = sorted({round(x, 3) for x, _ in path.points})
        ys = sorted({round(y, 3) for _, y in path.points})
        if len(path.points) != 5 or len(xs) != 2 or len(ys) != 2 or not path.width:
            continue
        for one in words:
            left, top, right, bottom = one.box
            inside = left >= xs[0] - by and right <= xs[1] + by and top >= ys[0] - by and bottom <= ys[1] + by
            outside = right <= xs[0] + by or left >= xs[1] - by or bottom <= ys[0] + by or top >= ys[1] - by
            if not (inside or outside):
                found.append(one.text)
    return found
