"""Guards ``cutplan buy``: the options by number, their promised JSON, and that ``plan --option`` follows them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from wording import about

EXAMPLES = Path(__file__).parents[2] / "examples"
KEYS = {"spares", "insured", "cost", "bound", "proven", "buy", "leftover"}


def options(run, job, *more) -> list[dict]:
    """The options of a job as its JSON gives them."""
    result = run("buy", job, "--json", "-", *more)
    assert result.exit_code == 0
    data = json.loads(result.stdout)
    assert set(data) == {"options"}
    return data["options"]


def test_the_json_has_the_promised_keys(run, job):
    """A reader of the options finds these keys and no others, cheapest option first."""
    reported = options(run, job)
    assert len(reported) > 1
    assert [set(option) for option in reported] == [KEYS] * len(reported)
    assert all(
        set(line) == {"tube", "length", "count", "price", "cost"} for option in reported for line in option["buy"]
    )
    costs = [option["cost"] for option in reported]
    assert costs == sorted(costs)
    assert all(option["proven"] and option["bound"] == option["cost"] for option in reported)


def test_the_text_numbers_the_options(run, job):
    """Each option is shown with its number, cost and cover."""
    text = run("buy", job).stdout
    for number, option in enumerate(options(run, job), 1):
        assert f"Option {number}: {option['cost']:.2f} EUR" in text
    assert "covers: " in text


@pytest.mark.parametrize("more", [(), ("--spares", "3")], ids=["2 spares", "3 spares"])
def test_a_plan_follows_the_option_that_was_shown(run, job, more):
    """With the same ``--spares``, option N of ``buy`` and of ``plan`` are one."""
    reported = options(run, job, *more)
    for number, option in enumerate(reported, 1):
        plan = json.loads(run("plan", job, "--option", number, *more, "--json", "-").stdout)
        assert plan["cost"] == option["cost"]
        assert plan["buy"] == option["buy"]
        insured = [mark for tube in plan["tubes"] for mark in tube["spares"]["insured"]]
        assert set(option["insured"]) <= set(insured)
    assert run("plan", job, "--option", len(reported) + 1, *more).exit_code == 2


def test_the_way_of_fitting_may_be_given_and_holds_for_the_plan_too(run, as_worded):
    """Fitted one at a time an option costs no more than after all cuts, says that it needs it, and can be followed."""
    job, more = EXAMPLES / "sand-rail-bay", ("--fitted", "one at a time")
    reported = options(run, job, *more)
    covered = {tuple(option["insured"]): option["cost"] for option in options(run, job) if option["spares"] == 1}
    cheaper = [option for option in reported if option["cost"] < covered.get(tuple(option["insured"]), 0)]
    assert cheaper
    for number, option in enumerate(reported, 1):
        if option in cheaper:
            assert run("plan", job, "--option", number, *more, "--json", "-").stdout.count(f'"cost": {option["cost"]},')
    assert all(option["fitted"] == "one at a time" for option in cheaper)
    shown = run("buy", job, *more)
    as_worded(about(shown.stdout, "covers"), shown.stderr)


def test_other_numbers_are_reported(run, job):
    """Numbers that hold only with ``--spares`` beside them say so, on standard error."""
    assert "give --spares 3" in run("buy", job, "--spares", "3").stderr
    assert run("buy", job).stderr == ""


def test_stock_that_cannot_serve_leaves_with_3(run, job, change, as_worded):
    """Where not even the members can be cut there is nothing to choose from."""
    change("Stock", "T,3000,20,,buy,\n", "")
    result = run("buy", job)
    assert result.exit_code == 3
    as_worded(result.stdout)


def test_a_budget_names_the_option_that_covers_most_for_it(run, job, as_worded):
    """The last option that the money reaches is named; too little money leaves with 3 and says the least."""
    reported = options(run, job)
    enough = run("buy", job, "--budget", str(reported[-1]["cost"]))
    assert enough.exit_code == 0
    assert f"option {len(reported)}" in enough.stdout.splitlines()[-1]
    short = run("buy", job, "--budget", "0")
    assert short.exit_code == 3
    assert f" {reported[0]['cost']:.2f} EUR" in short.stdout.splitlines()[-1]
    as_worded(short.stdout.splitlines()[-1])
    for typed in ("70 EUR", "70,5", "-1", "nan"):
        wrong = run("buy", job, "--budget", typed)
        assert wrong.exit_code == 2
        as_worded(wrong.stderr.splitlines()[-1])


def test_an_option_is_written_as_an_order_to_mail(run, job, change, tmp_path):
    """Section, grade, bars by length, counts and mass, in plain text; prices only where they are asked for; the same
    figures as the option's own."""
    change("Tubes", "tube,od,wall\nT,38,2.5\n", "tube,od,wall,grade\nT,38,2.5,cold-drawn\n")
    data = tmp_path / "options.json"
    assert run("buy", job, "--json", data).exit_code == 0
    options = json.loads(data.read_text(encoding="utf-8"))["options"]
    path = tmp_path / "order.txt"
    for number, option in enumerate(options, 1):
        result = run("buy", job, "--option", number, "--order", "-")
        assert result.exit_code == 0, result.stderr
        assert run("buy", job, "--option", number, "--order", path).exit_code == 0
        assert path.read_text(encoding="utf-8") == result.stdout
        assert result.stdout.startswith("Round tube for: Rack\n\nT: 38 x 2.5 mm, cold-drawn\n")
        for line in option["buy"]:
            # By hand: 3 m of 38 x 2.5 at 7.85 kg/dm3 are pi x 35.5 x 2.5 x 3000 x 7.85e-6 = 6.57 kg.
            mass = line["count"] * 6.566 * line["length"] / 3000
            assert f"  {line['count']} x {line['length']} mm   {mass:.1f} kg" in result.stdout
        assert "EUR" not in result.stdout
        assert (
            f"Cost: {option['cost']:.2f} EUR." in run("buy", job, "--option", number, "--order", "-", "--prices").stdout
        )


@pytest.mark.parametrize(
    ("given", "says"),
    [
        (("--order", "-"), "--order needs the option to order: add --option N"),
        (("--option", "1"), "--option is for an order: add --order FILE"),
        (("--prices",), "--prices is for an order: add --order FILE"),
        (("--option", "99", "--order", "-"), "there is no option 99: `cutplan buy` shows"),
    ],
)
def test_half_an_order_is_refused(run, job, given, says):
    """What is missing is named, and how to give it."""
    result = run("buy", job, *given)
    assert result.exit_code == 2
    assert says in " ".join(result.stderr.split())


def test_an_order_is_not_written_over_what_is_none(run, job, tmp_path, as_worded):
    """A text of one's own stays."""
    path = tmp_path / "diary.txt"
    path.write_text("rain all day", encoding="utf-8")
    result = run("buy", job, "--option", 1, "--order", path)
    assert result.exit_code == 2
    as_worded(result.stderr)
    assert path.read_text(encoding="utf-8") == "rain all day"
