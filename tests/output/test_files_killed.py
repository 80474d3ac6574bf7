"""Runs killed at every step of their writing: each file is the old or the new one, and the next run tidies up."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = r'''
"""Writes four files anew, killed at the first step, then at the second, and so on, until nothing kills it any more."""

import os
import pathlib
import re
import signal
import sys
from fractions import Fraction

import openpyxl

from cutplan.job.rack import Rack, Rest
from cutplan.output import rack_file, workbook
from cutplan.output.files import write_text

folder = pathlib.Path(sys.argv[1])
names = ["plan.json", "rack.csv", "saw.csv", "saw.xlsx"]
countdown = -1


def step(*_):
    """One step further; the last one is where the killing is done, which nothing in the process can hinder."""
    global countdown
    countdown -= 1
    if countdown == 0:
        os.kill(os.getpid(), signal.SIGKILL)


def seen(event, arguments):
    if event.split(".")[0] in ("open", "os", "tempfile", "fcntl") and event != "os.fork":
        step()


def in_halves(self, content):
    with self.open("wb") as file:
        file.write(content[: len(content) // 2])
        file.flush()
        step()
        file.write(content[len(content) // 2 :])
        step()


def sealed(text):
    book = openpyxl.Workbook()
    book.active.title = text
    return workbook.settled(book, sealed=True)


books = {version: sealed(version) for version in ("old", "new")}
workbook.saw_list_bytes = books.get


def write(version):
    workbook.write_saw_list(version, folder / "saw.xlsx")
    write_text(folder / "saw.csv", version * 1000)
    write_text(folder / "plan.json", version * 1000)
    rack = Rack((Rest("T", Fraction(1000), version),), ())
    rack_file.change_rack(folder / "rack.csv", lambda _: rack)


def state():
    return {name: (folder / name).read_bytes() for name in names}


write("old")
old = state()
write("new")
new = state()
assert all(old[name] != new[name] for name in names)
write("old")
assert state() == old
sys.addaudithook(seen)
pathlib.Path.write_bytes = in_halves
pathlib.Path.write_text = lambda self, text, **_: in_halves(self, text.encode())
kills, mixed, left = 0, set(), 0
while True:
    pid = os.fork()
    if not pid:
        countdown = kills + 1
        write("new")
        os._exit(0)
    status = os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
    found = state()
    for name in names:
        assert found[name] in (old[name], new[name]), (kills, name)
    others = [name for name in os.listdir(folder) if name not in names]
    assert all(re.fullmatch(r"\..*\.(tmp|lock)", name) for name in others), others
    left += len(others)
    mixed.add(tuple(found[name] == new[name] for name in names))
    # Time goes by, and the next run tidies up what the killed one has left.
    for name in others:
        os.utime(folder / name, (0, 0))
    write("old")
    assert state() == old
    assert sorted(os.listdir(folder)) == names, os.listdir(folder)
    if status == 0:
        break
    assert status == -signal.SIGKILL, status
    kills += 1
print(kills, len(mixed), left)
'''


@pytest.mark.skipif(sys.platform == "win32", reason="kills by signal")
def test_killed_at_any_step_every_file_is_the_old_or_the_new_one(tmp_path: Path) -> None:
    """Guards workbook, CSV, JSON and rack: at every call to the system and amid every write the process dies at once,
    and what is left beside the files has a hidden name and is cleared away by the next run."""
    folder = tmp_path / "killed"
    folder.mkdir()
    result = subprocess.run(
        [sys.executable, "-c", SCRIPT, str(folder)], capture_output=True, text=True, timeout=300, check=False
    )
    assert result.returncode == 0, result.stderr
    kills, mixed, left = map(int, result.stdout.split())
    assert kills > 40
    assert mixed == 5  # none new yet, then one after the other
    assert left > 10


LOOP = r"""
import sys
from pathlib import Path

from cutplan.output.files import write_text

for turn in range(1_000_000):
    write_text(Path(sys.argv[1]), f"{turn % 10}" * 200_000)
    if turn == 0:
        print("writing", flush=True)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="kills by signal")
def test_killed_at_any_moment_the_file_is_whole(tmp_path: Path) -> None:
    """Guards what no step was thought of: killed after so many hundredths of a second amid writing again and again."""
    path = tmp_path / "saw.csv"
    for moment in range(8):
        with subprocess.Popen([sys.executable, "-c", LOOP, str(path)], stdout=subprocess.PIPE) as process:
            assert process.stdout is not None
            assert process.stdout.readline() == b"writing\n"
            with pytest.raises(subprocess.TimeoutExpired):
                process.wait(0.013 * moment)
            process.kill()
        content = path.read_text()
        assert content == content[0] * 200_000
