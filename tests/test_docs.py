"""Guards the README against drift: what a job may hold and what the command line takes stands there, and no more."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from openpyxl import load_workbook

from cutplan.cli.main import main
from cutplan.job.sheets import SETTINGS, SHEETS

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
CODE = set(re.findall(r"`([^`\n]+)`", README))
"""Every word set as code in the README."""


def every_command(group: click.Group, before: str = "") -> dict[str, click.Command]:
    """Commands by what is typed for them; those of a group with its name in front, and the group itself."""
    found: dict[str, click.Command] = {}
    for name, command in group.commands.items():
        found[before + name] = command
        if isinstance(command, click.Group):
            found |= every_command(command, f"{before}{name} ")
    return found


COMMANDS = sorted(every_command(main).items())
OPTIONS = [
    pytest.param(name, option, id=f"{name} {option}")
    for name, command in COMMANDS
    for parameter in command.params
    if isinstance(parameter, click.Option)
    for option in parameter.opts
    if option.startswith("--")
]


def section(title: str) -> str:
    """The README's text under a heading of any depth, down to the next one as high."""
    found = re.search(rf"^(#+) {re.escape(title)}\n(.*?)(?=^#{{1,2}} |^\1 |\Z)", README, re.MULTILINE | re.DOTALL)
    assert found, f"the README has no section {title}"
    return found[2]


def first_cells(text: str) -> list[str]:
    """The first cell of every row of the tables in ``text``, without the marks of code and of weight."""
    rows = re.findall(r"^\| ([^|]+?) +\|", text, re.MULTILINE)
    return [re.sub(r"[`*]", "", row) for row in rows]


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.name)
def test_every_sheet_and_column_is_explained_once(sheet):
    """The table under a sheet's heading lists its columns, and needed ones are bold."""
    text = section(f"`{sheet.name}`")
    named = [head for cell in first_cells(text) for head in cell.split(", ")]
    assert sorted(named) == sorted(["column", *sheet.heads])
    for column in sheet.columns:
        assert (f"**`{column.head}`**" in text) == column.needed


def test_every_setting_is_explained_in_order():
    """The table of settings lists what the Job sheet takes, and nothing else."""
    assert [cell for cell in first_cells(section("The settings")) if cell != "setting"] == list(SETTINGS)


@pytest.mark.parametrize(("name", "command"), COMMANDS, ids=[name for name, _ in COMMANDS])
def test_every_command_is_in_the_readme_and_has_help(name, command):
    """A command has a line of help, an example in it, and its row in the README."""
    assert command.help
    assert f"cutplan {name} " in command.help
    if not isinstance(command, click.Group):
        assert any(f"{cell} ".startswith(f"cutplan {name} ") for cell in first_cells(section("Commands")))


@pytest.mark.parametrize(("name", "option"), OPTIONS)
def test_every_option_is_in_the_readme_and_has_help(name, option):
    """An option has help, and stands in the part of the README that tells of the commands."""
    parameter = next(each for each in dict(COMMANDS)[name].params if option in each.opts)
    assert parameter.help
    assert re.search(rf"`{option}\b[^`]*`", section("Commands"))


def test_the_readme_names_no_command_and_no_option_that_is_not_there():
    """What is not in this version is not shown as if it were."""
    commands = {word for code in CODE for word in re.findall(r"\bcutplan ([a-z]+)", code)}
    commands |= set(re.findall(r"^(?:\S*/)?cutplan ([a-z]+)", README, re.MULTILINE))
    assert commands == set(main.commands)
    known = {option.values[1] for option in OPTIONS} | {"--help", "--version"}
    assert set(re.findall(r"--[a-z][a-z-]+", section("Commands"))) <= known


def test_messages_name_no_command_that_is_not_there():
    """A cure that a message gives can be followed in this version."""
    texts = [path.read_text(encoding="utf-8") for path in (ROOT / "cutplan").rglob("*.py")]
    named = {word for text in texts for word in re.findall(r"(?:use|then:|`) ?cutplan ([a-z]+)", text)}
    assert named <= set(main.commands)


def shown(block: str, text: str) -> list[str]:
    """The lines of a block of the README that do not stand in ``text`` in the same order; ``...`` stands for any."""
    lines = iter(text.splitlines())
    return [line for line in block.splitlines() if line.strip() != "..." and line not in lines]


BLOCKS = re.findall(r"^```text\n(.*?)^```", README, re.MULTILINE | re.DOTALL)


def test_the_picture_is_what_the_terminal_shows():
    """The result that opens the README is the example's own, line by line."""
    result = CliRunner().invoke(main, ["plan", str(ROOT / "examples" / "sand-rail-bay.xlsx")])
    assert result.exit_code == 0
    assert len(BLOCKS[0].splitlines()) > 20
    assert shown(BLOCKS[0], result.stdout) == []


def test_the_first_job_gives_what_is_promised(tmp_path):
    """Whoever types in the tables of the first job sees the plan that stands below them."""
    text = section("A first job in five minutes")
    for name in ("Job", "Tubes", "Stock", "Members"):
        found = re.search(rf"^Sheet `{name}`.*?\n\n(.*?)\n\n", text, re.MULTILINE | re.DOTALL)
        assert found
        rows = [[cell.strip() for cell in row.strip("|").split("|")] for row in found[1].splitlines()]
        with (tmp_path / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows([rows[0], *rows[2:]])
    result = CliRunner().invoke(main, ["plan", str(tmp_path)])
    assert result.exit_code == 0
    assert len(BLOCKS[1].splitlines()) > 5
    assert shown(BLOCKS[1], result.stdout) == []


def test_the_mistake_is_made_good_as_told(tmp_path):
    """The options, the plan and the recovery of the worked page are what the commands give."""
    example, saw_list = str(ROOT / "examples" / "sand-rail-bay.xlsx"), str(tmp_path / "bay.xlsx")
    assert shown(BLOCKS[2], CliRunner().invoke(main, ["buy", example]).stdout) == []
    assert CliRunner().invoke(main, ["plan", example, "--option", "3", "--output", saw_list]).exit_code == 0
    book = load_workbook(saw_list)
    for row in book["Saw list"].iter_rows():
        if isinstance(row[0].value, int) and row[0].value <= 7:
            row[2 if row[0].value == 7 else 1].value = "x"
    book.save(saw_list)
    result = CliRunner().invoke(main, ["recut", saw_list])
    assert result.exit_code == 0
    assert len(BLOCKS[3].splitlines()) > 10
    assert shown(BLOCKS[3], result.stdout) == []
    assert (tmp_path / "bay 2.xlsx").exists()


def test_the_sheets_of_the_saw_list_are_explained(tmp_path):
    """The README's table holds every sheet that a person sees in the workbook, in order."""
    path = tmp_path / "saw.xlsx"
    assert (
        CliRunner().invoke(main, ["plan", str(ROOT / "examples" / "sand-rail-bay"), "--output", str(path)]).exit_code
        == 0
    )
    seen = [sheet.title for sheet in load_workbook(path).worksheets if sheet.sheet_state == "visible"]
    cells = [cell for cell in first_cells(section("What it writes")) if cell != "sheet"]
    assert cells == seen


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_paths_named_in_the_documents_are_there(name):
    """A file or folder that a document points to exists."""
    text = (ROOT / name).read_text(encoding="utf-8")
    paths = re.findall(r"`((?:cutplan|tests|examples|\.ci)/[\w./-]*)`", text)
    assert paths
    assert [path for path in paths if not (ROOT / path).exists()] == []


@pytest.mark.parametrize("path", [*ROOT.glob("*.md"), *(ROOT / "cutplan").rglob("*.py")], ids=lambda path: path.name)
def test_no_text_names_a_machine(path):
    """Documents and code speak of the project alone."""
    text = path.read_text(encoding="utf-8")
    assert not re.search(r"(?<![\w.])/(?:work|root|home)/", text)


def test_no_part_of_the_docs_stands_twice() -> None:
    """Guards a part pasted twice: no heading stands twice in one file."""
    for name in ("README.md", "DEVELOPERS.md"):
        heads = [line for line in (ROOT / name).read_text(encoding="utf-8").splitlines() if line.startswith("## ")]
        assert len(heads) == len(set(heads)), name
