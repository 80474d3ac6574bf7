"""A small job to break, and a way to run a command without a new process."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from cutplan.cli.main import main

sys.path.insert(0, str(Path(__file__).parent))
from processes import Processes, processes

TABLES = {
    "Job": "setting,value\nname,Rack\nunits,mm\nkerf,2\nend trim,10\nsaw hold,50\nfit cope,1\ncurrency,EUR\n",
    "Tubes": "tube,od,wall\nT,38,2.5\n",
    "Stock": "tube,length,price,available,from,label\nT,3000,20,,buy,\nT,1300,,1,rack,R1\n",
    "Members": (
        "mark,tube,qty,pair,length,end a,angle a,onto a,insured\n"
        "LONG,T,1,,1500,,,,\nLEG,T,1,yes,600,cope,90,LONG,\nTAB,T,3,,100,,,,no\n"
    ),
}
"""Two bars to buy and one on the rack serve it: 1500, twice 582 (600 - 19 + 1), three times 100, 1500 spare."""


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """The folder of a small sound job."""
    folder = tmp_path / "rack"
    folder.mkdir()
    for name, text in TABLES.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return folder


@pytest.fixture(scope="session")
def small_plan(tmp_path_factory: pytest.TempPathFactory) -> tuple[bytes, bytes]:
    """Saw list and JSON of the small job, planned once: beside a folder ``rack`` of its tables they are as if planned
    there."""
    folder = tmp_path_factory.mktemp("planned")
    (folder / "rack").mkdir()
    for name, text in TABLES.items():
        (folder / "rack" / f"{name}.csv").write_text(text, encoding="utf-8")
    path, data = folder / "saw.xlsx", folder / "plan.json"
    result = CliRunner().invoke(main, ["plan", str(folder / "rack"), "--output", str(path), "--json", str(data)])
    assert result.exit_code == 0, result.output
    return path.read_bytes(), data.read_bytes()


@pytest.fixture(scope="session")
def small_list(small_plan: tuple[bytes, bytes]) -> bytes:
    """The saw list of the small job."""
    return small_plan[0]


@pytest.fixture
def saw(job: Path, small_list: bytes) -> Path:
    """The saw list of the small job, beside it."""
    path = job.parent / "saw.xlsx"
    path.write_bytes(small_list)
    return path


@pytest.fixture
def change(job: Path) -> Callable[[str, str, str], None]:
    """Replace a text in one of the job's tables; the text must be there."""

    def changed(table: str, old: str, new: str) -> None:
        path = job / f"{table}.csv"
        text = path.read_text(encoding="utf-8")
        assert old in text
        path.write_text(text.replace(old, new), encoding="utf-8")

    return changed


@pytest.fixture
def run() -> Callable[..., Result]:
    """Run ``cutplan`` with these arguments; a fault of its own fails the test."""

    def ran(*arguments: object) -> Result:
        result = CliRunner().invoke(main, [str(argument) for argument in arguments])
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        assert result.exit_code != 4, result.stderr
        return result

    return ran


@pytest.fixture(scope="session")
def start() -> Iterator[Processes]:
    """What starts commands in processes of their own."""
    with processes() as starting:
        yield starting
