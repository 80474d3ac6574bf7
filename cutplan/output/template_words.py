"""The words of the empty job workbook: the worked lines, how to begin."""

from __future__ import annotations

from typing import Any

from cutplan.job.model import Units

SIDES = (
    ("0", "the short side of an end: where it makes the acute angle with the tube it sits on"),
    ("turn", "how far end b's short side is clockwise from end a's: 0 across a corner, 180 between parallel rails"),
    ("offset", "how far the other tube's axis is on the 90 side of this one's; negative: on the 270 side"),
    ("at", "after a tube under onto: how far its saddle is clockwise from the first one's"),
    ("side", "after a bend under onto: 0 from outside the bend, 180 from inside, 90: its inside is on the 270 side"),
)
"""Which side is which, for the drawing of turns."""

_YARD = {"shop": "EXAMPLE North Yard", "delivery": 18, "free from": 150, "note": "delivers on Fridays"}
_STAY = {
    "mark": "EXAMPLE BS",
    "qty": 1,
    "pair": "yes",
    "measured": "face",
    "end a": "cope",
    "angle a": 55,
    "onto a": "HOOP",
    "end b": "square",
    "note": "a back stay, left and right, square on its floor plate",
}

EXAMPLES: dict[Units, dict[str, tuple[dict[str, Any], ...]]] = {
    Units.MM: {
        "Job": ({"setting": "EXAMPLE kerf", "value": 2.5, "note": "a chop saw, measured on a trial cut"},),
        "Tubes": ({"tube": "EXAMPLE 38x2.5", "od": 38, "wall": 2.5, "clr": 114, "stretch": 1.5, "grip": 80},),
        "Stock": ({"tube": "EXAMPLE 38x2.5", "length": 6000, "price": 58.2, "from": "buy"},),
        "Shops": (_YARD,),
        "Members": ({"tube": "38x2.5", "length": 1186, **_STAY},),
        "Bends": (
            {"mark": "EXAMPLE HOOP", "straight": 1010, "to": "apex", "angle": 90, "note": "first leg, first bend"},
            {"mark": "EXAMPLE HOOP", "straight": 1010, "to": "apex", "note": "the last straight has no bend after it"},
        ),
        "Points": (
            {"mark": "EXAMPLE DG", "x": 0, "y": 0, "z": 0},
            {"mark": "EXAMPLE DG", "x": 420, "y": 0, "z": 910, "note": "the other end"},
        ),
        "Nodes": ({"name": "EXAMPLE A", "x": 0, "y": 330, "z": 0, "note": "Members: from A, to another node"},),
        "Distances": ({"from": "EXAMPLE A", "to": "C", "distance": 1408, "note": "in place of coordinates of C"},),
    },
    Units.IN: {
        "Job": ({"setting": "EXAMPLE kerf", "value": "3/32", "note": "a chop saw, measured on a trial cut"},),
        "Tubes": ({"tube": "EXAMPLE 1.5x.095", "od": "1 1/2", "wall": "0.095", "clr": "4 1/2", "stretch": "1/16"},),
        "Stock": ({"tube": "EXAMPLE 1.5x.095", "length": "20 ft", "price": 64.8, "from": "buy"},),
        "Shops": (_YARD,),
        "Members": ({"tube": "1.5x.095", "length": "46 11/16", **_STAY},),
        "Bends": (
            {"mark": "EXAMPLE HOOP", "straight": "39 3/4", "to": "apex", "angle": 90, "note": "first leg, first bend"},
            {"mark": "EXAMPLE HOOP", "straight": "39 3/4", "to": "apex", "note": "the last straight: no bend after it"},
        ),
        "Points": (
            {"mark": "EXAMPLE DG", "x": "0", "y": "0", "z": "0"},
            {"mark": "EXAMPLE DG", "x": "16 1/2", "y": "0", "z": "35 7/8", "note": "the other end"},
        ),
        "Nodes": ({"name": "EXAMPLE A", "x": "0", "y": "13", "z": "0", "note": "Members: from A, to another node"},),
        "Distances": ({"from": "EXAMPLE A", "to": "C", "distance": "55 7/16", "note": "in place of coordinates of C"},),
    },
}

STEPS = (
    "1. Job: the settings. Measure your kerf on a trial cut; the rest may stay as it is.",
    "2. Tubes: one line for each section of tube.",
    "3. Stock: the bars you can buy, with their prices, and the offcuts on your rack.",
    "   Shops: only where a shop charges for delivery, has a minimum, or cuts bars for you. Leave it empty otherwise.",
    "4. Members: one line for each tube of the frame, measured as the drawing below shows.",
    "5. Bends, Points: only for bent members, or members given by coordinates. Leave them empty otherwise.",
    "   Nodes: in place of lengths and angles, the named points that members run between (from, via, to).",
    "   Distances: from node to node with a tape, where coordinates of Nodes are left blank.",
    "Lines whose first cell begins with EXAMPLE are samples: they are left out of the job. Type below them.",
    "White headings on dark: must be filled in; the others may stay blank. Hold the mouse over one to see what it is.",
    "Save it, close it, then: cutplan plan FILE. Errors are reported with their sheet, row and column.",
)

ASIDES: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = (
    (
        "lengths",
        (
            ("plain", "in the job's units: 1509.5 or 59 7/16 or 1-3/4; decimals take a point, never a comma"),
            ("with units", "4' 11 7/16\" or 20 ft or 1.5 m or 1509.7 mm, in a job of either unit"),
            ("with ±", "1186 ± 1 or 46 11/16 +/- 1/16, if you know how accurate the measurement is"),
        ),
    ),
    (
        "turn: neither end square",
        (
            (
                "0",
                "both short sides (where the angle is acute) on one side of the member, as on a brace across a corner",
            ),
            ("180", "on opposite sides, as on a diagonal between parallel rails"),
            ("other", "end b's from end a's, clockwise as seen from end a looking to end b"),
        ),
    ),
    (
        "Bends: what a straight was measured to, at a bend",
        (
            ("tangent", "to where the bend begins"),
            ("apex", "to where the two centrelines would cross"),
            ("outside", "to where the two outer faces would cross"),
        ),
    ),
)

MEASURED = (
    ("centre", "to the centre of the other tube, along the member's own axis"),
    ("face", "to the surface of the other tube, along the member's own axis"),
    ("long", "to the surface, along the long side of the member"),
    ("short", "to the surface, along the short side of the member (where the angle is acute)"),
    ("tip", "to the longest point of the joint, as the blank leaves the saw"),
)
