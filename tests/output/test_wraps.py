"""Paper wraps: what is printed, read back from the file, is the saddle's line to a tenth of a millimetre."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import combinations, pairwise
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from pypdf import PageObject, PdfReader
from wording import Worded

from cutplan.geometry import Blank, EndShape, end_line
from cutplan.geometry.ends import cope, mitre, square
from cutplan.geometry.inside import Insides
from cutplan.geometry.layout import lay_out
from cutplan.job.model import INCH, Bend, Cut, End, Job, Member, Onto, Saddle, Settings, Tube, Units
from cutplan.output.pdf import Paper
from cutplan.output.wraps import Tile, WrapError, tiles, write_wraps
from cutplan.plan.tables.wrap_words import wide
from cutplan.plan.tables.wraps import across_mm, round_mm, wraps_of

THICK = 0.5 / 25.4 * 72
"""Points: the width of the line to mark along, the thickest on the page."""


def blank(end_a: EndShape, end_b: EndShape, turn: float = 0.0) -> Blank:
    return Blank("BS-L", "BS", "tube", 1, Fraction(900), (), end_a, end_b, turn_deg=turn)


def onto(od: float, angle: float, offset: float = 0.0) -> Saddle:
    return Saddle(Onto(Fraction(od)), angle, Fraction(offset))


def tube(od: float) -> Tube:
    return Tube("tube", Fraction(od), Fraction(2))


def write_wrap(blank: Blank, tube: Tube, path: Path, *, paper: Paper = Paper.A4, units: Units = Units.MM) -> None:
    write_wraps(Job(Settings(units=units), (tube,), (), (Member("BS", "tube"),)), [blank], path, paper=paper)


def polylines(page: PageObject) -> list[tuple[float, bool, list[tuple[float, float]]]]:
    """Every stroked path of a page: its width, whether it is unbroken, and its points as the printer gets them."""
    found = []
    width, unbroken, points = 1.0, True, []
    content = page.get_contents()
    assert content is not None
    for operands, operator in content.operations:
        if operator == b"w":
            width = float(operands[0])
        elif operator == b"d":
            unbroken = not operands[0]
        elif operator == b"m":
            points = [(float(operands[0]), float(operands[1]))]
        elif operator == b"l":
            points.append((float(operands[0]), float(operands[1])))
        elif operator == b"cm":
            assert [float(number) for number in operands[:4]] in ([1, 0, 0, 1], [0, 1, -1, 0]), "scaled"
        elif operator == b"S":
            found.append((width, unbroken, points))
    return found


def on_wrap(tile: Tile, across: float, up: float) -> tuple[float, float]:
    """A point of the page, in PDF points from its lower left corner, in mm on the wrap."""
    (left, top), (right, below) = tile.to_page(0.0, 0.0), tile.to_page(1.0, 1.0)
    return (across - left) / (right - left), (up - top) / (below - top)


def marked_lines(path: Path, layout: list[Tile]) -> list[list[tuple[float, float]]]:
    """The thick line of each page, in mm on the wrap."""
    lines = []
    for page, tile in zip(PdfReader(path).pages, layout, strict=True):
        [points] = [line for width, unbroken, line in polylines(page) if abs(width - THICK) < 1e-3 and unbroken]
        lines.append([on_wrap(tile, *point) for point in points])
    return lines


SHAPES = [
    cope(38.0, [onto(38.0, 60.0)]),
    cope(30.0, [onto(45.0, 35.0, 6.0)]),
    cope(25.0, [onto(48.3, 90.0)]),
    mitre(48.3, 22.5),
]


@pytest.mark.parametrize("paper", list(Paper))
@pytest.mark.parametrize("shape", SHAPES)
def test_the_printed_line_is_the_saddle_line(tmp_path: Path, shape: EndShape, paper: Paper) -> None:
    """Guards the whole way from the shape to the printer: every point read back lies on the line within 0.1 mm."""
    member = blank(shape, shape)
    path = tmp_path / "wrap.pdf"
    write_wrap(member, tube(shape.od), path, paper=paper)
    layout = [tile for wrap in wraps_of(member, tube(shape.od), Settings()) for tile in tiles(wrap, paper)]
    once = round_mm(shape.od)
    for side, line in zip("ab", marked_lines(path, layout), strict=True):
        xs, ys = np.array(line).T
        turns = xs / once * 360.0
        assert (min(xs), max(xs)) == (pytest.approx(0, abs=0.01), pytest.approx(once, abs=0.01))
        expected = end_line(shape, -turns if side == "a" else turns)
        assert np.abs(ys - expected).max() < 0.1
        # Between the points too: straight bits of one degree stay within a tenth of the curve.
        middle = end_line(shape, (-1 if side == "a" else 1) * (turns[1:] + turns[:-1]) / 2)
        assert np.abs((ys[1:] + ys[:-1]) / 2 - middle).max() < 0.1


@pytest.mark.parametrize("side", ["a", "b"])
def test_turn_angles_run_the_right_way_round_the_tube(side: str) -> None:
    """Guards left against right: wrapped round the tube printed side out, the paper's turn angles are clockwise
    as seen from end a looking to end b. Worked out in space, by cross products."""
    shape = SHAPES[0]
    a_to_b = np.array([0.0, 0.0, 1.0])
    up = -a_to_b if side == "a" else a_to_b  # the marked end is up
    out = np.array([0.0, -1.0, 0.0])  # towards the reader, who stands at -y
    right = np.cross(-out, up)  # the reader looks along -out
    quarter = across_mm(shape, side, 91.0) - across_mm(shape, side, 90.0)
    step = np.sign(quarter) * right
    # Looking along a_to_b a turn that goes clockwise is right-handed about it.
    assert np.dot(np.cross(out, step), a_to_b) > 0


def test_the_check_bar_is_as_long_as_it_says(tmp_path: Path) -> None:
    """Guards the one line by which a person finds out that the printer scales."""
    for paper, says, long in ((Paper.A4, "100 mm", 100.0), (Paper.LETTER, "4 in", 101.6)):
        path = tmp_path / f"{paper.name}.pdf"
        write_wrap(blank(SHAPES[0], square(38.0)), tube(38), path, paper=paper)
        [page] = PdfReader(path).pages
        assert f"measure this first: {says}" in page.extract_text()
        bars = [points for _, _, points in polylines(page) if len(points) == 2 and points[0][1] == points[1][1]]
        assert long in [round(abs(a[0] - b[0]) / 72 * 25.4, 2) for a, b in bars]
        assert sorted((page.mediabox.width, page.mediabox.height)) == [
            pytest.approx(side / 25.4 * 72, abs=0.01) for side in paper.value
        ]


def test_a_big_wrap_is_tiled_without_a_gap(tmp_path: Path) -> None:
    """Guards large tube: the tiles cover the whole wrap, share an edge, and each shows the line in its place."""
    shape = cope(168.3, [onto(168.3, 30.0)])
    member = blank(shape, square(168.3))
    [wrap] = wraps_of(member, tube(168.3), Settings())
    layout = tiles(wrap, Paper.A4)
    assert len(layout) > 2
    assert max(tile.left + tile.width for tile in layout) == pytest.approx(wrap.width)
    assert max(tile.top + tile.height for tile in layout) == pytest.approx(wrap.height)
    starts = sorted({tile.left for tile in layout})
    for here, there in pairwise(starts):
        assert here + next(tile.width for tile in layout if tile.left == here) == pytest.approx(there + 10)
    path = tmp_path / "big.pdf"
    write_wrap(member, tube(168.3), path)
    for line in marked_lines(path, list(layout)):
        assert np.abs(np.array(line) - np.array(wrap.line.points)).max() < 0.01
    assert f"sheet 2 of {len(layout)}" in PdfReader(path).pages[1].extract_text()


def test_the_svg_carries_the_same_line(tmp_path: Path, as_worded: Worded) -> None:
    """Guards the SVG, read as any XML reader would: a unit of it is a millimetre, the check bar is as long as it says,
    the line is the PDF's, and the words with it."""
    path = tmp_path / "wrap.svg"
    member = blank(SHAPES[0], SHAPES[3])
    write_wrap(member, tube(38), path)
    root = ElementTree.parse(path).getroot()
    width, height = (float(root.attrib[side].removesuffix("mm")) for side in ("width", "height"))
    assert [float(number) for number in root.attrib["viewBox"].split()] == [0, 0, width, height]
    lines = [[tuple(map(float, point.split(","))) for point in each.attrib["points"].split()] for each in drawn(root)]
    assert lines[0][1][0] - lines[0][0][0] == pytest.approx(100.0)
    marked = [line for line, each in zip(lines, drawn(root), strict=True) if each.get("class") == "line"]
    for wrap, line in zip(wraps_of(member, tube(38), Settings()), marked, strict=True):
        assert np.abs(np.array(line) - np.array(wrap.line.points)).max() < 1e-3
    said = [each.text for each in root.iter() if each.tag.endswith("}text")]
    assert {"measure this first: 100 mm", "180 long side", "BS-L  end a", "BS-L  end b"} <= set(said)
    as_worded(*(text for text in said if text))


def drawn(root: ElementTree.Element) -> list[ElementTree.Element]:
    return [each for each in root.iter() if each.tag.endswith("}polyline")]


def test_each_end_says_whose_it_is_and_where_the_other_lies(tmp_path: Path) -> None:
    """Guards a wrap on the wrong end: mark and end on each page, and the other end's line at the turn between them."""
    path = tmp_path / "wrap.pdf"
    member = blank(SHAPES[0], SHAPES[1], turn=40.0)
    write_wrap(member, tube(38), path)
    for side, page in zip("ab", PdfReader(path).pages, strict=True):
        text = page.extract_text()
        assert f"BS-L, end {side}" in text
        assert "upper edge: on the sawn end" in text
    wrap_a, wrap_b = wraps_of(member, tube(38), Settings())
    there = across_mm(SHAPES[0], "a", 40.0)
    assert any(stroke.points[0][0] == pytest.approx(there) for stroke in wrap_a.strokes[2:])
    there = across_mm(SHAPES[1], "b", -40.0)
    assert any(stroke.points[0][0] == pytest.approx(there) for stroke in wrap_b.strokes[2:])


@pytest.mark.parametrize(
    ("settings", "said"),
    [(Settings(fit_cope=Fraction(3, 2)), "1.5 mm"), (Settings(units=Units.IN, fit_cope=INCH / 16), "1/16 in")],
)
def test_the_wrap_says_where_the_fitting_allowance_is(
    tmp_path: Path, settings: Settings, said: str, as_worded: Worded
) -> None:
    """Guards a saddle ground too deep or too far out: the blank has the allowance at its coped end, and both ways to
    lay the wrap are said; at the mitred end, which has none, nothing is said. By a blank laid out from a job."""
    ends = End(Cut.COPE, saddles=(Saddle(Onto(Fraction(38))),)), End(Cut.MITRE, 30.0)
    job = Job(settings, (tube(38),), (), (Member("BS", "tube", length=Fraction(900), end_a=ends[0], end_b=ends[1]),))
    write_wraps(job, lay_out(job).blanks, tmp_path / "wrap.pdf")
    coped, mitred = (" ".join(page.extract_text().split()) for page in PdfReader(tmp_path / "wrap.pdf").pages)
    assert coped.count(said) == 4
    as_worded(coped, mitred)


def test_square_ends_need_no_wrap(tmp_path: Path, as_worded: Worded) -> None:
    """Guards an empty sheet of paper: said, and nothing written."""
    plain = blank(square(38.0), square(38.0))
    with pytest.raises(WrapError) as caught:
        write_wrap(plain, tube(38), tmp_path / "wrap.pdf")
    as_worded(caught.value)
    assert list(tmp_path.iterdir()) == []
    job = Job(Settings(), (tube(38),), (), (Member("BS", "tube"),))
    write_wraps(job, [plain, blank(SHAPES[0], square(38.0))], tmp_path / "wrap.pdf")
    assert len(PdfReader(tmp_path / "wrap.pdf").pages) == 1


def test_the_same_member_gives_the_same_file(tmp_path: Path) -> None:
    """Guards reproducibility: no date and no random name in the PDF."""
    for name in ("one.pdf", "two.pdf"):
        write_wrap(blank(SHAPES[0], SHAPES[3]), tube(38), tmp_path / name)
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()


THIN = 0.3 / 25.4 * 72
"""Points: the width of the lines along a bend's inside and outside."""


def bent(settings: Settings, *, straight: int = 500, shown: float | None = -25.0, pair: bool = False) -> Job:
    """A tube bent twice, coped at both ends; its first bend's inside is ``shown`` degrees from end a's short side."""
    end_a = End(Cut.COPE, saddles=(Saddle(Onto(Fraction(45)), 55.0),))
    end_b = End(Cut.COPE, saddles=(Saddle(Onto(Fraction(45)), 70.0),))
    rows = (
        Bend(Fraction(straight), angle_deg=60.0, from_end_deg=shown),
        Bend(Fraction(300), angle_deg=90.0, rotation_deg=40.0),
        Bend(Fraction(500)),
    )
    made = Member("HOOP", "tube", pair=pair, end_a=end_a, end_b=end_b, turn_deg=100.0, bends=rows)
    return Job(settings, (replace(tube(38), clr=Fraction(120), grip=Fraction(90)),), (), (made,))


@pytest.mark.parametrize("hand", ["L", "R"])
def test_the_line_of_a_bend_lies_where_its_inside_is(tmp_path: Path, hand: str, as_worded: Worded) -> None:
    """Guards a saddle on the wrong side of a bend: read back from the PDF, the line of the bend next to each end lies
    to 0.1 mm where its inside is on the tube. By hand: bend 1 at -25 from end a; bend 2 at -25 + 40 from end a, which
    is 100 less from end b; the other hand the other way round."""
    job = bent(Settings(), pair=True)
    member = next(one for one in lay_out(job).blanks if one.mark.endswith(hand))
    path = tmp_path / "wrap.pdf"
    write_wraps(job, [member], path)
    layout = [tile for wrap in wraps_of(member, job.tubes[0], Settings()) for tile in tiles(wrap, Paper.A4)]
    once = np.pi * 38.1  # paper of 0.1 mm round a tube of 38
    for inside, number, page, tile in zip((-25.0, -85.0), (1, 2), PdfReader(path).pages, layout, strict=True):
        turn = inside if hand == "L" else -inside
        # Seen with the marked end up, clockwise from a to b runs to the left at end a and to the right at end b.
        share = (-turn if number == 1 else turn) / 360.0
        expected = sorted((share + half) % 1.0 * once for half in (0.0, 0.5))
        tall = tile.height / 25.4 * 72
        found = sorted(
            on_wrap(tile, *points[0])[0]
            for width, unbroken, points in polylines(page)
            if abs(width - THIN) < 1e-3
            and unbroken
            and len(points) == 2
            and abs(points[0][1] - points[1][1]) > 0.5 * tall
        )
        assert found == pytest.approx(expected, abs=0.1)
        text = " ".join(page.extract_text().split())
        assert text.count(f"bend {number}") >= 2
        as_worded(text)


def test_what_the_job_does_not_tell_of_a_bend_is_said(tmp_path: Path, as_worded: Worded) -> None:
    """Guards a line made up: where the job does not say how the end lies to the bend, the wrap says so."""
    job = bent(Settings(), shown=None)
    write_wraps(job, lay_out(job).blanks, tmp_path / "wrap.pdf")
    for page in PdfReader(tmp_path / "wrap.pdf").pages:
        text = " ".join(page.extract_text().split())
        as_worded(text)


@pytest.mark.parametrize(
    ("settings", "grip"), [(Settings(), "40 mm"), (Settings(units=Units.IN, step=INCH / 32), "~1 9/16 in")]
)
def test_a_wrap_goes_on_after_the_grip_is_cut_off(
    tmp_path: Path, settings: Settings, grip: str, as_worded: Worded
) -> None:
    """Guards a saddle ground into the tube that the bender was to hold: the end was lengthened, and the wrap says how
    much comes off first. A straight of 50 is 40 short of the grip of 90, the saddle's tip lying on the axis."""
    job = bent(settings, straight=50)
    first = replace(job.members[0].end_a, saddles=(Saddle(Onto(Fraction(38)), 55.0),))
    job = replace(job, members=(replace(job.members[0], end_a=first),))
    write_wraps(job, lay_out(job).blanks, tmp_path / "wrap.pdf")
    texts = [" ".join(page.extract_text().split()) for page in PdfReader(tmp_path / "wrap.pdf").pages]
    assert f" {grip} " in texts[0]
    assert f" {grip} " not in texts[1]
    as_worded(*texts)


def test_words_stay_on_a_small_wrap() -> None:
    """Guards words cut off at the edge on a thin tube, and words over one another where lines lie close."""
    shape = cope(16.0, [onto(25.0, 60.0)])
    for turn in range(0, 360, 15):
        for wrap in wraps_of(blank(shape, shape, turn), tube(16), Settings(), Insides(turn + 5.0, 5.0)):
            along = [text for text in wrap.words if text.upright]
            for text in wrap.words:
                long = wide(text.text, text.size)
                assert (text.x if text.upright else text.x + long) <= wrap.width
            for one, other in combinations(along, 2):
                apart = abs(one.x - other.x) >= 2.4
                low, high = sorted((one, other), key=lambda text: -text.y)
                assert apart or low.y - wide(low.text, low.size) > high.y or "glue" in one.text + other.text


def landing_on_a_bend(turn: object) -> Job:
    """A hoop, and a stay coped aslant onto its bend and mitred at its other end."""
    hoop = Member(
        "HOOP",
        "tube",
        bends=(Bend(Fraction(800), angle_deg=90.0, radius=Fraction(150)), Bend(Fraction(800))),
    )
    onto_bend = Onto(Fraction(38), "HOOP", "HOOP", Fraction(150), 1, 40.0, 90.0)
    stay = Member(
        "ST",
        "slim",
        length=Fraction(700),
        end_a=End(Cut.COPE, saddles=(Saddle(onto_bend, 62.0),)),
        end_b=End(Cut.MITRE, 30.0),
        turn_given=turn is not None,
    )
    return Job(Settings(), (tube(38.0), Tube("slim", Fraction(30), Fraction(4))), (), (hoop, stay))


@pytest.mark.parametrize("turn", [None, 0.0])
def test_a_wrap_names_the_bend_and_shows_its_inside_and_that_of_the_wall(turn: object, as_worded: Worded) -> None:
    """On which bend it sits, where the inside of that bend is (a quarter turn round, by test_senses), the inside of a
    thick wall dashed, and that the turn was not given, where it was not."""
    job = landing_on_a_bend(turn)
    made = lay_out(job).blanks[1]
    wrap, _ = wraps_of(made, job.tubes[1], job.settings)
    texts = [text.text for text in wrap.words]
    assert any(text.endswith("b's 0?") for text in texts) is (turn is None)
    as_worded(*texts, *wrap.helps)
    (dashed,) = [stroke for stroke in wrap.strokes if stroke.dash == 0.8]
    for (x, outside), (same, inside) in zip(wrap.line.points[::15], dashed.points[::15], strict=True):
        assert x == same
        phi = (1.0 - x / round_mm(30.0)) * 360.0
        deep = float(end_line(made.end_a, [phi], radius_mm=11.0)[0])
        assert inside == pytest.approx(max(outside, deep), abs=1e-6)


def test_lines_two_degrees_apart_keep_their_own_names() -> None:
    """Only what lies in one place, to a degree, is named together."""
    ends = cope(30.0, [onto(45, 60)]), cope(30.0, [onto(45, 60)])
    for turn, together in ((-2.0, False), (-0.5, True)):
        wrap, _ = wraps_of(blank(*ends, turn=turn), tube(30.0), Settings())
        assert ("0 short = b's 0" in [text.text for text in wrap.words]) is together


@pytest.mark.parametrize(("count", "short"), [(2, False), (3, True)])
def test_an_end_on_many_tubes_is_named_in_few_words(count: int, short: bool) -> None:
    """On two, each with its angle; on three or more their names alone, so that they fit a narrow wrap."""
    names = [f"P{number}" for number in range(count)]
    saddles = [Saddle(Onto(Fraction(45), name, name), 90.0, Fraction(0), 40.0 * k) for k, name in enumerate(names)]
    wrap, _ = wraps_of(blank(cope(30.0, saddles), cope(30.0, [onto(45, 60)])), tube(30.0), Settings())
    assert (f"cope onto {', '.join(names)}" in [text.text for text in wrap.words]) is short
