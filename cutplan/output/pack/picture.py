"""A picture of a piece, or of its end, on a page of the printed pack."""

from __future__ import annotations

from cutplan.output.pack.leaf import Leaf, Point, width_of
from cutplan.plan.tables.pictures import Picture


def put_picture(
    leaf: Leaf, picture: Picture, x: float, y: float, scale: float, *, turned: bool = False, small: bool = False
) -> None:
    """``picture`` with its upper left corner at ``x``, ``y``; ``turned``: left to right; ``small``: as on
    a saw sheet, in bolder greys."""

    def to(point: Point) -> Point:
        along = picture.width - point[0] if turned else point[0]
        return x + along * scale, y + point[1] * scale

    for hollow in picture.hollows:
        leaf.shape([to(point) for point in hollow], 0.78)
    for body in picture.bodies:
        leaf.shape([to(point) for point in body], 0.85 if small else 0.93)
    fine, hidden, plain, grey = (0.3, 0.15, 0.3, 0.5) if small else (0.12, 0.18, 0.35, 0.45)
    for line in picture.lines:
        width = fine if line.fine else hidden if line.behind else plain
        leaf.line([to(point) for point in line.points], width, grey=grey if line.behind else 0.0)
    for label in picture.labels:
        at, way = to(label.at), label.away[0] * (-1.0 if turned else 1.0)
        room = max(width_of(label.text, 9.0, bold=True), 4.0)
        middle = (at[0] + (0.6 + room / 2.0) * way, at[1] + 2.6 * label.away[1])
        leaf.text(
            middle[0] - room / 2.0, middle[1] - 2.0, room, 4.0, label.text, 9.0, bold=True, align="centre", whole=True
        )
