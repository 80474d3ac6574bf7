"""Guards the drawings as files: everything on the page, no words on top of each other, true to scale."""

from __future__ import annotations

import re
import sys
from dataclasses import replace
from fractions import Fraction
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from pypdf import PdfReader
from reportlab.pdfbase.pdfmetrics import stringWidth

from cutplan.geometry.bodies import bodies_in_place, body_by_itself
from cutplan.job.faults import Fault, Place, Remark
from cutplan.job.model import INCH, Point, Units
from cutplan.output.drawing_files import svg, write_sheets
from cutplan.plan import Prepared, prepare
from cutplan.plan.tables.drawings import drawings
from cutplan.plan.tables.end_list import coordinate, end_sheets
from cutplan.plan.tables.frame_sheets import frame_of, frame_sheets, stage_sheets
from cutplan.plan.tables.labels import Box, Words, wide
from cutplan.plan.tables.piece_sheets import piece_sheets, pieces_of
from cutplan.plan.tables.sheet import CAUTION, OUTLINE, Sheet, clip
from cutplan.plan.tables.strays import strays

sys.path.insert(0, str(Path(__file__).parents[1] / "geometry"))
from frames import two_bays

EXAMPLES = Path(__file__).parents[2] / "examples"
BY_THEMSELVES = ("sand-rail-bay", "ladder-frame", "hand-rail", "buggy-rear", "roll-bar-in-place")
"""Examples none of whose members has a place in a frame."""
A4 = (297.0, 210.0)
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def frame(tmp_path_factory: pytest.TempPathFactory) -> Prepared:
    """Two bays of a space frame, 12 nodes and 32 tubes."""
    return prepare(two_bays(tmp_path_factory.mktemp("frame")))


@pytest.fixture(scope="module")
def sheets(frame: Prepared) -> tuple[Sheet, ...]:
    """Its drawings: four views and the list of ends."""
    return drawings(frame.job, frame.blanks, A4)


@pytest.fixture(scope="module")
def views(sheets: tuple[Sheet, ...]) -> tuple[Sheet, ...]:
    """The four views."""
    return sheets[:4]


def read_words(path: Path) -> list[list[tuple[str, float, float, float, bool]]]:
    """Every text of each page of a PDF: where it begins, how large it is, whether it reads upwards."""
    pages = []
    for page in PdfReader(path).pages:
        found: list[tuple[str, float, float, float, bool]] = []

        def visit(text: str, cm: list[float], tm: list[float], font: object, size: float, found: list = found) -> None:
            if text.strip():
                across = cm[0] * tm[0] + cm[2] * tm[1]
                x, y = tm[4] * cm[0] + tm[5] * cm[2] + cm[4], tm[4] * cm[1] + tm[5] * cm[3] + cm[5]
                found.append((text.strip(), x, y, size, abs(across) < 0.5))

        page.extract_text(visitor_text=visit)
        pages.append(found)
    return pages


def test_no_words_on_a_printed_page_lie_on_others(sheets: tuple[Sheet, ...], tmp_path: Path) -> None:
    """Read back from the PDF: no two texts overlap, and every one is on the paper; nothing is lost on the way."""
    write_sheets(sheets, tmp_path / "f.pdf")
    pages = read_words(tmp_path / "f.pdf")
    assert len(pages) == len(sheets) == 5
    for words, sheet in zip(pages, sheets, strict=True):
        assert sorted(text for text, *_ in words) == sorted(each.text for each in sheet.words)
        boxes = []
        for number, (text, x, y, size, upright) in enumerate(words):
            long = stringWidth(text, "Helvetica-Bold" if number < sheet.bold else "Helvetica", size)
            boxes.append((x - 0.72 * size, y, x, y + long) if upright else (x, y, x + long, y + 0.72 * size))
            assert boxes[-1][0] > 0
            assert boxes[-1][2] < A4[0] / 25.4 * 72
        for (one, a), (other, b) in combinations(zip(words, boxes, strict=True), 2):
            apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
            assert apart, (one, other)


def test_every_mark_is_somewhere_and_what_is_hidden_is_named(frame: Prepared, views: tuple[Sheet, ...]) -> None:
    """On every sheet of the frame each mark is written at its tube or listed as behind others; in the pictorial view
    nearly all are at their tubes, with their ends."""
    marks = {blank.mark for blank in frame.blanks}
    for number, sheet in enumerate(views):
        at = {words.text for words in sheet.words} & marks
        listed = " ".join(words.text for words in sheet.words)
        behind = set(re.findall(r"[\w-]+", listed[listed.index("Behind") :])) if "Behind" in listed else set()
        assert at | (behind & marks) == marks
        if number == 0:
            assert len(at) >= 0.9 * len(marks)
            letters = [words.text for words in sheet.words if words.text in ("a", "b")]
            assert len(letters) >= 1.3 * len(marks)


def test_the_coordinates_of_the_points_are_at_the_edges(views: tuple[Sheet, ...]) -> None:
    """Seen from above: x of every upright and knee below, y of every row at the left; all three views have theirs."""
    wanted = (
        {"0", "250", "700", "950", "1400", "-30", "500", "530"},
        {"0", "600", "-30", "250", "500", "530"},
        {"0", "250", "700", "950", "1400", "600"},
    )
    for sheet, numbers in zip(views[1:], wanted, strict=True):
        assert {found[1] for each in sheet.words if (found := re.fullmatch(r"(-?[\d.]+)(  .*)?", each.text))} == numbers


@pytest.fixture(scope="module")
def tee(tmp_path_factory: pytest.TempPathFactory) -> Prepared:
    """A wide tube that hides a narrow one behind it, and a stub whose end b is 8 off the axis of the narrow one."""
    folder = tmp_path_factory.mktemp("tee")
    tables = {
        "Job": "setting,value\nname,Tee\nkerf,2\n",
        "Tubes": "tube,od,wall\nwide,80,3\nthin,30,2\n",
        "Stock": "tube,length\nwide,6 m\nthin,6 m\n",
        "Members": "mark,tube,end b,onto b\nW,wide,,\nN,thin,,\nS,thin,cope,N\n",
        "Points": "mark,x,y,z\nW,0,0,0\nW,900,0,0\nN,100,400,0\nN,700,400,0\nS,350,900,0\nS,350,408,0\n",
    }
    for name, text in tables.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return prepare(folder)


def test_a_coordinate_says_whose_it_is(tee: Prepared) -> None:
    """From above: a coordinate of one end has the end's name, that of both ends of a piece both; its line ends in
    a dot at the point."""
    sheet = drawings(tee.job, tee.blanks, A4)[3]
    texts = {words.text: words for words in sheet.words}
    assert {"0  W a", "900  W b", "100  N a", "350  S a b", "408  S b", "400  N a b", "0  W a b"} <= texts.keys()
    dots = [stroke.points[0] for stroke in sheet.strokes if stroke.width == 0.8]
    ends = [stroke.points[0] for stroke in sheet.strokes if stroke.dash == 0.8]
    assert len(dots) == len(ends) == 9
    for (x, y), (right, up) in zip(dots, ends, strict=True):
        assert abs(x - right) < 0.02
        assert abs(y - up) < 0.02


def test_an_end_off_what_it_lands_on_has_a_cross(tee: Prepared) -> None:
    """How far its point is off is written in every view and beside its cut on the list of ends; the frame whose ends
    meet has none."""
    made = drawings(tee.job, tee.blanks, A4)
    assert all("S b is 8 off N" in {words.text for words in sheet.words} for sheet in made[:4])
    assert "Crosses:" in made[0].words[1].text
    assert any(words.text.endswith("onto N; 8 off N") for words in made[4].words)
    assert [(each.mark, each.name, each.onto) for each in strays(tee.job)] == [("S", "b", "N")]


def test_what_no_view_shows_is_shown_from_the_other_side(tee: Prepared) -> None:
    """The narrow tube is behind the wide one from the front; each mark is at its tube in one view at least, and no view
    is there for nothing."""
    made = frame_sheets(tee.job, frame_of(tee.job, tee.blanks), A4)
    named = [{words.text for words in sheet.words} & {"W", "N", "S"} for sheet in made]
    assert "N" not in named[1]
    assert set.union(*named) == {"W", "N", "S"}
    lying = replace(tee.job.members[1], points=(Point(*map(Fraction, (100, 0, 0))), Point(*map(Fraction, (700, 0, 0)))))
    job = replace(tee.job, members=(tee.job.members[0], lying))
    swallowed = frame_sheets(job, frame_of(job, tee.blanks[:2]), A4)
    assert [sheet.title for sheet in swallowed[4:]] == ["Tee, pictorial view from behind"]


def test_a_view_is_true_to_its_scale(frame: Prepared, views: tuple[Sheet, ...]) -> None:
    """From the front: the outlines on paper reach just as far as the tubes do, at the scale that is written, to 0.1 mm
    of the frame; and a dashed line from each coordinate points at where it is."""
    sheet = views[1]
    scale = float(re.findall(r"1 : ([\d.]+)", sheet.words[1].text)[0])
    points = np.array([point for stroke in sheet.strokes if stroke.width == OUTLINE for point in stroke.points])
    bodies = list(bodies_in_place(frame.job, frame.blanks))
    edges = np.concatenate([body.edge(name) for body in bodies for name in "ab"])
    assert np.ptp(points[:, 0]) * scale == pytest.approx(np.ptp(edges[:, 0]), abs=0.1)
    assert np.ptp(points[:, 1]) * scale == pytest.approx(np.ptp(edges[:, 2]), abs=0.1)
    dashes = sorted({round(s.points[0][0], 3) for s in sheet.strokes if s.dash and s.points[0][0] == s.points[1][0]})
    assert (dashes[-1] - dashes[0]) * scale == pytest.approx(1400.0, abs=0.1)


def test_nodes_are_named_in_boxes_clear_of_everything(frame: Prepared) -> None:
    """Where nodes have names: each in a box of its own in the pictorial view, next to its place, and on no other words;
    in a view along a row of nodes the first of them."""
    names = {f"N{x}{y}{z}": (700.0 * x, 600.0 * y, 500.0 * z) for x in range(3) for y in range(2) for z in range(2)}
    stands = replace(frame_of(frame.job, frame.blanks), nodes=tuple(names.items()))
    made = frame_sheets(frame.job, stands, A4)
    assert names.keys() <= {words.text for words in made[0].words}
    assert len([words for words in made[1].words if words.text in names]) == 6
    for sheet in made:
        boxes = [(words, box_of(words)) for words in sheet.words]
        assert [(a.text, b.text) for (a, one), (b, other) in combinations(boxes, 2) if cover(one, other)] == []
    assert "In boxes: the nodes." in made[0].words[1].text


def test_the_list_of_ends_is_that_of_the_rows(frame: Prepared, sheets: tuple[Sheet, ...]) -> None:
    """Line by line as a person reads it: each mark once, and beside it the places of its ends from the job's own
    rows, how they are cut and how far they are apart."""
    rows: dict[float, list[tuple[float, str]]] = {}
    for words in sheets[4].words:
        rows.setdefault(round(words.y, 2), []).append((words.x, words.text))
    read = [[text for _, text in sorted(row)] for row in rows.values()]
    by_mark = {row[0]: row for row in read if len(row) == 11}
    for member in frame.job.members:
        (ax, ay, az), (bx, by, bz) = (
            (float(p.x), float(p.y), float(p.z)) for p in (member.points[0], member.points[-1])
        )
        row = by_mark[member.mark]
        assert row[1] == member.tube
        assert [float(cell) for cell in (*row[2:5], *row[6:9])] == pytest.approx([ax, ay, az, bx, by, bz], abs=0.06)
        apart = ((bx - ax) ** 2 + (by - ay) ** 2 + (bz - az) ** 2) ** 0.5
        assert float(row[10]) == pytest.approx(apart, abs=0.06)
    assert sum(len(row) == 11 for row in read) == len(frame.job.members) + 1


@pytest.mark.parametrize(
    ("inches", "shown"),
    [("39.375", "39 3/8"), ("-9.8125", "-9 13/16"), ("0", "0"), ("15.3", "15 19/64"), ("-0.3", "-19/64")],
)
def test_a_coordinate_in_inches_is_as_a_tape_has_it(inches: str, shown: str) -> None:
    """A 64th, as the tape it is held against; 15.3 lies between two (15 19/64 is 15.2969, 15 20/64 is 15.3125)."""
    assert coordinate(float(Fraction(inches) * INCH), Units.IN) == shown
    assert coordinate(-0.04, Units.MM) == "0"


def test_faults_are_written_on_the_list_of_ends(frame: Prepared) -> None:
    """A member without a blank is listed with the places of its points, and the fault, under its mark, comes first."""
    member = frame.job.members[0]
    blanks = [blank for blank in frame.blanks if blank.mark != member.mark]
    fault = Fault(member.place.at("onto a"), "does not meet it")
    (sheet,) = end_sheets(frame.job, blanks, A4, [fault, Remark(Place("Points"), "is known")])
    words = [each.text for each in sheet.words]
    assert words.count("see the faults") == 2
    at = {each.text: each.y for each in sheet.words}
    assert at[f"{member.mark}: {fault}"] < at[member.mark] < at["Points: is known"]


def test_a_long_list_of_ends_goes_on_with_its_heading(frame: Prepared) -> None:
    """On small paper it takes several sheets, each headed, and no line is lost or below the edge."""
    made = end_sheets(frame.job, frame.blanks, (297.0, 90.0))
    assert len(made) > 1
    for sheet in made:
        assert "piece" in {each.text for each in sheet.words}
        assert max(each.y for each in sheet.words if each.text != CAUTION) < 80.0
    marks = [each.text for sheet in made for each in sheet.words[: sheet.bold]]
    assert [mark for mark in marks if mark in {blank.mark for blank in frame.blanks}] == [
        blank.mark for blank in frame.blanks
    ]


def test_a_picture_for_each_stage(frame: Prepared) -> None:
    """Each stage shows what is made in it in heavy lines and with its marks, what stands before it in thin ones,
    and nothing of what comes later, all at the same place; a job without stages has no such pictures."""
    first = {"U": 1, "R": 2, "C": 2, "D": 3, "K": 3}
    stages = {member.mark: first[member.mark[0]] for member in frame.job.members}
    stands = frame_of(frame.job, frame.blanks)
    made = stage_sheets(frame.job, stands, A4, stages)
    assert [sheet.title for sheet in made] == [f"Space frame, stage {k} of 3" for k in (1, 2, 3)]
    for stage, sheet in enumerate(made, 1):
        marks = {words.text for words in sheet.words} & stages.keys()
        assert {stages[mark] for mark in marks} == {stage}
        assert len(marks) >= 0.85 * list(stages.values()).count(stage)
    heavy = [{s.points for s in sheet.strokes if s.width > 0.3} for sheet in made]
    thin = [{s.points for s in sheet.strokes if s.width < 0.3} for sheet in made]
    assert len(heavy[0] & thin[1]) > 5
    assert not heavy[1] & thin[0]
    assert stage_sheets(frame.job, stands, A4, dict.fromkeys(stages, 1)) == ()


def box_of(words: Words) -> Box:
    """What ``words`` take up, with three tenths of a capital for what hangs below the line."""
    long, high = wide(words.text, words.size), 1.3 * words.size
    if words.upright:
        return Box(words.x - words.size, words.y - long, high, long)
    return Box(words.x, words.y - words.size, long, high)


def cover(one: Box, other: Box) -> bool:
    """Whether two texts lie on each other; what hangs below their base lines apart."""
    high, low = 0.75 * one.height, 0.75 * other.height
    across = one.x < other.x + other.width and other.x < one.x + one.width
    return across and one.y < other.y + low and other.y < one.y + high


@pytest.mark.parametrize("name", BY_THEMSELVES)
def test_every_piece_of_every_example(name: str) -> None:
    """Each mark has its drawing, with its ends' letters and sides, what it lands on by name, and its length; all of it
    on the sheet, no two words on each other."""
    prepared = prepare(EXAMPLES / name)
    made = drawings(prepared.job, prepared.blanks, A4)
    words = [each.text for sheet in made for each in sheet.words]
    for blank in prepared.blanks:
        assert words.count(blank.mark) >= 1
        for shape in (blank.end_a, blank.end_b):
            assert all(one.onto.name in words for one in shape.saddles)
    assert words.count("a") == words.count("b") >= 3 * len(prepared.blanks)
    for sheet in made:
        boxes = [box_of(each) for each in sheet.words]
        for box in boxes:
            assert min(box.x, box.y) >= 0.0
            assert box.x + box.width <= sheet.width
            assert box.y + box.height <= sheet.height
        for (one, a), (other, b) in combinations(zip(sheet.words, boxes, strict=True), 2):
            assert not cover(a, b), (one, other)


def test_an_example_measured_with_a_tape_is_drawn_whole() -> None:
    """Both halves, every mark at its tube or named as hidden, the ends and nodes in the pictorial view; no two words on
    each other, none off the paper."""
    prepared = prepare(EXAMPLES / "dinghy-trolley")
    made = drawings(prepared.job, prepared.blanks, A4)
    marks = {blank.mark for blank in prepared.blanks}
    first = {each.text for each in made[0].words}
    assert marks | {node.name for node in prepared.job.nodes} <= first
    for sheet in made:
        boxes = [box_of(each) for each in sheet.words]
        assert all(b.x >= 0.0 and b.x + b.width <= A4[0] and b.y >= 0.0 and b.y + b.height <= A4[1] for b in boxes)
        for (one, a), (other, b) in combinations(zip(sheet.words, boxes, strict=True), 2):
            assert not cover(a, b), (one, other)


def test_the_whole_piece_is_true_to_its_scale() -> None:
    """A stay from the side: the outline between the two close-ups is as long as the piece from tip to tip, and as wide
    as its tube."""
    prepared = prepare(EXAMPLES / "sand-rail-bay")
    blank = next(each for each in prepared.blanks if each.mark == "DIAG")
    body = body_by_itself(prepared.job, blank)
    (sheet,) = piece_sheets(prepared.job, pieces_of(prepared.job, [blank]), A4)
    (scale,) = (float(w.text.split(" : ")[1]) for w in sheet.words if w.text.startswith("from the side"))
    middle = [p for s in sheet.strokes if s.width == OUTLINE for p in s.points if 71.0 < p[0] < 226.0]
    low, high = np.min(middle, axis=0), np.max(middle, axis=0)
    tips = body.edge("a")[:, 0].min(), body.edge("b")[:, 0].max()
    assert (high - low) * scale == pytest.approx((tips[1] - tips[0], 38.0), abs=0.1)


def test_a_swapped_end_a_turn_and_an_offset_change_the_picture() -> None:
    """What the drawings are for: each of these slips moves the outline of an end by much more than a line's width."""
    prepared = prepare(EXAMPLES / "sand-rail-bay")
    by_mark = {blank.mark: blank for blank in prepared.blanks}

    def outline(mark: str, **changes: object) -> set[tuple[float, float]]:
        blank = replace(by_mark[mark], **changes)
        (sheet,) = piece_sheets(prepared.job, pieces_of(prepared.job, [blank]), A4)
        return {(round(x), round(y)) for s in sheet.strokes if s.width == OUTLINE for x, y in s.points}

    diag, stay = by_mark["DIAG"], by_mark["LS-L"]
    assert len(outline("DIAG") ^ outline("DIAG", turn_deg=0.0)) > 5
    assert len(outline("LS-L") ^ outline("LS-L", end_a=by_mark["LS-R"].end_a)) > 5
    assert len(outline("DIAG") ^ outline("DIAG", end_a=diag.end_b, end_b=diag.end_a)) > 5
    assert stay.end_a.saddles[0].offset == 4


def test_an_offset_is_in_words_and_between_two_axes() -> None:
    """The left of a pair passes what it lands on towards 90, the right towards 270; both axes are drawn, apart by
    the offset at the scale of the close-up, and the right one is on the same sheet as the left."""
    prepared = prepare(EXAMPLES / "sand-rail-bay")
    stays = [blank for blank in prepared.blanks if blank.member == "LS"]
    (sheet,) = piece_sheets(prepared.job, pieces_of(prepared.job, stays), A4)
    (left, right) = (words.text for words in sheet.words if "towards" in words.text)
    assert "4 towards 90;" in left
    assert "4 towards 270;" in right
    scales = [float(w.text.split(" : ")[1]) for w in sheet.words if w.text.startswith("end a from above")]
    axes = [stroke.points for stroke in sheet.strokes if stroke.dash == 0.5 and stroke.points[0][0] < 70.0]
    level = [points[0][1] for points in axes if abs(points[0][1] - points[-1][1]) < 1e-6]
    apart = {round(abs(one - other) * scales[0], 2) for one, other in combinations(level, 2)}
    assert 4.0 in apart
    assert sum("4 off" in words.text for words in sheet.words) == 2


@pytest.mark.parametrize(
    ("turn", "reported"),
    [
        (0.0, "short sides on the same side"),
        (180.0, "short sides on opposite sides"),
        (90.0, "the short side of b is 90° clockwise from that of a"),
        (-90.0, "the short side of b is 90° anticlockwise from that of a"),
    ],
)
def test_a_turn_is_reported_in_words(turn: float, reported: str) -> None:
    """Beside the mark, so that nobody has to know from where a turn counts."""
    prepared = prepare(EXAMPLES / "sand-rail-bay")
    diag = next(blank for blank in prepared.blanks if blank.mark == "DIAG")
    (sheet,) = piece_sheets(prepared.job, pieces_of(prepared.job, [replace(diag, turn_deg=turn)]), A4)
    assert any(words.text.endswith(reported) for words in sheet.words)


def test_a_piece_bent_in_space_is_seen_square_to_its_last_bend(tmp_path: Path) -> None:
    """With 0 at the short side of its end: on the inside of the bend for a turn of 0, on its outside for 180."""
    tables = {
        "Job": "setting,value\nname,Loops\nkerf,2\n",
        "Tubes": "tube,od,wall,clr\nm,42,2.5,130\n",
        "Stock": "tube,length\nm,6 m\n",
        "Members": "mark,tube,end b,angle b,onto b\nIN,m,cope,60,m\nOUT,m,cope,60,m\n",
        "Bends": "mark,straight,to,angle,rotation\n"
        + "".join(
            f"{mark},300,tangent,90,\n{mark},400,tangent,45,90\n{mark},350,,,{turn}\n"
            for mark, turn in (("IN", 0), ("OUT", 180))
        ),
    }
    for name, text in tables.items():
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
    prepared = prepare(tmp_path)
    above = []
    for piece in pieces_of(prepared.job, prepared.blanks):
        (sheet,) = piece_sheets(prepared.job, [piece], A4)
        (reported,) = (words for words in sheet.words if words.text.startswith("square to bend 2"))
        own = {words.text: words for words in sheet.words if words.y > reported.y and words.x > reported.x}
        line = [p for s in sheet.strokes for p in s.points if p[0] > reported.x and p[1] > reported.y]
        end = max(line)
        above.append(own["0"].y < end[1])
    assert above == [True, False]


def test_an_svg_is_sound_and_true_to_scale(sheets: tuple[Sheet, ...]) -> None:
    """It parses; its sheets lie one below the other at their size in mm; its lines are those of the sheets."""
    root = ElementTree.fromstring(svg(sheets[:2]))
    assert (root.get("width"), root.get("height")) == ("297.000mm", "420.000mm")
    left, top, width, height = (float(each) for each in root.get("viewBox").split())
    assert (left, top) == (0.0, 0.0)
    assert (width / 72 * 25.4, height / 72 * 25.4) == pytest.approx((297.0, 420.0), abs=0.01)
    lines = [str(each.get("points")) for each in root.iter(f"{SVG}polyline")]
    assert len(lines) == sum(len(sheet.strokes) + len(sheet.leaders) for sheet in sheets[:2])
    x, y = (float(each) for each in re.findall(r"[\d.]+", lines[0])[:2])
    wanted = sheets[0].strokes[0].points[0]
    assert (x / 72 * 25.4, 420.0 - y / 72 * 25.4) == pytest.approx(wanted, abs=0.01)
    assert root.find(f"{SVG}title").text == "cutplan: drawings"


def test_the_same_job_gives_the_same_file(tmp_path: Path) -> None:
    """No date, no random name."""
    prepared = prepare(EXAMPLES / "ladder-frame")
    for name in ("one.pdf", "other.pdf", "one.svg", "other.svg"):
        write_sheets(drawings(prepared.job, prepared.blanks[:2], A4), tmp_path / name)
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "other.pdf").read_bytes()
    assert (tmp_path / "one.svg").read_bytes() == (tmp_path / "other.svg").read_bytes()


def test_lines_are_cut_off_at_the_edge_of_their_box() -> None:
    """A line that leaves a box and comes back is two lines; one that misses it is none; one along its edge stays."""
    box = Box(0.0, 0.0, 10.0, 10.0)
    assert list(clip([(-5.0, 5.0), (15.0, 5.0)], box)) == [[(0.0, 5.0), (10.0, 5.0)]]
    assert list(clip([(2.0, 5.0), (2.0, 15.0), (6.0, 15.0), (6.0, 5.0)], box)) == [
        [(2.0, 5.0), (2.0, 10.0)],
        [(6.0, 10.0), (6.0, 5.0)],
    ]
    assert list(clip([(-5.0, 5.0), (5.0, -6.0)], box)) == []
    assert list(clip([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0)], box)) == [[(0.0, 0.0), (10.0, 0.0), (10.0, 10.0)]]
