"""Guards the README and the manual against drift: they hold all that a job and the command line take, and no more."""

from __future__ import annotations

import csv
import re
import shutil
from pathlib import Path

import click
import make_manual
import pytest
from click.testing import CliRunner
from openpyxl import load_workbook
from saw_lists import tick

from cutplan.cli.main import main
from cutplan.job.schema import SETTING_WORDS, SHEETS
from cutplan.manual import TOPICS, page
from cutplan.output.pack import PARTS

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
PAGES = {topic: page(topic) for topic in TOPICS}
DOCUMENTS = {"README.md": README, "DEVELOPERS.md": (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8"), **PAGES}
EVERYTHING = "\n".join([README, *PAGES.values()])
CODE = set(re.findall(r"`([^`\n]+)`", EVERYTHING))
"""Every word set as code in the README and the manual."""


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


def section(title: str, text: str = README) -> str:
    """What is under a heading of any depth in ``text``, down to the next one as high."""
    found = re.search(rf"^(#+) {re.escape(title)}\n(.*?)(?=^#{{1,2}} |^\1 |\Z)", text, re.MULTILINE | re.DOTALL)
    assert found, f"there is no section {title}"
    return found[2]


def first_cells(text: str) -> list[str]:
    """The first cell of every row of the tables in ``text``, without the marks of code and of weight."""
    rows = re.findall(r"^\| ([^|]+?) +\|", text, re.MULTILINE)
    return [re.sub(r"[`*]", "", row) for row in rows]


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.name)
def test_every_sheet_and_column_is_explained_once(sheet):
    """The table under a sheet's heading lists its columns, and needed ones are bold."""
    text = section(f"`{sheet.name}`", PAGES["job"])
    named = [heading for cell in first_cells(text) for heading in cell.split(", ")]
    assert sorted(named) == sorted(["column", *sheet.headings])
    for column in sheet.columns:
        assert (f"**`{column.heading}`**" in text) == column.needed


def test_every_setting_is_explained_in_order():
    """The table of settings lists what the Job sheet takes, and nothing else."""
    assert [cell for cell in first_cells(section("The settings", PAGES["job"])) if cell != "setting"] == list(
        SETTING_WORDS
    )


def test_the_tables_of_columns_and_settings_come_from_the_schema():
    """The page on jobs is what ``tests/make_manual.py`` makes of it, which needs the tables' first lines only."""
    bare = re.sub(r"^\| .*`.*\|\n", "", PAGES["job"].split("## Numbers")[0], flags=re.MULTILINE)
    assert "| `kerf` |" not in bare
    written = make_manual.with_tables(bare + "## Numbers" + PAGES["job"].split("## Numbers")[1])
    assert written == PAGES["job"], "run: python tests/make_manual.py"
    with pytest.raises(ValueError, match="no table"):
        make_manual.with_tables("# The job\n")


@pytest.mark.parametrize(("name", "command"), COMMANDS, ids=[name for name, _ in COMMANDS])
def test_every_command_is_in_the_manual_and_has_help(name, command):
    """A command has a line of help, an example in it, and its row on the manual's page of commands."""
    assert command.help
    assert f"cutplan {name} " in command.help
    if not isinstance(command, click.Group):
        assert any(f"{cell} ".startswith(f"cutplan {name} ") for cell in first_cells(PAGES["commands"]))


@pytest.mark.parametrize(("name", "option"), OPTIONS)
def test_every_option_is_in_the_manual_and_has_help(name, option):
    """An option has help, and is on the manual's page of commands."""
    parameter = next(each for each in dict(COMMANDS)[name].params if option in each.opts)
    assert parameter.help
    assert re.search(rf"`{option}\b[^`]*`", PAGES["commands"])


def test_the_documents_name_no_command_and_no_option_that_is_not_there():
    """What is not in this version is not shown as if it were."""
    commands = {word for code in CODE for word in re.findall(r"\bcutplan ([a-z]+)", code)}
    commands |= set(re.findall(r"^(?:\S*/)?cutplan ([a-z]+)", EVERYTHING, re.MULTILINE))
    assert commands == set(main.commands)
    known = {option.values[1] for option in OPTIONS} | {"--help", "--version"}
    named = set(re.findall(r"--[a-z][a-z-]+", PAGES["commands"]))
    assert named
    assert named <= known


def test_messages_name_no_command_that_is_not_there():
    """A cure that a message gives can be followed in this version."""
    texts = [path.read_text(encoding="utf-8") for path in (ROOT / "cutplan").rglob("*.py")]
    named = {word for text in texts for word in re.findall(r"(?:use|then:|`) ?cutplan ([a-z]+)", text)}
    assert named
    assert named <= set(main.commands)


def shown(block: str, text: str) -> list[str]:
    """The lines of a block of the README that are not in ``text`` in the same order; ``...`` stands for any."""
    lines = iter(text.splitlines())
    return [line for line in block.splitlines() if line.strip() != "..." and line not in lines]


def blocks(text: str) -> list[str]:
    """What ``text`` shows of the terminal."""
    return re.findall(r"^```text\n(.*?)^```", text, re.MULTILINE | re.DOTALL)


BLOCKS = blocks(README)


def test_the_picture_is_what_the_terminal_shows():
    """The result that opens the README is the example's own, line by line."""
    result = CliRunner().invoke(main, ["plan", str(ROOT / "examples" / "sand-rail-bay.xlsx")])
    assert result.exit_code == 0
    assert len(BLOCKS[0].splitlines()) > 20
    assert shown(BLOCKS[0], result.stdout) == []


def test_the_first_job_gives_what_is_promised(tmp_path):
    """Whoever types in the tables of the first job sees the plan that is shown below them."""
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


def test_the_mistake_is_made_good_as_described(tmp_path):
    """The options, the plan and the recovery of the worked page are what the commands give."""
    options, recovery = blocks(PAGES["mistakes"])
    example, saw_list = str(ROOT / "examples" / "sand-rail-bay.xlsx"), str(tmp_path / "bay.xlsx")
    assert shown(options, CliRunner().invoke(main, ["buy", example]).stdout) == []
    assert CliRunner().invoke(main, ["plan", example, "--option", "3", "--output", saw_list]).exit_code == 0
    tick(Path(saw_list), "done", *range(1, 7))
    tick(Path(saw_list), "spoilt", 7)
    result = CliRunner().invoke(main, ["recut", saw_list])
    assert result.exit_code == 0
    assert len(recovery.splitlines()) > 10
    assert shown(recovery, result.stdout) == []
    assert (tmp_path / "bay 2.xlsx").exists()


def test_the_frame_built_in_stages_is_as_described(tmp_path):
    """The saw list of the worked page, and the rest after stays of another length or after its mistake, are what the
    commands give."""
    listed, changed, spoilt = blocks(PAGES["stages"])
    job, saw_list = tmp_path / "buggy-rear", tmp_path / "buggy.xlsx"
    shutil.copytree(ROOT / "examples" / "buggy-rear", job)
    result = CliRunner().invoke(main, ["plan", str(job), "--output", str(saw_list)])
    assert shown(listed, result.stdout) == []
    tick(saw_list, "done", 1, 2)
    members = job / "Members.csv"
    before = members.read_text(encoding="utf-8")
    members.write_text(before.replace("yes,1240,", "yes,1253,"), encoding="utf-8")
    assert CliRunner().invoke(main, ["recut", str(saw_list)]).exit_code == 1
    result = CliRunner().invoke(main, ["recut", str(saw_list), "--job", str(job)])
    assert len(changed.splitlines()) > 6
    assert shown(changed, result.stdout) == []
    members.write_text(before, encoding="utf-8")
    tick(saw_list, "done", 3)
    tick(saw_list, "spoilt", 4)
    result = CliRunner().invoke(main, ["recut", str(saw_list)])
    assert len(spoilt.splitlines()) > 8
    assert shown(spoilt, result.stdout) == []


def test_the_sheets_of_the_saw_list_are_explained(tmp_path):
    """The manual's table holds every sheet that a person sees in the workbook, in order."""
    path = tmp_path / "saw.xlsx"
    assert (
        CliRunner().invoke(main, ["plan", str(ROOT / "examples" / "sand-rail-bay"), "--output", str(path)]).exit_code
        == 0
    )
    seen = [sheet.title for sheet in load_workbook(path).worksheets if sheet.sheet_state == "visible"]
    cells = [cell for cell in first_cells(PAGES["output"].split("\n## ")[0]) if cell != "sheet"]
    assert cells == seen


def test_the_parts_of_the_printed_pack_are_explained():
    """The manual's table holds every part, in order."""
    cells = [cell for cell in first_cells(section("The printed pack", PAGES["output"])) if cell != "part"]
    assert tuple(cells) == PARTS


@pytest.mark.parametrize("name", DOCUMENTS)
def test_paths_named_in_the_documents_are_there(name):
    """A file or folder that a document points to exists."""
    paths = re.findall(r"`((?:cutplan|tests|examples|\.ci)/[\w./-]*)`", DOCUMENTS[name])
    paths += re.findall(r"\]\(([\w./-]+)\)", DOCUMENTS[name])
    assert paths or name not in ("README.md", "DEVELOPERS.md")
    assert [path for path in paths if not (ROOT / path).exists()] == []


@pytest.mark.parametrize("path", [*ROOT.glob("*.md"), *(ROOT / "cutplan").rglob("*.py")], ids=lambda path: path.name)
def test_no_text_names_a_machine(path):
    """Documents and code speak of the project alone."""
    text = path.read_text(encoding="utf-8")
    assert not re.search(r"(?<![\w.])/(?:work|root|home)/", text)


def test_no_part_of_the_docs_appears_twice() -> None:
    """Guards a part pasted twice: no heading appears twice in one document."""
    for name, text in DOCUMENTS.items():
        headings = [line for line in text.splitlines() if re.match(r"#+ ", line)]
        assert headings
        assert len(headings) == len(set(headings)), name


def test_every_page_of_the_manual_is_listed_and_shown():
    """The command lists every page there is, in the words of the README's table, and shows each as it is."""
    files = {path.stem for path in (ROOT / "cutplan" / "manual").glob("*.md")}
    assert files == set(TOPICS)
    rows = re.findall(r"^\| \[`(\w+)`\]\(cutplan/manual/(\w+)\.md\) \| (.+) \|$", section("The manual"), re.MULTILINE)
    assert [(topic, topic, about) for topic, about in TOPICS.items()] == rows
    listed = CliRunner().invoke(main, ["manual"])
    assert listed.exit_code == 0
    for topic, about in TOPICS.items():
        assert re.search(rf"^  {topic} +{re.escape(about)}$", listed.stdout, re.MULTILINE)
        assert CliRunner().invoke(main, ["manual", topic]).stdout == PAGES[topic]
    assert CliRunner().invoke(main, ["manual", "weather"]).exit_code == 2


def test_the_readme_is_short():
    """The README is what a newcomer reads at one sitting; the reference is in the manual."""
    assert len(README.splitlines()) <= 200


def test_the_python_of_the_manual_runs(tmp_path, monkeypatch):
    """What the page for Python shows does run, line by line, on an example."""
    shutil.copy(ROOT / "examples" / "sand-rail-bay.xlsx", tmp_path / "frame.xlsx")
    monkeypatch.chdir(tmp_path)
    (code,) = re.findall(r"^```python\n(.*?)^```", PAGES["python"], re.MULTILINE | re.DOTALL)
    names = {}
    exec(compile(code, "python.md", "exec"), names)
    assert names["plan"].proven
    assert names["result"].plan is not None
    assert (tmp_path / "saw-list.xlsx").is_file()
