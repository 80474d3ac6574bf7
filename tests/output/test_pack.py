"""The printed pack, read back from the file: nothing is left out, overlaps or leaves its page, and it is to scale."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import pairwise
from math import cos, hypot, inf, radians
from pathlib import Path

import numpy as np
import pytest
from pdf_back import MM, Words, crossed, overlaps, read_page, strays
from pdf_back import Path as Drawn
from pypdf import PdfReader

from cutplan import make_plan, read_job
from cutplan.geometry.ends import end_line
from cutplan.geometry.layout import lay_out
from cutplan.job.model import Bend, Cut, End, Job, Member, Onto, Saddle, Settings, StockRow, Tube
from cutplan.output.pack import PARTS, write_pack
from cutplan.output.pdf import Paper
from cutplan.plan import make_plan as plan_of
from cutplan.plan import wording
from cutplan.plan.model import Plan
from cutplan.plan.recut.ticks import Tick
from cutplan.plan.rough import with_rough_ends
from cutplan.plan.tables import Tables
from cutplan.plan.tables.card_words import tape
from cutplan.plan.tables.saw_list import after_mitres
from cutplan.plan.tables.wraps import Wrap, across_mm, every_wrap

EXAMPLES = Path(__file__).parents[2] / "examples"
NAMES = ("sand-rail-bay", "ladder-frame", "hand-rail", "buggy-rear")
MORE = ("yard-gate", "dinghy-trolley")
"""Their saw sheets and wraps have nothing that those of the others have not; the whole ``dune-frame`` has a script."""
ESTIMATED = "roll-bar-in-place"
MEASURED = "roll-bar-in-place, measured"
"""The same with every estimate measured, so that each of its pieces has a card."""
MEASURES = {
    "850 ± 40": "868",
    "52 to 60": "57",
    "1240 to 1330": "1296",
    "48 ± 4": "49",
    "42 ± 4": "42",
    "940 ± 25": "931",
    "58 ± 3": "58",
}
NOSE = "dune-frame, the nose"
"""The foremost members of that frame, which land on bends and on several tubes at once."""
NOSE_MARKS = ("FRONT", "RAIL", "UR1", "NE", "NA", "AE", "XE")
LONG_MARKS = "long marks"
LONGEST = "W" * 34 + "-%02d"
"""As wide as a mark of the longest kind can be, but for its hand and number."""
WHOLE = [
    ("sand-rail-bay", Paper.A4),
    ("hand-rail", Paper.A4),
    (ESTIMATED, Paper.A4),
    ("buggy-rear", Paper.A4),
    ("ladder-frame", Paper.LETTER),
    ("yard-gate", Paper.A4),
    ("dinghy-trolley", Paper.A4),
    (LONG_MARKS, Paper.A4),
    (LONG_MARKS, Paper.LETTER),
]
"""The packs that are printed whole."""
BUT_THE_FRAME = tuple(part for part in PARTS if part != "frame")
HEADINGS = {"saw": "Saw sheets", "cards": "Cards", "wraps": "Wraps"}
Pages = list[tuple[list[Drawn], list[Words]]]
PagesOf = Callable[..., Pages]


@pytest.fixture(scope="module")
def plans(tmp_path_factory) -> dict[str, Plan]:
    """The plans of the examples, with their rough cuts."""
    jobs = {name: EXAMPLES / name for name in (*NAMES, *MORE, ESTIMATED)}
    jobs[MEASURED] = altered(EXAMPLES / ESTIMATED, tmp_path_factory.mktemp("measured"), measured)
    jobs[NOSE] = altered(EXAMPLES / "dune-frame", tmp_path_factory.mktemp("nose"), foremost)
    return {name: with_rough_ends(make_plan(read_job(job))) for name, job in jobs.items()}


@pytest.fixture(scope="module")
def shown(plans) -> dict[str, Tables]:
    """The tables of those plans, each worked out once."""
    return {name: Tables(plan) for name, plan in {**plans, LONG_MARKS: renamed(plans["ladder-frame"])}.items()}


@pytest.fixture(scope="module")
def pages_of(shown, tmp_path_factory) -> PagesOf:
    """The pages of a part of a pack, read back: of a whole pack where that is looked at too, else of that part with the
    page in front of it; each written once."""
    folder = tmp_path_factory.mktemp("packs")

    @cache
    def pack(name: str, paper: Paper, parts: tuple[str, ...]) -> Pages:
        return written(shown[name], folder / "pack.pdf", paper, parts=parts)

    def of(name: str, part: str = "", paper: Paper = Paper.A4) -> Pages:
        pages = pack(name, paper, BUT_THE_FRAME if (name, paper) in WHOLE else (part,))
        foot = f"{shown[name].settings.name}: {HEADINGS[part]}" if part else ""
        found = [page for page in pages if not part or any(one.text == foot for one in page[1])]
        assert found
        return found

    return of


def altered(example: Path, folder: Path, change: Callable[[str], str]) -> Path:
    """A copy of ``example`` in ``folder`` with other ``Members``."""
    for table in example.glob("*.csv"):
        text = table.read_text(encoding="utf-8")
        (folder / table.name).write_text(change(text) if table.stem == "Members" else text, encoding="utf-8")
    return folder


def measured(members: str) -> str:
    """The table with what was measured in place of what was estimated."""
    for guess, known in MEASURES.items():
        assert guess in members
        members = members.replace(guess, known)
    return members


def foremost(members: str) -> str:
    """The table with the members of the nose alone."""
    lines = members.splitlines(keepends=True)
    return "".join(line for line in lines if line.split(",")[0] in ("mark", *NOSE_MARKS))


def renamed(plan: Plan) -> Plan:
    """``plan`` with marks as long as they can be, everywhere."""
    marks = {blank.mark: LONGEST % number for number, blank in enumerate(plan.blanks)}
    names = {}
    for blank in plan.blanks:
        names.setdefault(blank.member, marks[blank.mark])
    tubes = []
    for tube in plan.tubes:
        bars = tuple(
            replace(bar, cuts=tuple(replace(cut, mark=marks[cut.mark]) for cut in bar.cuts)) for bar in tube.bars
        )
        tubes.append(replace(tube, bars=bars))
    blanks = tuple(replace(blank, mark=marks[blank.mark], member=names[blank.member]) for blank in plan.blanks)
    members = tuple(replace(member, mark=names[member.mark]) for member in plan.job.members)
    rough = tuple(replace(one, mark=marks[one.mark]) for one in plan.rough_ends)
    return replace(plan, job=replace(plan.job, members=members), tubes=tuple(tubes), blanks=blanks, rough_ends=rough)


def written(
    tables: Tables, path: Path, paper: Paper = Paper.A4, ticks: tuple[Tick, ...] = (), parts: tuple[str, ...] = PARTS
) -> Pages:
    """The pages of the pack of a plan with these tables, read back."""
    write_pack(tables, path, paper=paper, ticks=ticks, parts=parts, prices=True)
    return [read_page(page) for page in PdfReader(path).pages]


@pytest.mark.parametrize(("name", "paper"), WHOLE)
def test_no_text_overlaps_or_leaves_its_page(pages_of, name, paper):
    """Every text of every page but the frame's, which has tests of its own, the longest marks and inch fractions
    included; and none runs over the edge of a box, its own or another's."""
    pages = pages_of(name, paper=paper)
    assert len(pages) >= 3
    for number, (paths, words) in enumerate(pages, 1):
        assert len(words) > 4
        assert (number, overlaps(words)) == (number, [])
        assert (number, crossed(paths, words)) == (number, [])
        assert (number, strays(words, *paper.value)) == (number, [])


@pytest.mark.parametrize("name", NAMES)
def test_every_cut_is_on_the_saw_sheets_under_its_bar(shown, pages_of, name):
    """In one row, from left to right: number, mark, blank; rows are 8 mm high at the least; no bar is split."""
    tables = shown[name]
    pages = pages_of(name, "saw")
    found = {}
    for page, (paths, words) in enumerate(pages):
        large = [one for one in words if one.box[3] - one.box[1] > 4.5]
        rows = sorted({round(one.box[1], 1) for one in large if one.text.isdigit() and one.box[0] < 21})
        assert all(after - before >= 8.0 for before, after in pairwise(rows))
        boxes = [path for path in paths if abs(path.width - 0.5) < 0.01 and len(path.points) == 5]
        for top in rows:
            row = sorted(
                (one for one in words if abs(one.box[1] + one.box[3] - 2 * top - 4.9) < 8), key=lambda w: w.box
            )
            cut = next(int(one.text) for one in row if one.text.isdigit() and one.box[0] < 21)
            found[cut] = (page, [one.text for one in row])
            assert sum(abs(path.points[0][1] - top) < 3 for path in boxes) == 3
    assert sorted(found) == [row.cut for row in tables.saw_list]
    for row in tables.saw_list:
        page, texts = found[row.cut]
        assert row.mark in texts
        visit = (row.stage, row.bar)
        assert page == found[next(one.cut for one in tables.saw_list if (one.stage, one.bar) == visit)][0]


@pytest.mark.parametrize("name", NAMES)
def test_the_saw_sheets_can_be_read_at_arms_length(plans, shown, pages_of, name):
    """Of every cut its number, mark and blank in 13 points at the least, what is left and its ends in 8; on the bar's
    picture each blank has its number, in 7 at the least, and no word is broken. Points by the height of the letters."""
    plan = plans[name]
    words = [one for _, words in pages_of(name, "saw") for one in words]
    sizes = {one: (one.box[2] - one.box[0] if one.upright else one.box[3] - one.box[1]) / 0.925 / MM for one in words}
    for row in shown[name].saw_list:
        texts = {row.mark: 13.5, wording.blank(row.blank, plan.job.settings): 13.5, str(row.cut): 14.0}
        texts[wording.found(row.left, plan.job.settings.units)] = 8.0
        for text, least in texts.items():
            assert max(sizes[one] for one in words if one.text == text) >= least
        assert [one for one in words if not one.upright and one.text == str(row.cut) and sizes[one] < 13.0] or [
            one for one in words if one.upright and one.text.split(" ")[0] == str(row.cut)
        ]
    # Where tube is to be moved about, what to do takes more words than there is room for in large letters.
    long = " ".join(row.if_spoilt for row in shown[name].saw_list if len(row.if_spoilt) > 30)
    small = [(one.text, sizes[one]) for one in words if sizes[one] < (7.0 if one.upright else 7.9)]
    assert all(text in long and size > 6.0 for text, size in small), small


def test_the_saw_sheets_go_by_stages_and_back_to_a_bar(shown, pages_of):
    """Built in stages, cuts are numbered down the pages, and what to measure stands above the first of each stage."""
    tables = shown["buggy-rear"]
    pages = pages_of("buggy-rear", "saw")
    text = " ".join(one.text for _, words in pages for one in words)
    for stage in tables.stages:
        assert stage.title in text
    assert [row.cut for row in tables.saw_list] == list(range(1, len(tables.saw_list) + 1))
    places = [text.index(stage.title) for stage in tables.stages]
    assert places == sorted(places)
    assert places[1] < text.index("Bar 1 again") < places[2]


def test_what_is_ticked_is_crossed(mm_plan, tmp_path):
    """A cut that is done has a cross in its box, one that is spoilt in the other, with what is still good of it."""
    bare = written(Tables(mm_plan), tmp_path / "bare.pdf", parts=("saw",))
    ticks = (Tick(1, True, False), Tick(2, False, True, Fraction(1234)))
    ticked = written(Tables(mm_plan), tmp_path / "ticked.pdf", parts=("saw",), ticks=ticks)
    crosses = [sum(abs(path.width - 0.6) < 0.01 for paths, _ in pages for path in paths) for pages in (bare, ticked)]
    assert crosses == [0, 4]
    texts = [[one.text for _, words in pages for one in words] for pages in (bare, ticked)]
    assert ["1234" in one for one in texts] == [False, True]


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("paper", Paper)
def test_wraps_are_true_to_size_and_lie_apart(shown, pages_of, name, paper):
    """Each wrap's line is on a page as the tables give it, to a tenth of a millimetre, whichever way it is turned; the
    frames lie within the margins and apart, each with its check length."""
    tables = shown[name]
    pages = pages_of(name, "wraps", paper)
    lines = []
    for paths, words in pages:
        frames = [path for path in paths if abs(path.width - 0.3) < 1e-3 and len(path.points) == 5]
        boxes = [Words("", (min(xs), min(ys), max(xs), max(ys)), False) for xs, ys in map(across, frames)]
        assert boxes
        assert overlaps(boxes, 0.0) == []
        assert strays(boxes, *paper.value) == []
        long = 50.0 if paper is Paper.A4 else 50.8
        bars = [path for path in paths if len(path.points) == 2 and abs(length(path) - long) < 0.05]
        assert len(bars) >= len(frames)
        assert sum(one.text.startswith("check: ") for one in words) == len(frames)
        lines += [path.points for path in paths if abs(path.width - 0.5) < 1e-3 and not path.dashed]
    assert len(lines) == len(tables.wraps)
    wanted = sorted(laid(wrap.line.points) for wrap in tables.wraps)
    turned = sorted(laid(flat(points)) for points in lines)
    for ours, theirs in zip(wanted, turned, strict=True):
        for (x, y), (u, v) in zip(ours, theirs, strict=True):
            assert abs(x - u) < 0.1
            assert abs(y - v) < 0.1


@pytest.mark.parametrize("name", ["sand-rail-bay", "ladder-frame", "hand-rail", "dinghy-trolley"])
def test_a_wrap_is_printed_once_for_all_ends_that_it_fits(plans, shown, name):
    """Each end has one wrap, named for it and for what it sits on; on it are the line, the lines along the tube and
    the angles where that end alone would have them. Of two wraps of a tube no line and lines along are the same."""
    plan = plans[name]
    wraps = shown[name].wraps
    shared = {end: wrap for wrap in wraps for end in wrap.ends}
    alone = {end: wrap for blank in plan.blanks for wrap in every_wrap(plan.job, [blank]) for end in wrap.ends}
    assert sum(len(wrap.ends) for wrap in wraps) == len(shared)
    assert shared.keys() == alone.keys()
    assert len(wraps) < len(shared)
    blanks = {blank.mark: blank for blank in plan.blanks}
    for (mark, side), own in alone.items():
        wrap = shared[mark, side]
        assert np.allclose(sorted(own.line.points), sorted(wrap.line.points), atol=0.05)
        assert np.allclose(along(own), along(wrap), atol=0.05)
        shape = blanks[mark].end_a if side == "a" else blanks[mark].end_b
        for turn in (90, 270):
            there = [
                text.text
                for text in wrap.words
                if text.upright and abs(text.x - 1.2 - across_mm(shape, side, turn)) < 3.0
            ]
            both = {each for _, each in wrap.ends} == {"a", "b"}
            assert any((f"{side} {turn}" if both else f"{turn}") in text for text in there)
        assert f"{mark}, " in wrap.title
        assert wording.end(shape, plan.job.settings.units) in wrap.title
        assert any(mark in text.text for text in wrap.words if not text.upright)
    for number, one in enumerate(wraps):
        for other in wraps[number + 1 :]:
            apart = len(along(one)) != len(along(other)) or not np.allclose(along(one), along(other), atol=0.01)
            lines = np.array(one.line.points), np.array(other.line.points)
            tube = one.title.partition("; tube ")[2] == other.title.partition("; tube ")[2]
            assert (
                apart
                or not tube
                or np.abs(lines[0] - lines[1]).max() > 0.01
                or "turn was not given" in "".join(one.helps + other.helps)
            )


def along(wrap: Wrap) -> list[float]:
    """Where the lines along the tube are drawn."""
    return sorted(stroke.points[0][0] for stroke in wrap.strokes if stroke.dash == 1.0)


def across(path: Drawn) -> tuple[tuple[float, ...], tuple[float, ...]]:
    xs, ys = zip(*path.points, strict=True)
    return xs, ys


def length(path: Drawn) -> float:
    (x, y), (u, v) = path.points
    return ((x - u) ** 2 + (y - v) ** 2) ** 0.5


def flat(points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
    """A wrap's line as it lies with its words level: one that runs up the page is turned back."""
    (x, y), (u, v) = points[0], points[-1]
    return points if abs(u - x) > abs(v - y) else tuple((-b, a) for a, b in points)


def laid(points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
    """The points from the line's own upper left corner, to a hundredth."""
    left, top = min(x for x, _ in points), min(y for _, y in points)
    return tuple((round(x - left, 2), round(y - top, 2)) for x, y in points)


def test_the_order_names_every_tube_with_its_grade(mm_plan, tmp_path):
    """Section, grade, length, count and mass of what is bought; prices only where they are asked for."""
    tubes = (replace(mm_plan.job.tubes[0], grade="cold-drawn, annealed"), *mm_plan.job.tubes[1:])
    plan = replace(mm_plan, job=replace(mm_plan.job, tubes=tubes))
    _, (_, words) = written(Tables(plan), tmp_path / "pack.pdf", parts=("order",))
    texts = [one.text for one in words]
    # By hand: 6 m at 2.62 kg/m, and two at 1.776.
    for text in (
        "45 x 2.5 mm, cold-drawn, annealed",
        "1 x 6000 mm",
        "15.7 kg",
        "2 x 6000 mm",
        "21.3 kg",
        "61.50 EUR each",
    ):
        assert text in texts
    assert any("+shed 4" in text for text in texts)
    write_pack(Tables(plan), tmp_path / "bare.pdf", parts=("order",))
    assert "61.50" not in "".join(page.extract_text() for page in PdfReader(tmp_path / "bare.pdf").pages)


def test_the_first_page_says_where_everything_is(shown, tmp_path):
    """Each part with its pages, and there it begins."""
    path = tmp_path / "pack.pdf"
    write_pack(shown["sand-rail-bay"], path)
    pages = [page.extract_text() for page in PdfReader(path).pages]
    for part in ("Order", "Saw sheets", "Wraps"):
        [first] = re.findall(rf"^{part}\n.*\npages? (\d+)", pages[0], re.MULTILINE)
        there = [number for number, text in enumerate(pages, 1) if f": {part}\n" in text]
        assert there[0] == int(first)
    assert pages[-1].rstrip().endswith(f"page {len(pages)} of {len(pages)}")


def test_the_same_plan_gives_the_same_file(plans, tmp_path):
    """No date and no random name."""
    for name in ("one.pdf", "two.pdf"):
        write_pack(Tables(plans["sand-rail-bay"]), tmp_path / name)
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()


@pytest.mark.parametrize("name", [*NAMES, *MORE])
def test_every_piece_has_its_card(plans, shown, pages_of, name):
    """Each mark once, in its heading with its blank; what is bent and landed on is said; boxes for every step."""
    tables, pages = shown[name], pages_of(name, "cards")
    headings = [one.text for _, words in pages for one in words if one.box[3] - one.box[1] > 6.5]
    marks = [mark for heading in headings if not heading.startswith("blank ") for mark in heading.split(", ")]
    assert sorted(marks) == sorted(blank.mark for blank in plans[name].blanks)
    text = " ".join(one.text for _, words in pages for one in words)
    boxes = [path for paths, _ in pages for path in paths if abs(path.points[1][0] - path.points[0][0] - 6.0) < 0.01]
    assert sum(len(path.points) == 5 for path in boxes) == sum(len(card.steps) for card in tables.cards)
    for row in tables.members:
        assert f"blank {wording.blank(row.blank, tables.settings)} {tables.settings.units.value}" in text
    for row in tables.bends:
        assert f"bender's mark {tape(row.benders_mark, tables.settings)}" in text
    # Two a page, but for those that have more to say.
    assert 4 * len(pages) <= 3 * len(tables.cards)


@pytest.mark.parametrize("name", [*NAMES, *MORE, MEASURED, NOSE])
def test_ends_are_drawn_along_their_true_lines(plans, shown, pages_of, name):
    """Each end that is not square, read back from its card and brought to full size, is its line to 0.1 mm, its tip on
    the side where it is; end b of a straight piece as it lies with end a's 0 up. An end whose two sides differ is drawn
    from both."""
    pages = pages_of(name, "cards")
    blanks = {blank.mark: blank for blank in plans[name].blanks}
    checked = 0
    for card in shown[name].cards:
        blank = blanks[card.marks[0]]
        front = [path.points for path in on_card(pages, ", ".join(card.marks)) if abs(path.width - 0.35) < 0.01]
        drawn = [points for points in front if points[-1][1] - points[0][1] > 5.0]
        eye = -1.0 if len(card.marks) == 1 and wording.hand(blank) == "right" else 1.0
        both = Cut.SQUARE not in (blank.end_a.cut, blank.end_b.cut)
        turn = blank.turn_deg if both and blank.turn_known and not blank.bends else 0.0
        for shape, zero, inwards in ((blank.end_a, 0.0, 1.0), (blank.end_b, turn, -1.0)):
            if shape.cut is Cut.SQUARE:
                continue
            near, far = (seen_line(shape, zero, side, inwards) for side in (eye, -eye))
            assert any(apart(full_size(points, shape.od), near) < 0.1 for points in drawn), (card.marks, shape.cut)
            checked += 1
            if max(abs(x + u) for (x, _), (u, _) in zip(near, far, strict=True)) > 0.1 * shape.od:
                assert any(apart(full_size(points, shape.od), far) < 0.1 for points in drawn), card.marks
    assert checked > 5


def seen_line(shape, zero: float, side: float, inwards: float) -> list[tuple[float, float]]:
    """The line of an end on one half of its tube as it is seen from there, x to the right and y down from the upper
    edge: ``zero`` is how far its 0 is turned from up, ``side`` which half it is, 1 that with end a's 90; ``inwards``
    the way from its tip into the piece as seen with end a's 90 nearer, 1 to the right."""
    turns = np.arange(0.0, 181.0, 3.0)
    depths = end_line(shape, side * turns - zero)
    return [
        (side * inwards * x, shape.od / 2 * (1 - cos(radians(turn)))) for x, turn in zip(depths, turns, strict=True)
    ]


@pytest.mark.parametrize(("name", "member"), [("sand-rail-bay", "LS"), (NOSE, "AE"), (NOSE, "UR1")])
def test_the_right_hand_is_drawn_as_the_mirror_of_the_left(pages_of, name, member):
    """Two hands that differ, each with its own card: every line of the one, turned over and brought to full size, is a
    line of the other, to 0.05 mm; without turning it over they are far apart."""
    pages = pages_of(name, "cards")
    left, right = (on_card(pages, f"{member}-{hand}") for hand in "LR")
    assert len(left) == len(right) >= 3
    assert gap(seen_lines(left, 1.0), seen_lines(right, -1.0)) < 0.05
    assert gap(seen_lines(left, 1.0), seen_lines(right, 1.0)) > 1.0


def on_card(pages: Pages, mark: str) -> list[Drawn]:
    """The lines that ends are drawn by on the card headed ``mark``."""
    for paths, words in pages:
        headings = [one for one in words if one.box[3] - one.box[1] > 6.5]
        for top in (one.box[1] for one in headings if one.text == mark):
            low = min((one.box[1] for one in headings if one.box[1] > top + 20.0), default=inf)
            lines = (path for path in paths if len(path.points) == 61 and not path.filled)
            return [path for path in lines if all(top < y < low for _, y in path.points)]
    raise AssertionError(mark)


def seen_lines(paths: list[Drawn], way: float) -> list[tuple[float, list[tuple[float, float]]]]:
    """Each line from its own left upper corner, as large as it is on a tube of 30 mm; ``way`` -1: turned over."""
    lines = []
    for path in paths:
        left, top = min(x * way for x, _ in path.points), min(y for _, y in path.points)
        size = 30.0 / (max(y for _, y in path.points) - top)
        points = sorted((round((x * way - left) * size, 2), round((y - top) * size, 2)) for x, y in path.points)
        lines.append((round(path.width, 2), points))
    return sorted(lines)


def gap(
    one: list[tuple[float, list[tuple[float, float]]]], other: list[tuple[float, list[tuple[float, float]]]]
) -> float:
    """How far at the most the points of two sets of lines are apart."""
    return max(
        hypot(x - u, y - v)
        for (_, ours), (_, theirs) in zip(one, other, strict=True)
        for (x, y), (u, v) in zip(ours, theirs, strict=True)
    )


@pytest.mark.parametrize("name", ["sand-rail-bay", "ladder-frame"])
def test_what_is_printed_can_be_found_and_copied(shown, name, tmp_path):
    """By another reader than the drawing's own: the text of the pages, as a person would search and copy it, has every
    mark with its blank, every bar to order and every bender's mark."""
    tables = shown[name]
    write_pack(tables, tmp_path / "pack.pdf", paper=Paper.A4)
    pages = [" ".join(page.extract_text().split()) for page in PdfReader(tmp_path / "pack.pdf").pages]
    text = " ".join(pages)
    unit = tables.settings.units.value
    for row in tables.saw_list:
        long = wording.blank(row.blank, tables.settings)
        assert any(row.mark in page.split() and f"{long} " in page for page in pages)
        assert f"blank {long} {unit}" in text
    for order in (row for part in tables.order.parts for row in part.rows):
        assert order.asked in text
        assert all(line.bars in text and line.mass in text for line in order.lines)
    for bend in tables.bends:
        assert f"bender's mark {tape(bend.benders_mark, tables.settings)} {unit}" in text


def full_size(points: tuple[tuple[float, float], ...], od: float) -> list[tuple[float, float]]:
    """A line from edge to edge of a tube, scaled to the tube's diameter, from its upper edge down."""
    tall = points[-1][1] - points[0][1]
    top = points[0]
    return [((x - top[0]) * od / tall, (y - top[1]) * od / tall) for x, y in points] if tall > 5.0 else [(0.0, 0.0)]


def apart(points: list[tuple[float, float]], line: list[tuple[float, float]]) -> float:
    """How far at the most two lines are from each other."""
    if len(points) != len(line):
        return inf
    return max(hypot(x - (u - line[0][0]), y - v) for (x, y), (u, v) in zip(points, line, strict=True))


def test_steps_are_in_the_order_they_are_done(tmp_path):
    """A bent piece with a grip to cut off: bends come before that end is cut off and shaped; and a mitre that the saw
    does not swing to is marked by hand."""
    cope = End(Cut.COPE, saddles=(Saddle(Onto(Fraction(45)), 60.0),))
    bends = (Bend(Fraction(90), angle_deg=60.0, from_end_deg=0.0), Bend(Fraction(400)))
    members = (
        Member("BENT", "T", end_a=cope, bends=bends),
        Member("STEEP", "T", length=Fraction(500), end_a=End(Cut.MITRE, 55.0), end_b=cope),
        Member(
            "TURNED",
            "T",
            length=Fraction(500),
            end_a=End(Cut.MITRE, 45.0),
            end_b=End(Cut.MITRE, 30.0),
            turn_deg=90.0,
            turn_given=True,
        ),
    )
    tube = Tube("T", Fraction(38), Fraction(2), clr=Fraction(114), grip=Fraction(150))
    stock = (StockRow("T", Fraction(6000)),)
    job = Job(Settings(saw_swing=50.0), (tube,), stock, members)
    plan = with_rough_ends(plan_of(job, lay_out(job).blanks))
    bent, steep, mitred = Tables(plan).cards
    headings = ["Saw", "Mark lines along the tube", "Bend 1", "Take off the grip", "Rough cuts, end a", "Cope, end a"]
    assert [step.heading for step in bent.steps] == [*headings, "Fit"]
    assert bent.steps[0].says.endswith("both ends square")
    assert [step.heading for step in steep.steps] == [
        "Saw",
        "Mitre, end a",
        "Find end b's 0",
        "Rough cuts, end b",
        "Cope, end b",
        "Fit",
    ]
    # By hand: a quarter of 38 mm tube's round, pi x 38 / 4, is 29.8.
    assert mitred.steps[0].says == "end b's 0 is 90° clockwise from end a's (30 mm round), looking from a to b"
    assert [step.heading for step in mitred.steps] == ["Mark lines along the tube", "Saw", "Fit"]
    assert "end a square for now" in steep.steps[0].says
    assert any("How far end b is turned from end a was not given" in text for text in steep.care)
    assert written(Tables(plan), tmp_path / "pack.pdf", parts=("cards",))


def test_a_saw_sheet_shows_how_the_saw_leaves_each_end(shown):
    """Opposite mitres lean the same way on the bar; a mitre whose turn was not given is square for now; and after a
    mitre it is said from which side of the bar the next blank is taped."""
    tables = shown["hand-rail"]
    first, last = (tables.end_pictures["T2", name].bodies[0] for name in "ab")
    leans = [min(body)[1] > max(y for _, y in body) / 2 for body in (first, last)]
    assert leans == [True, False]  # the long point below at end a, above at end b: a parallelogram
    assert tables.square_for_now["T1"] == ("b",)
    assert len({x for x, _ in tables.end_pictures["T1", "b"].bodies[0]}) == 2  # upright at its end
    assert tables.square_for_now["T2"] == ()
    bars = {bar: [row for row in tables.saw_list if row.bar == bar] for bar in {row.bar for row in tables.saw_list}}
    shared = next(rows for rows in bars.values() if [row.mark for row in rows] == ["T2", "T3"])
    assert after_mitres(shared, tables.square_for_now) == " After one cut for two, tape the bar's long side."
    apart = next(rows for rows in bars.values() if [row.mark for row in rows][:2] == ["T2", "T4"])
    assert after_mitres(apart, tables.square_for_now).startswith(" After a mitre, tape and start from the bar's short")
    square = next(rows for rows in bars.values() if [row.mark for row in rows][:2] == ["T1", "P"])
    assert after_mitres(square, tables.square_for_now) == ""
