"""Frames with bent tubes and their mirror images: pieces made as their cards say fit, ends are those of solids."""

from __future__ import annotations

import csv
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from bent_frames import Half
from frame_judge import Whole, judge_frame
from piece_judge import fit, pieces_that_fit

from cutplan.geometry import Layout, lay_out
from cutplan.geometry.inside import insides
from cutplan.geometry.nodes import settled
from cutplan.job import read
from cutplan.job.model import Job

CLOSE_MM = 0.05


def job_of(seed: int, folder: Path) -> tuple[Job, Layout]:
    """A random half and its other half, read and laid out, nothing added for fitting."""
    for name, rows in Half(seed).tables().items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(rows)
    job = read(folder).job
    assert job is not None
    job = settled(job).job
    job = replace(job, settings=replace(job.settings, fit_cope=Fraction(0), fit_mitre=Fraction(0)))
    layout = lay_out(job)
    assert layout.faults == ()
    return job, layout


@pytest.mark.parametrize("seed", [0, 4, 14, 18])
def test_every_piece_made_as_its_card_says_fits(seed: int, tmp_path: Path) -> None:
    """Bends, rotations, turn and the insides of bends, of both hands; and one with its bends turned the wrong way
    does not fit."""
    job, layout = job_of(seed, tmp_path)
    blanks = {blank.mark: blank for blank in layout.blanks}
    lie = {mark: insides(blank, job) for mark, blank in blanks.items()}
    whole = Whole.of(job)
    fits = list(pieces_that_fit(whole, job, blanks, lie))
    assert len(fits) == len(blanks)
    for one in fits:
        assert max(one.place, one.round, one.inside) < CLOSE_MM, one
    wrong = 0
    for member in job.members:
        made = blanks[member.mark]
        bends = tuple(replace(bend, rotation_deg=-bend.rotation_deg) for bend in made.bends)
        one = fit(whole, member, replace(made, turn_deg=-made.turn_deg, bends=bends), lie[member.mark])
        wrong += max(one.place, one.round) > 1.0
    assert wrong >= 2


@pytest.mark.judge
@pytest.mark.parametrize("seed", [18])
def test_both_halves_of_a_bent_frame_against_solids(seed: int, tmp_path: Path) -> None:
    """Every coped end of the left and of the right side, all other tubes of its node cut away."""
    job, layout = job_of(seed, tmp_path)
    verdicts = list(judge_frame(job, layout, 120, both_sides=True))
    assert sum(one.mark.endswith("-R") for one in verdicts) >= 2
    for one in verdicts:
        assert max(one.tip, one.line) < CLOSE_MM, one
