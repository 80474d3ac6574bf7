"""Drawings of what the tape runs to at a coped end, and of how turns are counted, as charts of lines: they need no
picture library."""

from __future__ import annotations

from math import cos, radians, sin, sqrt
from typing import Any

from openpyxl.chart import Reference, ScatterChart, Series
from openpyxl.chart.label import DataLabelList
from openpyxl.chart.series import SeriesLabel
from openpyxl.worksheet.worksheet import Worksheet

from cutplan.geometry.saddle import saddle

_ANGLE, _ONTO, _RADIUS, _LENGTH = 60.0, 30.0, 20.0, 115.0
"""Angle between the axes (degrees), radius of the tube landed on and of the member, length of axis shown (mm)."""

_Points = list[tuple[float, float]]


def drawing(data: Worksheet) -> ScatterChart:
    """What the tape runs to at a coped end; its points are written to ``data``, which may be hidden."""
    return _chart(data, joint_lines(), joint_names(), (17, 12), ((-45, 125), (-45, 75)))


def clock(data: Worksheet) -> ScatterChart:
    """How turns are counted round the tube, seen from end a looking to end b; as for :func:`drawing`."""
    ring = [(10.0 * sin(radians(turn)), 10.0 * cos(radians(turn))) for turn in range(0, 361, 5)]
    way = [(13.0 * sin(radians(turn)), 13.0 * cos(radians(turn))) for turn in range(20, 71, 5)]
    tip = way[-1]
    arrow = [(tip[0] - 2.6, tip[1] + 1.0), tip, (tip[0] + 0.2, tip[1] + 2.8)]
    named = [
        ("0, short side", (0.0, 10.0), "t"),
        ("90", (10.0, 0.0), "r"),
        ("180, long side", (0.0, -10.0), "b"),
        ("270", (-10.0, 0.0), "l"),
    ]
    return _chart(data, [(ring, False), (way, False), (arrow, False)], named, (10, 7.5), ((-24, 24), (-18, 18)))


def _chart(
    data: Worksheet,
    lines: list[tuple[_Points, bool]],
    named: list[tuple[str, tuple[float, float], str]],
    size_cm: tuple[float, float],
    ranges: tuple[tuple[float, float], tuple[float, float]],
) -> ScatterChart:
    """Lines, dashed or not, and named points; ``data`` takes their figures behind what it holds."""
    begin = data.max_column + 1 if data.max_row > 1 else 1
    chart = ScatterChart()
    chart.style = 1
    chart.legend = None
    chart.visible_cells_only = False
    chart.width, chart.height = size_cm  # type: ignore[assignment]  # floats, though the stubs say otherwise
    for axis, (low, high) in zip((chart.x_axis, chart.y_axis), ranges, strict=True):
        axis.scaling.min, axis.scaling.max = low, high
        axis.delete = True
        axis.majorGridlines = None
    for number, (points, dash) in enumerate(lines):
        line = _series(data, begin + 2 * number, points, "")
        line.graphicalProperties.line.solidFill = "000000"
        line.graphicalProperties.line.width = 12_700 if dash else 22_000
        if dash:
            line.graphicalProperties.line.dashStyle = "lgDashDot"
        chart.series.append(line)
    first = begin + 2 * len(lines)
    for number, (name, point, side) in enumerate(named):
        spot = _series(data, first + 2 * number, [point], name)
        spot.graphicalProperties.line.noFill = True
        spot.marker.symbol, spot.marker.size = "circle", 8
        spot.marker.graphicalProperties.solidFill = "000000"
        labels = DataLabelList()
        labels.showSerName, labels.position = True, side
        labels.showVal = labels.showLegendKey = labels.showCatName = labels.showPercent = False
        spot.dLbls = labels
        chart.series.append(spot)
    return chart


def _series(data: Worksheet, column: int, points: _Points, name: str) -> Any:
    for row, (x, y) in enumerate(points, 1):
        data.cell(row, column, round(x, 3))
        data.cell(row, column + 1, round(y, 3))
    xs, ys = (Reference(data, min_col=at, min_row=1, max_row=len(points)) for at in (column, column + 1))
    series: Any = Series(ys, xs)
    series.tx = SeriesLabel(v=name) if name else None
    series.smooth = False
    series.marker.symbol = "none"
    return series


def _at(along: float, across: float) -> tuple[float, float]:
    """A point by its distance along the member's axis and towards its short side, seen from the side."""
    angle = radians(_ANGLE)
    return along * sin(angle) - across * cos(angle), along * cos(angle) + across * sin(angle)


def _end(phi_deg: float) -> tuple[float, float]:
    """The saddle at a turn angle, seen from the side."""
    along = float(saddle(phi_deg, _RADIUS, _ONTO, _ANGLE))
    return _at(along, _RADIUS * cos(radians(phi_deg)))


def joint_lines() -> list[tuple[_Points, bool]]:
    """A coped end and the tube it lands on, seen from the side, in mm: lines, and whether each is an axis."""
    return [
        ([(-_ONTO, -40.0), (-_ONTO, 70.0)], False),
        ([(_ONTO, -40.0), (_ONTO, 70.0)], False),
        ([(0.0, -40.0), (0.0, 70.0)], True),
        ([_at(0.0, 0.0), _at(_LENGTH, 0.0)], True),
        ([_end(0.0), _at(_LENGTH, _RADIUS)], False),
        ([_end(180.0), _at(_LENGTH, -_RADIUS)], False),
        ([_end(float(phi)) for phi in range(0, 181, 5)], False),
        ([_at(_LENGTH, _RADIUS), _at(_LENGTH, -_RADIUS)], False),
    ]


def joint_names() -> list[tuple[str, tuple[float, float], str]]:
    """What the tape may run to there: its word, the point, and on which side of it the word has room (l, r)."""
    lowest = sqrt(_ONTO**2 - _RADIUS**2)
    tip = _at(lowest, -lowest * cos(radians(_ANGLE)) / sin(radians(_ANGLE)))
    face = _at(_ONTO / sin(radians(_ANGLE)), 0.0)
    return [
        ("centre", (0.0, 0.0), "l"),
        ("face", face, "r"),
        ("long", _end(180.0), "r"),
        ("short", _end(0.0), "r"),
        ("tip", tip, "l"),
    ]
