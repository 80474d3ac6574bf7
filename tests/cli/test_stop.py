"""Ctrl-C and the time limit: the best plan so far, called found and not least, or the word that there is none."""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from processes import Processes

from cutplan.cli.stop import StoppedError, stoppable
from cutplan.plan import NoPlanInTimeError

SEARCHING = """
import os, signal, sys
# Whoever runs the tests in the background has Ctrl-C ignored, and children take that over.
signal.signal(signal.SIGINT, signal.default_int_handler)
from cutplan.cli.main import main
from cutplan.nesting.clock import Clock

check = Clock.check

def reported(self):
    os.write(1, b"searching\\n")
    Clock.check = check

Clock.check = reported
main(sys.argv[1:], prog_name="cutplan")
"""
"""The command line, with a word on standard output once a search has begun."""


@pytest.fixture(autouse=True)
def heard() -> Iterator[None]:
    """Ctrl-C is heard, also where the tests run in the background."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.fixture
def large(tmp_path: Path) -> Path:
    """400 members, hardly two alike, on three lengths of bar: not proven within minutes."""
    dice = random.Random(5)
    folder = tmp_path / "large"
    folder.mkdir()
    (folder / "Job.csv").write_text("setting,value\nname,Large\nunits,mm\nkerf,2\nend trim,5\nspares,1\n")
    (folder / "Tubes.csv").write_text("tube,od,wall\nT,40,2\n")
    (folder / "Stock.csv").write_text("tube,length,price\nT,6000,49\nT,4000,35\nT,3000,28\n")
    rows = [f"M{number},T,{dice.randint(500, 4600) / 2}\n" for number in range(400)]
    (folder / "Members.csv").write_text("mark,tube,length\n" + "".join(rows))
    return folder


@pytest.fixture
def interrupted(start: Processes) -> Callable[..., tuple[int, str, str]]:
    """Exit code, standard output and error of a run that gets Ctrl-C once it searches, so often."""

    def run(*arguments: object, times: int = 1) -> tuple[int, str, str]:
        with start(*arguments, code=SEARCHING) as process:
            assert process.stdout.readline() == "searching\n"
            said = ""
            for _ in range(times):
                process.send_signal(signal.SIGINT)
                while times > 1 and "stopping" not in said:
                    line = process.stderr.readline()
                    assert line, said
                    said += line
            out, err = process.communicate(100)
        return process.returncode, out, said + err

    return run


def test_ctrl_c_gives_the_best_plan_so_far(large: Path, tmp_path: Path, run, interrupted) -> None:
    """One Ctrl-C amid the search: a whole saw list and JSON, checked, found, not proven, with a true bound."""
    saw, data = tmp_path / "saw.xlsx", tmp_path / "plan.json"
    code, out, err = interrupted("plan", large, "--output", saw, "--json", data)
    assert code == 0, err
    assert "stopping with the best plan found so far" in err
    assert "Not proven" in out
    plan = json.loads(data.read_text(encoding="utf-8"))
    assert plan["proven"] is False
    assert 0 < plan["bound"] < plan["cost"] < 1.2 * plan["bound"]
    assert run("check", saw).exit_code == 0
    assert run("check", data, "--job", large).exit_code == 0


def test_a_second_ctrl_c_ends_at_once(large: Path, tmp_path: Path, interrupted) -> None:
    """Nothing is written, nothing half written is left, and no traceback is shown."""
    before = sorted(os.listdir(tmp_path))
    code, out, err = interrupted("plan", large, "--output", tmp_path / "saw.xlsx", times=2)
    assert code == 130
    assert "Plan: " not in out
    assert "stopped: no plan was written" in err
    assert "Traceback" not in err
    assert sorted(os.listdir(tmp_path)) == before


def test_a_time_limit_gives_the_best_plan_so_far(large: Path, tmp_path: Path, run) -> None:
    """A limit far too short for a proof: found, with a bound that holds, and the checker agrees."""
    saw, data = tmp_path / "saw.xlsx", tmp_path / "plan.json"
    result = run("plan", large, "--time-limit", "0.3", "--output", saw, "--json", data)
    assert result.exit_code == 0
    assert "Not proven" in result.stdout
    plan = json.loads(data.read_text(encoding="utf-8"))
    assert plan["proven"] is False
    assert 0 < plan["bound"] < plan["cost"] < 1.2 * plan["bound"]
    assert run("check", saw).exit_code == 0


def test_the_buying_options_can_be_ended_too(large: Path, interrupted) -> None:
    """Those found so far are shown, none called proven."""
    code, out, err = interrupted("buy", large)
    assert code == 0, err
    assert "none can cost less" in out or "not proven" in out.lower()


def test_stopped_without_a_plan_that_is_reported(job: Path, monkeypatch: pytest.MonkeyPatch, run) -> None:
    """Nothing in hand when Ctrl-C comes: the word for it is not the one for a time limit."""

    def none_yet(*_: object, **__: object) -> None:
        signal.raise_signal(signal.SIGINT)
        raise NoPlanInTimeError

    monkeypatch.setattr("cutplan.plan.make_plan", none_yet)
    result = run("plan", job)
    assert result.exit_code == 130
    assert "stopped: no plan was found" in result.stderr
    assert "--time-limit" not in result.stderr


def test_only_a_search_takes_ctrl_c_for_its_end() -> None:
    """Outside a search Ctrl-C ends the run as ever, and a second one inside does."""
    with stoppable() as asked:
        assert not asked()
        signal.raise_signal(signal.SIGINT)
        assert asked()
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
    with pytest.raises(KeyboardInterrupt):
        signal.raise_signal(signal.SIGINT)
    with pytest.raises(NoPlanInTimeError), stoppable():
        raise NoPlanInTimeError


def test_no_plan_after_ctrl_c_is_not_called_a_want_of_time() -> None:
    """The search ends for want of time, as it was asked to: what is said is that it was stopped."""

    def search() -> None:
        with stoppable():
            signal.raise_signal(signal.SIGINT)
            raise NoPlanInTimeError

    with pytest.raises(StoppedError):
        search()


def test_a_run_in_the_background_goes_on_ignoring_ctrl_c() -> None:
    """Where a shell had it ignored it stays so, and outside the main thread nothing is touched."""
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        with stoppable() as asked:
            signal.raise_signal(signal.SIGINT)
            assert not asked()
        assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN
    finally:
        signal.signal(signal.SIGINT, before)
    heard: list[bool] = []

    def elsewhere() -> None:
        with stoppable() as asked:
            heard.append(asked())

    thread = threading.Thread(target=elsewhere)
    thread.start()
    thread.join()
    assert heard == [False]
    assert signal.getsignal(signal.SIGINT) is before


def test_ctrl_c_while_the_program_loads_is_quiet() -> None:
    """From the first import to the command, and after it, Ctrl-C ends the run without a traceback; amid it, Ctrl-C is
    heard."""
    loading = "import os, signal, cutplan.cli.start\nos.kill(os.getpid(), signal.SIGINT)"
    ended = subprocess.run([sys.executable, "-c", loading], capture_output=True, text=True, check=False)
    assert (ended.returncode, ended.stdout, ended.stderr) == (-signal.SIGINT, "", "")
    amid = """
import signal, cutplan.cli.start
from cutplan.cli.exits import exits
with exits():
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
    print("heard")
assert signal.getsignal(signal.SIGINT) is signal.SIG_DFL
"""
    ended = subprocess.run([sys.executable, "-c", amid], capture_output=True, text=True, check=False)
    assert (ended.returncode, ended.stdout, ended.stderr) == (0, "heard\n", "")
