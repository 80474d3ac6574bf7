"""Guards the front door: help without heavy imports, versions, and errors turned into exit codes."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import click
import pytest

import cutplan
from cutplan.cli.exits import exits
from cutplan.cli.main import main
from cutplan.errors import CutplanError
from cutplan.output.files import OutputError
from cutplan.plan import NoPlanInTimeError

HEAVY = ("numpy", "openpyxl", "ortools", "pandas", "reportlab", "rich", "scipy")


def test_help_names_every_command_and_loads_no_heavy_library():
    """``--help`` answers at once, because what is heavy is imported inside the commands."""
    script = (
        "import sys, json, click.testing\nfrom cutplan.cli.main import main\n"
        "result = click.testing.CliRunner().invoke(main, ['--help'])\n"
        "print(json.dumps([result.exit_code, result.output, sorted(sys.modules)]))\n"
    )
    code, text, modules = json.loads(subprocess.check_output([sys.executable, "-c", script], text=True))
    assert code == 0
    assert all(f"\n  {name} " in text for name in main.commands)
    assert [name for name in HEAVY if name in modules] == []


def test_the_version_is_the_package_s(run):
    """``--version`` shows the version that the package carries."""
    assert run("--version").output == f"cutplan, version {cutplan.__version__}\n"


@pytest.mark.parametrize(
    "arguments",
    [("plot", "x"), ("plan",), ("plan", "x", "--spares", "-1"), ("plan", "x", "--fitted", "later"), ("plan", "--nest")],
    ids=" ".join,
)
def test_wrong_use_leaves_with_2(run, arguments):
    """An unknown command or option, a missing job and a value out of range are wrong use."""
    result = run(*arguments)
    assert result.exit_code == 2
    assert "Usage: main" in result.stderr
    assert result.stdout == ""


@pytest.mark.parametrize(
    ("error", "code", "text"),
    [
        (CutplanError("something a person can mend"), 1, "something a person can mend"),
        (NoPlanInTimeError(), 2, "allow more with --time-limit"),
        (OutputError("list.xlsx", "is in use", "close it"), 2, "list.xlsx: is in use; nothing was changed (close it)"),
    ],
    ids=lambda value: type(value).__name__,
)
def test_errors_for_a_person_become_codes(capsys, error, code, text):
    """An error meant for a person is a line on standard error, without a traceback."""
    with pytest.raises(SystemExit) as left, exits():
        raise error
    assert left.value.code == code
    out, err = capsys.readouterr()
    assert out == ""
    assert err == f"cutplan: {error}\n"
    assert text in err


def test_wrong_use_found_late_stays_wrong_use():
    """Click's own errors stay click's."""
    with pytest.raises(click.UsageError), exits():
        raise click.UsageError("no")


def test_an_interrupt_leaves_with_130(capsys):
    """Ctrl-C ends without a traceback and says that nothing was written."""
    with pytest.raises(SystemExit) as left, exits():
        raise KeyboardInterrupt
    assert left.value.code == 130
    assert "no plan was written" in capsys.readouterr().err


COMMANDS = [(name,) for name in main.commands] + [
    (name, each) for name, group in main.commands.items() if isinstance(group, click.Group) for each in group.commands
]


@pytest.mark.parametrize("names", COMMANDS, ids=" ".join)
def test_help_shows_an_example_on_its_own_line(run, names):
    """An example is not folded into the text around it."""
    lines = run(*names, "--help").stdout.splitlines()
    assert "  Example:" in lines
    assert any(line.startswith(f"    cutplan {' '.join(names)} ") for line in lines)


@pytest.mark.parametrize(("typed", "offered"), [("pl", "plan"), ("plan x --fi", "--fitted"), ("rack fi", "finish")])
def test_a_shell_completes_words(typed, offered):
    """Guards completion: the shell asks as the README has it, and gets commands, sub-commands and options."""
    words = f"cutplan {typed}"
    asked = {"_CUTPLAN_COMPLETE": "bash_complete", "COMP_WORDS": words, "COMP_CWORD": str(len(words.split()) - 1)}
    script = "from cutplan.cli.main import main; main(prog_name='cutplan')"
    data = subprocess.run(
        [sys.executable, "-c", script], env={**os.environ, **asked}, capture_output=True, text=True, check=False
    )
    assert offered in [line.partition(",")[2] for line in data.stdout.splitlines()]
