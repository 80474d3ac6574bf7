"""Sums of money: whole, or none at all."""

from __future__ import annotations

import json

import pytest
from openpyxl import load_workbook
from wording import about

PRICED, FREE = "T,3000,20,,buy,", "U,3000,,,buy,"


@pytest.fixture
def partly_priced(job, change):
    """A job of two tubes, one priced and one not, both to be bought."""
    change("Tubes", "T,38,2.5\n", "T,38,2.5\nU,25,2\n")
    change("Stock", "T,1300,,1,rack,R1\n", f"{FREE}\n")
    change("Members", "TAB,T,3,,100,,,,no\n", "TAB,U,3,,100,,,,no\n")
    return job


def test_a_plan_of_which_one_tube_has_no_price_has_no_sum(partly_priced, run, tmp_path, as_worded):
    """Neither on the screen nor in the JSON nor on the sheet Buy; each tube's own proof stays."""
    made = tmp_path / "list.xlsx"
    result = run("plan", partly_priced, "--output", made, "--json", tmp_path / "plan.json")
    assert result.exit_code == 0
    as_worded(about(result.stdout, "Cost"))
    plan = json.loads((tmp_path / "plan.json").read_text())
    assert (plan["cost"], plan["bound"], plan["proven"]) == (None, None, False)
    assert [(tube["cost"], tube.get("bought"), tube["proven"]) for tube in plan["tubes"]] == [
        (40, None, True),
        (None, 3000, True),
    ]
    cells = [[str(cell) for cell in row if cell is not None] for row in load_workbook(made)["Buy"].values]
    together = next(row for row in cells if row and row[0] == "all tubes")
    assert not any("F" in cell for cell in together[1:])
    assert run("check", made).exit_code == 0
    assert run("check", tmp_path / "plan.json", "--job", partly_priced).exit_code == 0


def test_a_sum_said_of_what_has_no_price_is_found_by_the_check(partly_priced, run, tmp_path, as_worded):
    """A file that claims one is wrong, whatever the sum."""
    data = tmp_path / "plan.json"
    run("plan", partly_priced, "--json", data)
    plan = json.loads(data.read_text())
    data.write_text(json.dumps(plan | {"cost": 40, "bound": 40, "proven": True}))
    result = run("check", data, "--job", partly_priced)
    assert result.exit_code == 1
    as_worded(result.stdout)


@pytest.mark.parametrize(
    ("altered", "said"),
    [
        ({"cost": 3000}, '"cost" is 3000, but nothing there has a price: it must be null'),
        ({"bound": 3000}, '"bound" is 3000, but nothing there has a price: it must be null'),
        ({"bought": 2999}, "costs 3000, not 2999"),
        ({"bought": None}, '"bought" must be a length, as nothing there has a price'),
    ],
)
def test_a_length_cannot_pass_for_money(partly_priced, run, tmp_path, altered, said):
    """Nor can the length bought of a tube without a price be another one."""
    data = tmp_path / "plan.json"
    run("plan", partly_priced, "--json", data)
    plan = json.loads(data.read_text())
    plan["tubes"][1] |= altered
    data.write_text(json.dumps(plan))
    result = run("check", data, "--job", partly_priced)
    assert result.exit_code != 0
    assert said in result.stdout + result.stderr


def test_no_budget_is_answered_where_a_price_is_missing(partly_priced, run, change, as_worded):
    """The answer would leave out what the other tube costs."""
    options = run("buy", partly_priced)
    assert options.exit_code == 0
    as_worded(about(options.stdout, "20.00 EUR"))
    assert "Proven" not in options.stdout
    result = run("buy", partly_priced, "--budget", "1000")
    assert result.exit_code == 1
    as_worded(result.stderr)
    change("Stock", FREE, "U,3000,7,,buy,")
    assert "Within 1000: option" in run("buy", partly_priced, "--budget", "1000").stdout


def test_no_budget_is_answered_where_nothing_has_a_price(job, run, change, as_worded):
    """Money says nothing of lengths."""
    change("Stock", PRICED, "T,3000,,,buy,")
    result = run("buy", job, "--budget", "1000")
    assert result.exit_code == 1
    as_worded(result.stderr)


def test_what_is_on_the_rack_needs_no_price(job, run, change):
    """Nothing of the second tube is bought, so that the sum is whole and proven."""
    change("Tubes", "T,38,2.5\n", "T,38,2.5\nU,25,2\n")
    change("Stock", "T,1300,,1,rack,R1\n", "T,1300,,1,rack,R1\nU,500,,1,rack,R2\n")
    change("Members", "TAB,T,3,,100,,,,no\n", "TAB,U,3,,100,,,,no\n")
    result = run("plan", job, "--json", "-")
    plan = json.loads(result.stdout)
    assert (plan["cost"], plan["bound"], plan["proven"]) == (40, 40, True)
    assert run("buy", job, "--budget", "40").exit_code == 0


def test_nothing_bought_costs_nothing(job, run, change, tmp_path):
    """Where no bar has a price and the rack is enough, the cost is 0, and the file passes its check."""
    change("Stock", PRICED, "T,9000,,,rack,R9\n")
    data = tmp_path / "plan.json"
    assert run("plan", job, "--json", data).exit_code == 0
    plan = json.loads(data.read_text())
    assert (plan["cost"], plan["bound"], plan["tubes"][0]["cost"]) == (0, 0, 0)
    assert run("check", data, "--job", job).exit_code == 0
