"""``import cutplan``: what the package offers to Python, and that it is the same as what the commands give."""

from __future__ import annotations

import csv
import doctest
import io
import json
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner
from pypdf import PdfReader
from saw_lists import tick

import cutplan
from cutplan import api
from cutplan.cli.main import main
from cutplan.errors import CutplanError
from cutplan.output.as_csv import table_csv
from cutplan.plan.tables import TABLES

ROOT = Path(__file__).parents[1]
EXAMPLE = ROOT / "examples" / "sand-rail-bay.xlsx"


def test_the_examples_in_its_documentation_run(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every call is shown with an example that does what it says."""
    monkeypatch.chdir(ROOT)
    found = doctest.testmod(api)
    assert found.attempted >= 10
    assert found.failed == 0


def test_the_package_is_light_until_it_is_used() -> None:
    """Importing it loads no library of the solvers, tables or workbooks; asking for a call does no more than that."""
    code = (
        "import sys, cutplan; cutplan.make_plan; dir(cutplan)\n"
        "print(sorted({'ortools', 'pandas', 'openpyxl', 'numpy', 'scipy', 'click'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True)
    assert done.stdout == "[]\n"


def test_every_name_is_there_and_no_other_is_made_up() -> None:
    """What the package names it has, described; what it has not is an AttributeError."""
    for name in cutplan.__all__:
        assert name == "__version__" or getattr(cutplan, name).__doc__
        assert name in dir(cutplan)
    with pytest.raises(AttributeError, match="no attribute 'plan_everything'"):
        _ = cutplan.plan_everything


@pytest.fixture(scope="module")
def planned() -> tuple[object, dict]:
    """A plan by Python and the JSON that the command gives of the same job."""
    plan = cutplan.make_plan(cutplan.read_job(EXAMPLE))
    data = CliRunner().invoke(main, ["plan", str(EXAMPLE), "--json", "-"])
    return plan, json.loads(data.stdout)


def test_the_tables_are_what_the_command_writes(planned: tuple) -> None:
    """Row by row against the JSON: what to buy, the cuts, the bars, the blanks."""
    plan, data = planned
    tables = plan.tables
    assert list(tables) == list(TABLES)
    assert all(frame.attrs["units"] == "mm" for frame in tables.values())
    bought = [(line["tube"], line["length"], line["count"], line["cost"]) for line in data["buy"]]
    assert [(t, long, n, float(cost)) for t, long, n, _, cost, *_ in tables["buy"].itertuples(index=False)] == bought
    bars = [bar for tube in data["tubes"] for bar in tube["bars"]]
    cuts = {cut["cut"]: (cut["mark"], cut["blank"], cut["left"]) for bar in bars for cut in bar["cuts"]}
    saw_list = tables["saw list"]
    assert {row.cut: (row.mark, row.blank, row.left) for row in saw_list.itertuples()} == cuts
    assert list(tables["bars"]["bar"]) == [bar["bar"] for bar in bars]
    assert dict(zip(tables["members"]["mark"], tables["members"]["blank"], strict=True)) == {
        one["mark"]: one["blank"] for one in data["members"]
    }
    assert tables["spares"]["kept"].tolist() == [tube["spares"]["wanted"] for tube in data["tubes"]]
    assert "<h4>saw list</h4>" in plan._repr_html_()


@pytest.mark.parametrize("name", TABLES)
def test_any_table_can_be_had_as_csv(name: str, planned: tuple) -> None:
    """With units in the headings, and as many rows as the table; the command writes the same."""
    rows = list(csv.reader(io.StringIO(table_csv(planned[0], name))))
    frame = planned[0].tables[name]
    assert len(rows) == len(frame) + 1
    assert [heading.split(" (")[0] for heading in rows[0]] == list(frame.columns)


def test_a_table_is_written_over_by_the_next_run(planned: tuple, tmp_path: Path) -> None:
    """The command writes the table that is asked for; its file gives way to another table's, as it is our own."""
    target = tmp_path / "table.csv"
    for name in ("buy", "bars"):
        result = CliRunner().invoke(main, ["plan", str(EXAMPLE), "--csv", str(target), "--table", name])
        assert result.exit_code == 0, result.stderr
        assert target.read_text(encoding="utf-8") == table_csv(planned[0], name)


@pytest.mark.parametrize(
    ("options", "says"),
    [(["--table", "money", "--csv", "-"], 'there is no table "money"'), (["--table", "buy"], "add --csv FILE")],
)
def test_a_table_that_cannot_be_had_is_reported(options: list[str], says: str) -> None:
    """A name that is no table's, and a table with nowhere to go."""
    result = CliRunner().invoke(main, ["plan", str(EXAMPLE), *options])
    assert (result.exit_code, says in result.stderr) == (2, True)


def test_a_whole_job_from_python(tmp_path: Path) -> None:
    """Read, options, plan, write, tick, recut with a bar got since, check: as the commands do it."""
    job = cutplan.read_job(str(EXAMPLE), spares=0)
    dearest = cutplan.buying_options(job, spares=1)[-1]
    plan = cutplan.make_plan(job, option=dearest)
    assert (plan.cost, plan.buy) == (dearest.cost, dearest.buy)
    made = tmp_path / "list.xlsx"
    cutplan.write_saw_list(plan, made)
    assert cutplan.check(made).wrong == ()
    assert cutplan.check(made, job).plan.cost == plan.cost
    tick(made, "spoilt", 1)
    with pytest.raises(CutplanError, match="has a tick"):
        cutplan.write_saw_list(plan, made)
    result = cutplan.recut(made, bars=[("38x2.5", "3 m")])
    assert result.plan is not None
    assert any("is spoilt" in text for text in result.changes)
    assert 3000.0 in result.plan.tables["bars"]["length"].tolist()
    again = tmp_path / "list 2.xlsx"
    cutplan.write_saw_list(result.plan, again)
    assert cutplan.check(again).wrong == ()


def test_the_pack_is_what_the_command_writes(planned: tuple, tmp_path: Path) -> None:
    """The same bytes, the pages counted, and a part that there is not refused."""
    plan, _ = planned
    count = cutplan.write_pack(plan, tmp_path / "ours.pdf", only=("saw", "order"))
    assert count == len(PdfReader(tmp_path / "ours.pdf").pages)
    theirs = tmp_path / "theirs.pdf"
    assert (
        CliRunner().invoke(main, ["print", str(EXAMPLE), "--only", "order,saw", "--output", str(theirs)]).exit_code == 0
    )
    assert theirs.read_bytes() == (tmp_path / "ours.pdf").read_bytes()
    with pytest.raises(ValueError, match="'cardboard' is not a part of the pack"):
        cutplan.write_pack(plan, tmp_path / "none.pdf", only=("cardboard",))


def test_errors_carry_what_the_commands_show(tmp_path: Path) -> None:
    """A job that is not there, a file that is no list, JSON without its job."""
    with pytest.raises(CutplanError, match="there is no such file"):
        cutplan.read_job(tmp_path / "none.xlsx")
    with pytest.raises(CutplanError, match="is not a saw list"):
        cutplan.recut(EXAMPLE)
    (tmp_path / "plan.json").write_text("{}")
    with pytest.raises(CutplanError, match="give the job too"):
        cutplan.check(tmp_path / "plan.json")
