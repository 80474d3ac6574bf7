"""Guards ``cutplan print``: one pack from a job or from a saw list, and no other file harmed."""

from __future__ import annotations

import pytest
from openpyxl import load_workbook
from pypdf import PdfReader


def texts(path):
    return [page.extract_text() for page in PdfReader(path).pages]


def test_a_job_and_its_saw_list_give_the_same_pack(run, job, tmp_path, as_worded):
    """The plan is the same, so the paper is."""
    assert run("plan", job, "--output", tmp_path / "list.xlsx").exit_code == 0
    for source, name in ((job, "one.pdf"), (tmp_path / "list.xlsx", "two.pdf")):
        result = run("print", source, "--output", tmp_path / name)
        assert result.exit_code == 0, result.stderr
        as_worded(result.stderr)
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()
    assert any("LEG-L" in text for text in texts(tmp_path / "one.pdf"))


def test_a_part_alone_and_on_other_paper(run, job, tmp_path):
    """The first page, and what was asked for, on Letter."""
    path = tmp_path / "pack.pdf"
    assert run("print", job, "--only", "Saw, order", "--paper", "letter", "--output", path).exit_code == 0
    pages = texts(path)
    assert not any("Wraps" in text for text in pages)
    assert ["Order" in pages[1], "Saw sheets" in pages[2]] == [True, True]
    assert [round(float(one)) for one in PdfReader(path).pages[0].mediabox[2:]] == [612, 792]


def test_a_cut_that_was_spoilt_is_shown_so(run, job, tmp_path):
    """What is ticked on the list, and how much of it is still good."""
    path = tmp_path / "list.xlsx"
    assert run("plan", job, "--output", path).exit_code == 0
    book = load_workbook(path)
    headings = next(row for row in book["Saw list"].iter_rows() if row[0].value == "cut")
    row = next(row for row in book["Saw list"].iter_rows() if row[0].value == 1)
    for cell, heading in zip(row, headings, strict=True):
        if heading.value == "spoilt":
            cell.value = "x"
        elif str(heading.value).startswith("still good"):
            cell.value = 77
    book.save(path)
    assert run("print", path, "--only", "saw", "--output", tmp_path / "pack.pdf").exit_code == 0
    assert any("\n77\n" in text for text in texts(tmp_path / "pack.pdf"))


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--only", "saw,cardboard", "--output", "pack.pdf"], '"cardboard" is not a part of the pack'),
        (["--output", "pack.xlsx"], "does not end in .pdf"),
        ([], "Missing option '--output'"),
    ],
)
def test_wrong_use_is_reported(run, job, tmp_path, monkeypatch, options, says):
    """Nothing is written."""
    monkeypatch.chdir(tmp_path)
    result = run("print", job, *options)
    assert (result.exit_code, says in result.stderr) == (2, True)
    assert not list(tmp_path.glob("pack*"))


def test_a_pdf_that_is_not_ours_stays(run, job, tmp_path, as_worded):
    """A contract of the customer's is not written over."""
    path = tmp_path / "pack.pdf"
    path.write_bytes(b"%PDF-1.4 a contract")
    result = run("print", job, "--output", path)
    assert result.exit_code == 2
    as_worded(result.stderr)
    assert path.read_bytes() == b"%PDF-1.4 a contract"


def test_a_job_with_faults_and_one_short_of_stock(run, job, change, tmp_path):
    """Reported as by every command, and nothing is written."""
    path = tmp_path / "pack.pdf"
    assert run("print", tmp_path / "none.xlsx", "--output", path).exit_code == 1
    change("Stock", "3000", "100")
    assert run("print", job, "--output", path).exit_code == 3
    assert not path.exists()


def test_the_grade_is_shown_wherever_tube_is_ordered(run, job, change, tmp_path):
    """On the order, and on the sheet Buy; it comes through the saw list that carries the plan."""
    change("Tubes", "tube,od,wall\nT,38,2.5", "tube,od,wall,grade\nT,38,2.5,drawn over a mandrel")
    assert run("plan", job, "--output", tmp_path / "list.xlsx").exit_code == 0
    cells = [cell.value for row in load_workbook(tmp_path / "list.xlsx")["Buy"].iter_rows() for cell in row]
    assert "38 x 2.5 mm, drawn over a mandrel" in cells
    assert run("print", tmp_path / "list.xlsx", "--only", "order", "--output", tmp_path / "o.pdf").exit_code == 0
    assert "38 x 2.5 mm, drawn over a mandrel" in texts(tmp_path / "o.pdf")[1]


def test_the_frame_is_in_the_pack_where_it_has_a_place(run, job, tmp_path):
    """Given by points, the frame has a page for each view, on its side, its words above the foot of the page; without
    points the pack says nothing of it."""
    members = "mark,tube,qty,end a,onto a\nP1,T,1,,\nP2,T,1,cope,P1\n"
    points = "mark,x,y,z\nP1,0,0,0\nP1,900,0,0\nP2,400,0,0\nP2,400,0,500\n"
    path = tmp_path / "pack.pdf"
    assert run("print", job, "--output", path).exit_code == 0
    assert "Frame" not in "".join(page.extract_text() for page in PdfReader(path).pages)
    (job / "Members.csv").write_text(members, encoding="utf-8")
    (job / "Points.csv").write_text(points, encoding="utf-8")
    assert run("print", job, "--only", "frame", "--output", path).exit_code == 0
    first, *views = PdfReader(path).pages
    assert "pages 2 to 5" in first.extract_text()
    assert len(views) == 4
    for page in views:
        assert page.mediabox.width > page.mediabox.height
        text = page.extract_text()
        assert "P1" in text
        assert "P2" in text
        lines: list[float] = []
        page.extract_text(
            visitor_text=lambda text, cm, tm, *_, at=lines: at.append(tm[5] + cm[5]) if text.strip() else None
        )
        foot, *above = sorted(lines)
        assert min(each for each in above if each > foot + 1.0) > foot + 7.0
