"""Guards what a person meets of shops: the plan, its files and their check, the options, an order, a mistake."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner
from openpyxl import load_workbook
from wording import about

from cutplan.cli.main import main
from cutplan.output.opened import read_saw_list

GATE = Path(__file__).parents[2] / "examples" / "yard-gate"


NO_CUTS = "shop,delivery,free from,minimum,carry\nCanal Yard,24,200,,\nHill Stores,9.5,,50,3000\n"


def altered(folder: Path, sheet: str, text: str) -> Path:
    """The yard gate with another sheet."""
    for file in GATE.glob("*.csv"):
        (folder / file.name).write_text(file.read_text(encoding="utf-8"), encoding="utf-8")
    (folder / sheet).write_text(text, encoding="utf-8")
    return folder


def dearer() -> str:
    """The stock of the yard gate, where the bars of Hill Stores cost more."""
    text = (GATE / "Stock.csv").read_text(encoding="utf-8")
    return text.replace("42.10", "44.60").replace("23.40", "25.10")


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """The yard gate as a job where no shop cuts bars, and Hill Stores are dearer."""
    folder = altered(tmp_path_factory.mktemp("job"), "Shops.csv", NO_CUTS)
    (folder / "Stock.csv").write_text(dearer(), encoding="utf-8")
    return folder


def written(folder: Path, job: Path) -> tuple[Path, str]:
    """The folder of a saw list and its JSON, and what the terminal said."""
    files = ["--output", str(folder / "gate.xlsx"), "--json", str(folder / "gate.json")]
    said = CliRunner().invoke(main, ["plan", str(job), *files])
    assert said.exit_code == 0
    return folder, said.stdout


@pytest.fixture(scope="module")
def gate(whole, tmp_path_factory):
    """Its saw list and JSON, and what the terminal said."""
    return written(tmp_path_factory.mktemp("gate"), whole)


@pytest.fixture(scope="module")
def cut(tmp_path_factory):
    """The saw list and JSON of the yard gate, whose bars are cut to be carried, and what the terminal said."""
    return written(tmp_path_factory.mktemp("cut"), GATE)


def test_the_plan_names_shops_and_charges(gate, as_worded):
    """Each line of the buy list says its shop, each order what it comes to, and a bar more than is needed says why."""
    folder, said = gate
    as_worded(about(said, "Canal Yard", "Cost"))
    data = json.loads((folder / "gate.json").read_text())
    assert {line["shop"] for line in data["buy"]} == {"Canal Yard"}
    assert [(one["shop"], one["delivery"], one["cost"]) for one in data["orders"]] == [("Canal Yard", 0, 209)]
    assert data["cost"] == data["bound"] == 209


def test_the_files_prove_and_a_wrong_charge_does_not(gate, whole, run, as_worded):
    """Saw list and JSON prove; an order that leaves its bars short does not."""
    folder, _ = gate
    assert run("check", folder / "gate.xlsx").exit_code == 0
    assert run("check", folder / "gate.json", "--job", whole).exit_code == 0
    data = json.loads((folder / "gate.json").read_text())
    data["orders"][0] |= {"bars": 200, "cost": 200}
    (folder / "wrong.json").write_text(json.dumps(data))
    result = run("check", folder / "wrong.json", "--job", whole)
    assert result.exit_code == 1
    as_worded(result.stdout)


def test_buy_compares_and_orders_by_shop(whole, run, tmp_path, as_worded):
    """Below the options the ways of buying, cheapest first, and why; the order's text names the shop."""
    result = run("buy", whole, "--json", tmp_path / "options.json")
    as_worded(about(result.stdout, "Canal Yard", "Hill Stores"))
    ways = json.loads((tmp_path / "options.json").read_text())["ways"]
    assert [one["cost"] for one in ways] == [209, 218.6, 270.8]
    as_worded(run("buy", whole, "--option", "1", "--order", "-").stdout)


def test_after_a_mistake_what_must_be_bought_counts_its_delivery(gate, run, as_worded):
    """Three rails spoilt: the bar to buy, and what the shop charges for that order."""
    folder, _ = gate
    book = load_workbook(folder / "gate.xlsx")
    for row in book["Saw list"].iter_rows():
        if isinstance(row[0].value, int) and row[0].value <= 7:
            row[2 if row[0].value >= 5 else 1].value = "x"
    book.save(folder / "ticked.xlsx")
    result = run("recut", folder / "ticked.xlsx")
    assert result.exit_code == 0
    as_worded(about(result.stdout, "Canal Yard", "49.90"))


@pytest.mark.parametrize(
    ("sheet", "text"),
    [
        pytest.param("Shops.csv", "shop,delivery\nCanal Yard,-3\n", id="less than nothing"),
        pytest.param("Shops.csv", "shop,free from\nCanal Yard,100\n", id="free, but nothing charged"),
        pytest.param("Shops.csv", "shop,delivery,cut\nCanal Yard,3,1\n", id="a cut, and nothing to carry"),
        pytest.param("Shops.csv", "shop,delivery,kerf\nCanal Yard,3,2\n", id="a kerf and no cut"),
        pytest.param("Shops.csv", "shop,delivery\nCanal Yard,3\ncanal yard,4\n", id="twice"),
        pytest.param("Shops.csv", "shop,delivery\nCanel Yard,3\nHill Stores,4\n", id="a slip in a name"),
        pytest.param("Stock.csv", "tube,length,from,shop\n42.4x2.6,6000,buy,Hill Stores\n", id="no price"),
        pytest.param("Stock.csv", "tube,length,from,shop\n42.4x2.6,6000,rack,Hill Stores\n", id="from the rack"),
    ],
)
def test_a_fault_in_shops_is_reported(run, tmp_path, sheet, text, as_worded):
    """A wrong charge or a shop that is not there is a fault with its place and its cure."""
    result = run("plan", altered(tmp_path, sheet, text))
    assert (result.exit_code, result.stdout) == (1, "")
    as_worded(result.stderr)


CARRIED = "shop,delivery,free from,carry\nCanal Yard,24,200,\nHill Stores,,,3000\n"


def test_a_bar_that_cannot_be_carried_is_remarked_on(run, tmp_path, as_worded):
    """Of a shop that does not deliver, bars longer than can be carried are left out, and it is said which."""
    planned = run("plan", altered(tmp_path, "Shops.csv", CARRIED), "--json", tmp_path / "plan.json")
    bought = json.loads((tmp_path / "plan.json").read_text())["buy"]
    assert {line["shop"] for line in bought if line["length"] > 3000} <= {"Canal Yard"}
    as_worded(about(planned.stdout, "Stock row"))


def test_the_order_asks_the_shop_for_what_it_must_do(whole, run, tmp_path, as_worded):
    """A text for a shop says whether it delivers, never what you save by fetching the bars."""
    text = run("buy", whole, "--option", "1", "--order", "-").stdout
    as_worded(text)
    shops = "shop,delivery,carry\nCanal Yard,124,\nHill Stores,90,3000\n"
    wanted = altered(tmp_path, "Shops.csv", shops)
    text = run("buy", wanted, "--option", "1", "--order", "-", "--prices").stdout
    as_worded(text)
    as_worded(about(run("plan", wanted).stdout, "90.00 EUR"))


def test_bars_in_hand_say_where_they_are_from(gate, run):
    """After a recut a bar that was bought is said to be bought, and one that is not needed goes back to its shop."""
    folder, _ = gate
    book = load_workbook(folder / "gate.xlsx")
    for row in book["Saw list"].iter_rows():
        if isinstance(row[0].value, int) and row[0].value != 24:
            row[1].value = "x"
    book.save(folder / "nearly.xlsx")
    result = run("recut", folder / "nearly.xlsx", "--output", folder / "rest.xlsx")
    assert result.exit_code == 0, result.output
    sheet = load_workbook(folder / "rest.xlsx")["Bars in hand"]
    headings = next(row for row in sheet.iter_rows(values_only=True) if "struck out" in row)
    column = headings.index("from")
    said_from = {row[column] for row in sheet.iter_rows(values_only=True) if str(row[0]).isdigit()}
    assert said_from == {"bought"}


def test_where_the_shop_cuts_is_shown_everywhere(cut, run, as_worded):
    """The plan, its JSON, the saw list, the option and the order: what each bar is cut into, and what that costs."""
    folder, said = cut
    assert "2997 + 3000 mm" in said
    as_worded(about(said, "Hill Stores: ", "(bar 1)", "Bar 1:"))
    data = json.loads((folder / "gate.json").read_text())
    assert data["cost"] == data["bound"] == 204.5
    assert [(one["bars"], one["cuts"], one["carried"], one["cost"]) for one in data["orders"]] == [
        (196.5, 8, True, 204.5)
    ]
    bars = {bar["bar"]: bar for tube in data["tubes"] for bar in tube["bars"]}
    for bar in bars.values():
        assert bar["cut_from"] == 6000
        assert sum(bars[name]["length"] for name in bar["parts"]) + 3 * (len(bar["parts"]) - 1) == 6000
    assert sum(line["count"] for line in data["buy"] if sum(line["parts"]) < 6000) == 6
    book = load_workbook(folder / "gate.xlsx")
    shown = {
        title: [cell for row in book[title].iter_rows(values_only=True) for cell in row] for title in book.sheetnames
    }
    assert "2997 + 3000 mm" in shown["Buy"]
    as_worded(*dict.fromkeys(cell for cell in shown["Saw list"] if str(cell).startswith("Bar 1:")))
    order = run("buy", GATE, "--option", "1", "--order", "-", "--prices").stdout
    as_worded(order)


def test_cut_bars_prove_from_their_rows(cut, run, as_worded):
    """Saw list and JSON prove; a part that is longer, or a cut that is not paid for, does not."""
    folder, _ = cut
    assert run("check", folder / "gate.xlsx").exit_code == 0
    assert run("check", folder / "gate.json", "--job", GATE).exit_code == 0
    for alter in (
        lambda data: data["tubes"][0]["bars"][0].update(length=3010),
        lambda data: data["orders"][0].update(cuts=0, cost=196.5),
        lambda data: data["tubes"][0]["bars"][0].pop("parts"),
    ):
        data = json.loads((folder / "gate.json").read_text())
        alter(data)
        (folder / "wrong.json").write_text(json.dumps(data))
        result = run("check", folder / "wrong.json", "--job", GATE)
        assert result.exit_code == 1
        as_worded(about(result.stdout + result.stderr, "6013", "order from", "bar 1: is a part"))


def test_the_rest_is_planned_from_the_parts(cut, run):
    """A spoilt blank is cut from a part kept whole: nothing is bought, and the new list proves."""
    folder, _ = cut
    book = load_workbook(folder / "gate.xlsx")
    for row in book["Saw list"].iter_rows():
        if isinstance(row[0].value, int) and row[0].value <= 3:
            row[2 if row[0].value == 3 else 1].value = "x"
    book.save(folder / "ticked.xlsx")
    result = run("recut", folder / "ticked.xlsx", "--output", folder / "rest.xlsx")
    assert result.exit_code == 0
    assert read_saw_list(folder / "rest.xlsx").plan.buy == ()
    assert run("check", folder / "rest.xlsx").exit_code == 0


def test_why_a_shop_delivers_is_shown(run, tmp_path, as_worded):
    """A brace longer than anything that can be carried: its bars are delivered, and the reason is given."""
    text = (GATE / "Members.csv").read_text(encoding="utf-8").replace("BRACE,42.4x2.6,2,1710", "BRACE,42.4x2.6,2,3410")
    wanted = altered(tmp_path, "Members.csv", text)
    (tmp_path / "Shops.csv").write_text("shop,delivery,cut,carry\nCanal Yard,94,,\nHill Stores,9.5,0.8,3000\n")
    as_worded(about(run("plan", wanted).stdout, "9.50 EUR", "because of"))


def test_a_sum_with_a_price_missing_counts_the_charges(run, tmp_path, as_worded):
    """Another tube has no price: no total, no proof, null in the JSON; what the shops charge is in what is said."""
    rows = [line for line in dearer().splitlines() if not line.startswith("26.9")]
    wanted = altered(tmp_path, "Stock.csv", "\n".join([*rows, "26.9x2.3,6000,,,buy,,", ""]))
    result = run("plan", wanted, "--json", tmp_path / "plan.json")
    as_worded(about(result.stdout, "Cost", "shops charge"))
    plan = json.loads((tmp_path / "plan.json").read_text())
    assert (plan["cost"], plan["bound"], plan["proven"]) == (None, None, False)
    order = plan["orders"][0]
    options = run("buy", wanted).stdout
    assert f" {order['cost']:.2f} EUR" in options
    as_worded(about(options, "Option 2", "Not in"))
    assert run("buy", wanted, "--budget", "1000").exit_code == 1


def test_a_part_that_came_short_is_put_right(cut, run, as_worded):
    """`next` lists what to buy as it is sold; a part that the shop cut 9 mm short is typed, and the rest is planned."""
    folder, _ = cut
    said = run("next", folder / "gate.xlsx").stdout
    as_worded(about(said, "(bar 1)"))
    book = load_workbook(folder / "gate.xlsx")
    as_worded(*(cell for row in book["Notes"].values for cell in row if "home" in str(cell)))
    sheet = book["Bars in hand"]
    heads = next(row for row in sheet.iter_rows() if any(cell.value == "struck out" for cell in row))
    column = next(cell.column for cell in heads if str(cell.value).startswith("measured now"))
    row = next(row[0].row for row in sheet.iter_rows() if str(row[0].value) == "1")
    sheet.cell(row, column).value = 2988
    book.save(folder / "short.xlsx")
    result = run("recut", folder / "short.xlsx", "--output", folder / "after.xlsx")
    assert result.exit_code == 0, result.output
    as_worded(about(result.stdout, "2988"))
    assert run("check", folder / "after.xlsx").exit_code == 0
