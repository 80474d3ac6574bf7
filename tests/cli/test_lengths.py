"""Guards ``cutplan lengths``: every blank on a line, one in full, and the JSON of the members."""

from __future__ import annotations

import json

import pytest


def test_every_blank_is_on_a_line(run, job):
    """A pair gives a left and a right; the cope takes half of what it lands on off and gets its allowance."""
    result = run("lengths", job)
    assert result.exit_code == 0
    lines = [line.split() for line in result.stdout.splitlines()]
    assert ["LONG", "T", "1", "1500.0", "square", "square"] in lines
    assert ["LEG-L", "T", "1", "601.0", "cope", "90", "onto", "LONG", "square"] in lines
    assert ["TAB", "T", "3", "100.0", "square", "square", "not", "insured"] in lines


@pytest.mark.parametrize("mark", ["LEG-L", "leg-l"])
def test_one_blank_in_full_adds_up(run, job, mark, as_worded):
    """``--member`` shows the parts of the blank, and they sum to it; the case of a mark does not matter."""
    text = run("lengths", job, "--member", mark).stdout
    as_worded(text)
    data = json.loads(run("lengths", job, "--member", mark, "--json", "-").stdout)
    (member,) = data["members"]
    assert set(member) == {"mark", "tube", "blank", "parts"}
    assert member["blank"] == 601
    assert sum(part["length"] for part in member["parts"]) == pytest.approx(601, abs=1e-6)


def test_a_member_s_own_mark_shows_both_hands(run, job):
    """The mark of a pair means its left and its right."""
    members = json.loads(run("lengths", job, "--member", "LEG", "--json", "-").stdout)["members"]
    assert [member["mark"] for member in members] == ["LEG-L", "LEG-R"]


def test_an_unknown_mark_is_wrong_use(run, job, as_worded):
    """The likely one and the marks there are stand in the message."""
    result = run("lengths", job, "--member", "LAG")
    assert result.exit_code == 2
    as_worded(result.stderr)


def test_faults_leave_with_1(run, job, change, as_worded):
    """A job with a fault shows no length."""
    change("Members", "1500", "15OO")
    result = run("lengths", job)
    assert (result.exit_code, result.stdout) == (1, "")
    as_worded(result.stderr)


def test_the_job_is_never_written_over(run, job):
    """Nor by the JSON of the lengths."""
    before = (job / "Job.csv").read_bytes()
    assert run("lengths", job, "--json", job / "Job.csv").exit_code == 2
    assert (job / "Job.csv").read_bytes() == before
