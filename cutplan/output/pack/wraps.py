"""The wraps of the printed pack: several a page at true size, packed as rectangles, each with a length to check."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Any

from rectpack import MaxRectsBssf, PackingBin, PackingMode, newPacker

from cutplan.job.model import INCH
from cutplan.output.pack.leaf import MARGIN, Leaf, Text, empty_leaf, wrapped
from cutplan.output.pdf import POINT_MM, Paper, latin
from cutplan.output.wraps import draw_tile, draw_whole, tiles
from cutplan.plan.tables import Tables
from cutplan.plan.tables.wraps import Wrap

PART = "Wraps"
_SAYS = (
    "Print at 100 % (no fit to page) and measure the check length below each wrap first. Cut out along the frame, wrap "
    "it printed side out, mark along the thick line: it is the finished joint on the outside of the tube. Upper edge: "
    "where a blank is longer for fitting, the wrap says how far inside the sawn end it belongs; on the sawn end it "
    "leaves that much, to be crept up on by hand. Dashed line: how deep the inside of the wall must go; grind from the "
    "thick line outside to the dashed one inside, or the joint stays open."
)
_HEAD = 27.0
_GAP = 4.0
_CHECK = 7.0
_LEAST = 75.0
"""Millimetres: the page's own heading; between wraps; below one for its check length; the least width for its words."""
_TENTH = 10
"""The packing counts in tenths of a millimetre."""


@dataclass(frozen=True, slots=True)
class _Block:
    """A wrap with its words above and its check length below, as it is laid on a page. Sizes in mm."""

    wrap: Wrap
    title: Text
    helps: Text

    @property
    def width(self) -> float:
        return max(self.wrap.width, _LEAST)

    @property
    def above(self) -> float:
        return self.title.height + self.helps.height + 1.5

    @property
    def height(self) -> float:
        return self.above + self.wrap.height + _CHECK


def leaves(tables: Tables, paper: Paper) -> list[Leaf]:
    """The pages of all wraps of the plan: whole ones together, then what is larger than a page."""
    blocks = [_block(wrap) for wrap in tables.wraps]
    across, down = _room(paper)
    fits = [block for block in blocks if _fits(block, across, down)]
    large = [block.wrap for block in blocks if not _fits(block, across, down)]
    return [*_together(fits, paper), *(leaf for wrap in large for leaf in _alone(wrap, paper))]


def _room(paper: Paper) -> tuple[float, float]:
    leaf = empty_leaf(paper, PART)
    return leaf.right - MARGIN, leaf.bottom - MARGIN - _HEAD


def _fits(block: _Block, across: float, down: float) -> bool:
    ways = ((block.width, block.height), (block.height, block.width))
    return any(width <= across and height <= down for width, height in ways)


def _block(wrap: Wrap) -> _Block:
    width = max(wrap.width, _LEAST)
    return _Block(
        wrap,
        wrapped(wrap.title, width, 9.0, bold=True),
        wrapped(" ".join(wrap.own), width, 8.0) if wrap.own else Text((), 8.0, False),
    )


def _together(blocks: Sequence[_Block], paper: Paper) -> Iterator[Leaf]:
    across, down = _room(paper)
    # Best short side fit of maximal rectangles, turned by a right angle where that fits better.
    packer = newPacker(PackingMode.Offline, PackingBin.BBF, MaxRectsBssf, rotation=True)
    for number, block in enumerate(blocks):
        packer.add_rect(ceil((block.width + _GAP) * _TENTH), ceil((block.height + _GAP) * _TENTH), number)
    packer.add_bin(int((across + _GAP) * _TENTH), int((down + _GAP) * _TENTH), count=len(blocks) + 1)
    packer.pack()
    for page in packer:
        leaf = empty_leaf(paper, PART)
        leaf.text(MARGIN, MARGIN, leaf.right - MARGIN, 8.0, PART, 16.0, bold=True, middle=False)
        leaf.text(MARGIN, MARGIN + 7.5, leaf.right - MARGIN, 18.0, _SAYS, 9.0, middle=False)
        for place in page:
            block = blocks[place.rid]
            turned = place.width != ceil((block.width + _GAP) * _TENTH)
            _place(leaf, block, MARGIN + place.x / _TENTH, MARGIN + _HEAD + place.y / _TENTH, turned, paper)
        yield leaf


def _place(leaf: Leaf, block: _Block, x: float, y: float, turned: bool, paper: Paper) -> None:
    """Put ``block`` with its upper left corner at ``x``, ``y``; ``turned``: read from the bottom up."""

    def draw(canvas: Any) -> None:
        canvas.saveState()
        if turned:
            canvas.translate(x / POINT_MM, (leaf.height - y - block.width) / POINT_MM)
            canvas.rotate(90)
        else:
            canvas.translate(x / POINT_MM, (leaf.height - y) / POINT_MM)
        _draw(canvas, block, paper)
        canvas.restoreState()

    leaf.put(draw)


def _draw(canvas: Any, block: _Block, paper: Paper) -> None:
    """``block`` from the canvas's origin to the right and down."""
    canvas.setFillGray(0)
    canvas.setStrokeGray(0)
    down = 0.0
    for text in (block.title, block.helps):
        for line in text.lines:
            down += text.height / len(text.lines)
            canvas.setFont("Helvetica-Bold" if text.bold else "Helvetica", text.size)
            canvas.drawString(0, (-down + 0.25 * text.size * POINT_MM) / POINT_MM, latin(line))
    canvas.saveState()
    canvas.translate(0, -block.above / POINT_MM)
    draw_whole(canvas, block.wrap)
    canvas.restoreState()
    length, says = (50.0, "50 mm") if paper is Paper.A4 else (2 * float(INCH), "2 in")
    up = -(block.above + block.wrap.height + 4.0) / POINT_MM
    canvas.setDash()
    canvas.setLineWidth(0.3 / POINT_MM)
    canvas.line(0.3, up, length / POINT_MM + 0.3, up)
    for end in (0.3, length / POINT_MM + 0.3):
        canvas.line(end, up - 1.5 / POINT_MM, end, up + 1.5 / POINT_MM)
    canvas.setFont("Helvetica", 8)
    canvas.drawString((length + 2.0) / POINT_MM, up - 1.0 / POINT_MM, f"check: {says}")


def _alone(wrap: Wrap, paper: Paper) -> Iterator[Leaf]:
    sheets = tiles(wrap, paper)
    for number, tile in enumerate(sheets, 1):
        leaf = Leaf(tile.paper_width, tile.paper_height, PART)

        def draw(canvas: Any, number: int = number) -> None:
            canvas.setFillGray(0)
            canvas.setStrokeGray(0)
            draw_tile(canvas, wrap, sheets, number, paper)

        leaf.put(draw)
        yield leaf
