"""Frames with one planted slip each, drawn, for fresh eyes to find it by: ``planted_errors.py FOLDER [--seed N]``.

Writes ten drawings with what each frame should be, in words, and the slips themselves into ``answers.txt``, to be read
afterwards: a point 50 off, an end swapped, a brace of the other hand, a turn of 180. Whoever looks gets the drawings
and the words, nothing else. Found so far: 10 of 10 of seed 4 and 10 of 10 of seed 5, by
fresh eyes that had seen neither the program nor the answers.
"""

from __future__ import annotations

import argparse
import csv
from collections.abc import Callable
from pathlib import Path
from random import Random

from click.testing import CliRunner

from cutplan.cli.main import main

Point = tuple[int, int, int]
Tubes = dict[str, tuple[str, list[str], str, str]]
"""By mark: tube, the points it runs through by name, what ends a and b land on."""
Frame = tuple[dict[str, Point], Tubes, str]
Table = list[list[object]]

COUNT = 10
BRACES = {"DG", "K1", "K2", "D0", "D1"}


def hoop() -> Frame:
    """A hoop with two stays."""
    points: dict[str, Point] = {
        **{"FL": (0, 0, 0), "TL": (0, 0, 900), "TR": (1000, 0, 900), "FR": (1000, 0, 0)},
        **{"RL": (150, 800, 250), "RR": (850, 800, 250), "SL": (250, 0, 900), "SR": (750, 0, 900)},
        **{"ML": (0, 0, 400), "MR": (1000, 0, 400), "DL": (0, 0, 60), "DR": (1000, 0, 340)},
    }
    tubes: Tubes = {
        "HOOP": ("m", ["FL", "TL", "TR", "FR"], "", ""),
        "RAIL": ("s", ["RL", "RR"], "", ""),
        "BSL": ("s", ["SL", "RL"], "HOOP", "RAIL"),
        "BSR": ("s", ["SR", "RR"], "HOOP", "RAIL"),
        "XB": ("s", ["ML", "MR"], "HOOP", "HOOP"),
        "DG": ("s", ["DL", "DR"], "HOOP", "HOOP"),
    }
    return (
        points,
        tubes,
        "HOOP: feet at x 0 (end a) and x 1000, 900 high, in y 0. RAIL: y 800, z 250, from x 150 (a) to x 850. BSL from "
        "the top of HOOP at x 250 (a) to the left end of RAIL, BSR from x 750 (a) to its right "
        "end. XB across at z 400, "
        "a at the left. DG from the left leg at z 60 (a) up to the right leg at z 340.",
    )


def gate() -> Frame:
    """A gate with two braces."""
    points: dict[str, Point] = {
        **{"A": (0, 0, 0), "B": (1200, 0, 0), "C": (1200, 0, 1000), "D": (0, 0, 1000), "M": (0, 0, 500)},
        **{"N": (1200, 0, 500), "P": (600, 0, 0), "Q": (600, 0, 500), "R": (600, 0, 1000), "KA": (0, 0, 950)},
        **{"KB": (550, 0, 500), "LA": (1200, 0, 60), "LB": (650, 0, 500)},
    }
    tubes: Tubes = {
        "PL": ("m", ["A", "D"], "", ""),
        "PR": ("m", ["B", "C"], "", ""),
        "BOT": ("m", ["A", "B"], "PL", "PR"),
        "TOP": ("m", ["D", "C"], "PL", "PR"),
        "MID": ("s", ["M", "N"], "PL", "PR"),
        "V1": ("s", ["P", "Q"], "BOT", "MID"),
        "V2": ("s", ["Q", "R"], "MID", "TOP"),
        "K1": ("s", ["KA", "KB"], "PL", "MID"),
        "K2": ("s", ["LA", "LB"], "PR", "MID"),
    }
    return (
        points,
        tubes,
        "Posts PL (x 0) and PR (x 1200), 1000 high, a at the foot. BOT z 0, MID z 500, TOP z "
        "1000, a at PL. V1 at x 600 "
        "from BOT (a) to MID, V2 at x 600 from MID (a) to TOP. K1 from PL at z 950 (a) down to "
        "MID at x 550. K2 from PR "
        "at z 60 (a) up to MID at x 650.",
    )


def rack() -> Frame:
    """A box with a diagonal on either side."""
    corners = {f"{x}{y}{z}": (900 * x, 500 * y, 700 * z) for x in (0, 1) for y in (0, 1) for z in (0, 1)}
    points: dict[str, Point] = {
        **corners,
        **{"DA": (0, 0, 120), "DB": (0, 500, 640), "EA": (900, 0, 640), "EB": (900, 500, 120)},
    }
    tubes: Tubes = {f"U{x}{y}": ("m", [f"{x}{y}0", f"{x}{y}1"], "", "") for x in "01" for y in "01"}
    tubes |= {f"R{y}{z}": ("s", [f"0{y}{z}", f"1{y}{z}"], f"U0{y}", f"U1{y}") for y in "01" for z in "01"}
    tubes |= {f"C{x}{z}": ("s", [f"{x}0{z}", f"{x}1{z}"], f"U{x}0", f"U{x}1") for x in "01" for z in "01"}
    tubes |= {"D0": ("s", ["DA", "DB"], "U00", "U01"), "D1": ("s", ["EA", "EB"], "U10", "U11")}
    return (
        points,
        tubes,
        "A box, x 0 to 900, y 0 to 500, z 0 to 700. Uprights U00 (x 0, y 0), U10 (x 900, y 0), "
        "U01, U11, a at the foot. "
        "Rails along x: R00 (y 0, below), R01 (y 0, above), R10, R11, a at x 0. C00 (x 0, below), "
        "C01, C10, C11 along y, "
        "a at y 0. D0 at x 0 from z 120 at y 0 (a) up to z 640. D1 at x 900 from z 640 at y 0 (a) down to z 120.",
    )


def tables_of(frame: Frame, name: str) -> dict[str, Table]:
    """A job by points."""
    points, tubes, _ = frame
    members: Table = [["mark", "tube", "end a", "onto a", "end b", "onto b"]]
    places: Table = [["mark", "x", "y", "z"]]
    for mark, (tube, through, a, b) in tubes.items():
        members.append([mark, tube, "cope" if a else "square", a, "cope" if b else "square", b])
        places += [[mark, *points[each]] for each in through]
    return {**common(name), "Members": members, "Points": places}


def common(name: str) -> dict[str, Table]:
    """The tables that all of them share."""
    return {
        "Job": [["setting", "value"], ["name", name], ["kerf", 2], ["spares", 0]],
        "Tubes": [["tube", "od", "wall", "clr"], ["m", 42, 2.5, 130], ["s", 30, 2, 90]],
        "Stock": [["tube", "length", "price"], ["m", 6000, 10], ["s", 6000, 8]],
    }


def slip_of_points(dice: Random, frame: Frame) -> tuple[Frame, str]:
    """``frame`` with one slip, and which."""
    points, tubes, words = dict(frame[0]), dict(frame[1]), frame[2]
    kind = dice.choice(["point", "swap", "hand"])
    if kind == "point":
        name, axis, by = dice.choice(sorted(points)), dice.randrange(3), dice.choice([-50, 50])
        moved = list(points[name])
        moved[axis] += by
        points[name] = (moved[0], moved[1], moved[2])
        return (points, tubes, words), f"point {name} is {by} off along {'xyz'[axis]}"
    mark = dice.choice(sorted(tubes if kind == "swap" else BRACES & tubes.keys()))
    tube, through, a, b = tubes[mark]
    if kind == "swap":
        tubes[mark] = tube, through[::-1], b, a
        return (points, tubes, words), f"the ends of {mark} are swapped"
    (ax, ay, az), (bx, by_, bz) = points[through[0]], points[through[1]]
    points["one"], points["other"] = (ax, ay, bz), (bx, by_, az)
    if mark in ("K1", "K2"):
        points["one"], points["other"] = (ax, ay, 1000 - az), (bx, by_, bz)
    tubes[mark] = tube, ["one", "other"], a, b
    return (points, tubes, words), f"{mark} is of the other hand"


PIECES = (
    "DG: between two parallel rails, 48 at end a and 35 at end b, short sides on opposite "
    "sides. KB, a pair: end a coped 45 "
    "onto RAIL, whose axis lies 5 to the 90 side of KB-L; end b mitred 30, its short side on the "
    "same side as that of a. ST, a "
    "pair: end a coped 60 onto RAIL; end b coped square onto RAIL, which lies 4 to the 90 side of "
    "ST-L, its short side a quarter "
    "turn clockwise from that of a. LOOP: end a square, 300, a bend of 90, 400, a bend of 45 "
    "turned 90 clockwise (towards the "
    "reader in the view from the side), 350; end b coped 60, its short side on the inside of the last bend."
)


def pieces(dice: Random) -> tuple[dict[str, Table], str]:
    """Pieces by their measurements, with one slip, and which."""
    dg: list[object] = ["DG", "s", 1, "", 1400, "cope", 48, "RAIL", "", "cope", 35, "RAIL", "", 180]
    kb: list[object] = ["KB", "s", 1, "yes", 400, "cope", 45, "RAIL", 5, "mitre", 30, "", "", 0]
    st: list[object] = ["ST", "s", 1, "yes", 700, "cope", 60, "RAIL", "", "cope", 90, "RAIL", 4, 90]
    turned, last = 90, 0
    slip = dice.choice(["DG turn", "KB turn", "DG swap", "KB swap", "KB hand", "ST hand", "LOOP hand", "LOOP end"])
    row = {"DG": dg, "KB": kb, "ST": st}.get(slip[:2])
    if row is None:
        turned, last = (-90, 0) if slip == "LOOP hand" else (90, 180)
    elif slip.endswith("turn"):
        row[-1] = (int(str(row[-1])) + 180) % 360
    elif slip.endswith("swap"):
        row[5:9], row[9:13] = row[9:13], row[5:9]
    else:
        row[8], row[12], row[-1] = (-each if isinstance(each, int) else each for each in (row[8], row[12], row[-1]))
    headings = "mark,tube,qty,pair,length,end a,angle a,onto a,offset a,end b,angle b,onto b,offset b,turn"
    rail: list[object] = ["RAIL", "m", 2, "", 1800, "square", "", "", "", "square", "", "", "", ""]
    loop: list[object] = ["LOOP", "m", 1, "", "", "square", "", "", "", "cope", 60, "m", "", ""]
    bends: Table = [["mark", "straight", "to", "angle", "radius", "rotation"], ["LOOP", 300, "tangent", 90, "", ""]]
    bends += [["LOOP", 400, "tangent", 45, "", turned], ["LOOP", 350, "", "", "", last]]
    members: Table = [list(headings.split(",")), rail, dg, kb, st, loop]
    return {**common("Pieces"), "Members": members, "Bends": bends}, slip


def plant(folder: Path, seed: int) -> None:
    """Write the drawings, the words and the answers."""
    dice = Random(seed)
    makers: list[Callable[[], Frame] | None] = [hoop, gate, rack, None]
    answers, words = [], []
    for number in range(COUNT):
        maker = makers[number] if number < len(makers) else dice.choice(makers)
        if maker is None:
            tables, slip = pieces(dice)
            shown = PIECES
        else:
            frame, slip = slip_of_points(dice, maker())
            tables, shown = tables_of(frame, f"Frame {number}"), frame[2]
        job = folder / f"{number}"
        job.mkdir(parents=True)
        for name, rows in tables.items():
            with (job / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
                csv.writer(file).writerows(rows)
        result = CliRunner().invoke(main, ["draw", str(job), "--output", str(folder / f"{number}.pdf")])
        assert result.exit_code in (0, 1), result.stderr
        answers.append(f"{number}: {slip}")
        words.append(f"{number}: {shown}")
    (folder / "words.txt").write_text("\n\n".join(words) + "\n", encoding="utf-8")
    (folder / "answers.txt").write_text("\n".join(answers) + "\n", encoding="utf-8")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    plant(given.folder, given.seed)
    print(f"{given.folder}: {COUNT} drawings, words.txt; then answers.txt")
