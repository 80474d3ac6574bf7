"""Guards ``cutplan draw``: a file that can be printed or opened, and no other file harmed."""

from __future__ import annotations

import re

import pytest
from pypdf import PdfReader
from wording import about


@pytest.mark.parametrize(("name", "begins"), [("d.pdf", b"%PDF"), ("d.svg", b"<?xml"), ("D.PDF", b"%PDF")])
def test_the_ending_says_what_is_written(run, job, tmp_path, name, begins):
    """A PDF or an SVG, as the file is called; it may be drawn again."""
    path = tmp_path / name
    for _ in range(2):
        result = run("draw", job, "--output", path)
        assert result.exit_code == 0
        assert "2 sheets; compare them with the real frame" in result.stdout
    assert path.read_bytes().startswith(begins)


def test_one_piece_alone_on_the_paper_asked_for(run, job, tmp_path):
    """A mark draws that piece, a member both its hands; the paper lies on its side."""
    path = tmp_path / "d.pdf"
    assert run("draw", job, "leg", "--output", path, "--paper", "letter").exit_code == 0
    (page,) = PdfReader(path).pages
    assert [float(each) * 25.4 / 72 for each in page.mediabox[2:]] == pytest.approx([279.4, 215.9], abs=0.1)
    text = page.extract_text()
    assert "LEG-L" in text
    assert "LEG-R" in text
    assert "TAB" not in text


def test_a_frame_by_points_is_drawn_in_place(run, job, change, tmp_path):
    """Four sheets of the frame and the list of its ends, then the pieces that have no points."""
    change("Members", "TAB,T,3,,100,,,,no", "TAB,T,3,,100,,,,no\nP1,T,1,,,,,,\nP2,T,1,,,cope,,P1,")
    (job / "Points.csv").write_text("mark,x,y,z\nP1,0,0,0\nP1,900,0,0\nP2,400,0,0\nP2,400,0,500\n", encoding="utf-8")
    path = tmp_path / "d.pdf"
    assert run("draw", job, "--output", path).exit_code == 0
    pages = [page.extract_text() for page in PdfReader(path).pages]
    assert len(pages) == 7
    assert all("P1" in text and "P2" in text for text in pages[:5])
    assert not any("P1" in text for text in pages[5:])


def test_a_job_in_stages_has_a_picture_of_each(run, job, tmp_path):
    """After the four views of the frame: what is made in each stage by its marks, what stands before it without."""
    members = "mark,tube,qty,end a,onto a,stage,made\nP0,T,1,,,,yes\nP1,T,1,cope,P0,1,\nP2,T,1,cope,P1,2,\n"
    points = "mark,x,y,z\nP0,0,0,-400\nP0,0,0,400\nP1,0,0,0\nP1,900,0,0\nP2,400,0,0\nP2,400,0,500\n"
    (job / "Members.csv").write_text(members, encoding="utf-8")
    (job / "Points.csv").write_text(points, encoding="utf-8")
    path = tmp_path / "d.pdf"
    assert run("draw", job, "--output", path).exit_code == 0
    pages = [page.extract_text() for page in PdfReader(path).pages]
    assert len(pages) == 7
    assert [re.findall(r"stage \d of \d", text) for text in pages[4:6]] == [["stage 1 of 2"], ["stage 2 of 2"]]
    assert [sorted(set(re.findall(r"P\d", text))) for text in pages[4:6]] == [["P1"], ["P2"]]


def test_a_job_with_a_fault_is_drawn_as_far_as_it_can_be(run, job, change, tmp_path, as_worded):
    """An end that misses what it lands on by 50 is reported, and its axis is in the picture, where it is seen to miss;
    with nothing that can be drawn, no file is written."""
    change("Members", "TAB,T,3,,100,,,,no", "TAB,T,3,,100,,,,no\nP1,T,1,,,,,,\nP2,T,1,,,cope,,P1,")
    (job / "Points.csv").write_text("mark,x,y,z\nP1,0,0,0\nP1,900,0,0\nP2,400,50,0\nP2,400,50,500\n", encoding="utf-8")
    path = tmp_path / "d.pdf"
    result = run("draw", job, "--output", path)
    assert result.exit_code == 1
    as_worded(result.stderr, result.stdout)
    pages = [page.extract_text() for page in PdfReader(path).pages]
    assert len(pages) == 7
    assert all("P2?" in text for text in pages[:4])
    assert "P2: Members row" in pages[4]
    as_worded(about(pages[4], "P1"))
    change("Tubes", "T,38,2.5", "S,38,2.5")
    assert run("draw", job, "--output", tmp_path / "none.pdf").exit_code == 1
    assert not (tmp_path / "none.pdf").exists()


def test_nothing_else_is_written_over(run, job, tmp_path, monkeypatch, as_worded):
    """Not the default name where it is taken, not a file of another kind, not another program's drawing."""
    monkeypatch.chdir(tmp_path)
    assert run("draw", job).exit_code == 0
    assert (tmp_path / "drawings.pdf").is_file()
    as_worded(run("draw", job).stderr)
    book = tmp_path / "job.xlsx"
    book.write_bytes(b"measurements")
    assert run("draw", job, "--output", book).exit_code == 2
    assert book.read_bytes() == b"measurements"
    other = tmp_path / "other.svg"
    other.write_text("<svg><path d='M0 0'/></svg>")
    as_worded(run("draw", job, "--output", other).stderr)
    assert other.read_text().startswith("<svg><path")


def test_an_unknown_mark_is_wrong_use(run, job, as_worded):
    """The marks there are stand in the message."""
    result = run("draw", job, "LAG")
    assert result.exit_code == 2
    as_worded(result.stderr)


def test_nodes_have_their_names_in_the_picture(run, job, tmp_path):
    """Members from node to node, their other half made by the mirror: every node and both hands are in the pictorial
    view, and the coordinates at the edges are those of the nodes; one node out of place is seen though the job has a
    fault."""
    rows = "mark,tube,from,to,pair\nR,T,A,B,yes\nX,T,A-L,A-R,\nY,T,B-L,B-R,\n"
    (job / "Members.csv").write_text(rows, encoding="utf-8")
    (job / "Nodes.csv").write_text("name,x,y,z\nA,0,300,0\nB,900,250,100\n", encoding="utf-8")
    text = (job / "Job.csv").read_text(encoding="utf-8")
    (job / "Job.csv").write_text(text + "mirror,y=0\n", encoding="utf-8")
    path = tmp_path / "d.pdf"
    result = run("draw", job, "--output", path)
    assert result.exit_code == 0, result.stderr
    pages = [page.extract_text() for page in PdfReader(path).pages]
    assert len(pages) == 5
    words = set(pages[0].split())
    assert {"A-L", "A-R", "B-L", "B-R", "R-L", "R-R", "X", "Y"} <= words
    assert {"-300", "-250", "250", "300"} <= set(pages[3].split())
