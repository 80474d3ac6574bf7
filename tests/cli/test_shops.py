"""Guards what a person meets of shops: the plan, its files and their check, the options, an order, a mistake."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner
from openpyxl import load_workbook

from cutplan.cli.main import main

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


def test_the_plan_names_shops_and_charges(gate):
    """Each line of the buy list says its shop, each order what it comes to, and a bar more than is needed says why."""
    folder, said = gate
    assert "Canal Yard: bars 209.00 EUR, delivered free, as from 200.00 EUR." in said
    assert "Bar 7 is not needed for the frame: with it Canal Yard delivers free" in said
    data = json.loads((folder / "gate.json").read_text())
    assert {line["shop"] for line in data["buy"]} == {"Canal Yard"}
    assert [(one["shop"], one["delivery"], one["cost"]) for one in data["orders"]] == [("Canal Yard", 0, 209)]
    assert data["cost"] == data["bound"] == 209


def test_the_files_prove_and_a_wrong_charge_does_not(gate, whole, run):
    """Saw list and JSON prove; an order that leaves its bars short does not."""
    folder, _ = gate
    assert run("check", folder / "gate.xlsx").exit_code == 0
    assert run("check", folder / "gate.json", "--job", whole).exit_code == 0
    data = json.loads((folder / "gate.json").read_text())
    data["orders"][0] |= {"bars": 200, "cost": 200}
    (folder / "wrong.json").write_text(json.dumps(data))
    result = run("check", folder / "wrong.json", "--job", whole)
    assert result.exit_code == 1
    assert "the order from Canal Yard: bars 209.0, not 200" in result.stdout.replace("209.00", "209.0")


def test_buy_compares_and_orders_by_shop(whole, run, tmp_path):
    """Below the options the ways of buying, cheapest first, and why; the order's text names the shop."""
    result = run("buy", whole, "--json", tmp_path / "options.json")
    assert "Hill Stores, carried: bars 270.80 EUR, charges 0.00 EUR; together 270.80 EUR" in result.stdout
    assert "Cheapest: Canal Yard, delivered. Next, Hill Stores, delivered: bars cost 0.10 EUR more" in result.stdout
    ways = json.loads((tmp_path / "options.json").read_text())["ways"]
    assert [one["cost"] for one in ways] == [209, 218.6, 270.8]
    assert "From Canal Yard, to be delivered\n" in run("buy", whole, "--option", "1", "--order", "-").stdout


def test_after_a_mistake_what_must_be_bought_counts_its_delivery(gate, run):
    """Three rails spoilt: the bar to buy, and what the shop charges for that order."""
    folder, _ = gate
    book = load_workbook(folder / "gate.xlsx")
    for row in book["Saw list"].iter_rows():
        if isinstance(row[0].value, int) and row[0].value <= 7:
            row[2 if row[0].value >= 5 else 1].value = "x"
    book.save(folder / "ticked.xlsx")
    result = run("recut", folder / "ticked.xlsx")
    assert result.exit_code == 0
    assert "To buy: 1 x 3000 mm of 42.4x2.6 from Canal Yard, 25.90 EUR." in result.stdout
    assert "Canal Yard charges 24.00 EUR for that order." in result.stdout
    assert "Cost: 49.90 EUR, with what the shops charge. Proven" in result.stdout


@pytest.mark.parametrize(
    ("sheet", "text", "said"),
    [
        ("Shops.csv", "shop,delivery\nCanal Yard,-3\n", 'Shops row 2, delivery: "-3": must be 0 or more'),
        ("Shops.csv", "shop,free from\nCanal Yard,100\n", 'free from: "100": is given, but no delivery is charged'),
        ("Shops.csv", "shop,delivery,cut\nCanal Yard,3,1\n", 'cut: "1": is given, but not what can be carried'),
        ("Shops.csv", "shop,delivery,kerf\nCanal Yard,3,2\n", 'kerf: "2": is given, but the shop cuts nothing'),
        ("Shops.csv", "shop,delivery\nCanal Yard,3\ncanal yard,4\n", 'shop: "canal yard": is in row 2 already'),
        (
            "Shops.csv",
            "shop,delivery\nCanel Yard,3\nHill Stores,4\n",
            '"Canal Yard": is not a shop in Shops (did you mean Canel Yard?)',
        ),
        ("Stock.csv", "tube,length,from,shop\n42.4x2.6,6000,buy,Hill Stores\n", "is blank, but Hill Stores charges"),
        ("Stock.csv", "tube,length,from,shop\n42.4x2.6,6000,rack,Hill Stores\n", "is given for a piece from the rack"),
    ],
)
def test_a_fault_in_shops_is_reported(run, tmp_path, sheet, text, said):
    """A wrong charge or a shop that is not there is a fault with its place and its cure."""
    result = run("plan", altered(tmp_path, sheet, text))
    assert result.exit_code == 1
    assert said in result.stdout + result.stderr


CARRIED = "shop,delivery,free from,carry\nCanal Yard,24,200,\nHill Stores,,,3000\n"


def test_a_bar_that_cannot_be_carried_is_remarked_on(run, tmp_path):
    """Of a shop that does not deliver, bars longer than can be carried are left out, and it is said which."""
    said = " ".join(run("plan", altered(tmp_path, "Shops.csv", CARRIED)).stdout.split())
    assert "Stock row 4, length: 6000 mm is too long to be carried home from Hill Stores: not bought" in said
    assert "Stock row 7, length: 6000 mm is too long" in said


def test_the_order_asks_the_shop_for_what_it_must_do(whole, run, tmp_path):
    """A text for a shop says whether it delivers, never what you save by fetching the bars."""
    text = run("buy", whole, "--option", "1", "--order", "-").stdout
    assert "From Canal Yard, to be delivered\n" in text
    shops = "shop,delivery,carry\nCanal Yard,124,\nHill Stores,90,3000\n"
    wanted = altered(tmp_path, "Shops.csv", shops)
    text = run("buy", wanted, "--option", "1", "--order", "-", "--prices").stdout
    assert "From Hill Stores, to be fetched\n" in text
    assert "to be fetched." in text
    assert "you carry" not in text
    assert "you carry them home and save 90.00 EUR" in run("plan", wanted).stdout


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


def test_where_the_shop_cuts_is_shown_everywhere(cut, run):
    """The plan, its JSON, the saw list, the option and the order: what each bar is cut into, and what that costs."""
    folder, said = cut
    assert "2997 + 3000 mm" in said
    assert "cuts 8.00 EUR, you carry them home and save 9.50 EUR. Together 204.50 EUR." in said
    assert "Hill Stores cuts 6000 mm of 42.4x2.6 into 2997 mm (bar 1) + 3000 mm (bar" in said
    assert "part of 6000 mm that Hill Stores cuts" in said
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
    assert any("part of 6000 mm that Hill Stores cuts" in str(cell) for cell in shown["Saw list"])
    order = run("buy", GATE, "--option", "1", "--order", "-", "--prices").stdout
    assert "each cut square into 2997 + 3000 mm (the saw takes 3 mm)" in order
    assert "cut square into 2183 + 2180 + 1631 mm (the saw takes 3 mm a cut)" in order
    assert "cuts 6.40 EUR, to be fetched" in order


def test_cut_bars_prove_from_their_rows(cut, run):
    """Saw list and JSON prove; a part that is longer, or a cut that is not paid for, does not."""
    folder, _ = cut
    assert run("check", folder / "gate.xlsx").exit_code == 0
    assert run("check", folder / "gate.json", "--job", GATE).exit_code == 0
    for alter, said in (
        (lambda data: data["tubes"][0]["bars"][0].update(length=3010), "with the cuts between them"),
        (lambda data: data["orders"][0].update(cuts=0, cost=196.5), "the order from Hill Stores: cuts 8.0"),
        (lambda data: data["tubes"][0]["bars"][0].pop("parts"), "is a part of a bar that has no length, or no parts"),
    ):
        data = json.loads((folder / "gate.json").read_text())
        alter(data)
        (folder / "wrong.json").write_text(json.dumps(data))
        result = run("check", folder / "wrong.json", "--job", GATE)
        assert result.exit_code == 1
        assert said in (result.stdout + result.stderr).replace("8.00", "8.0")


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
    assert "Nothing needs to be bought." in result.stdout
    assert run("check", folder / "rest.xlsx").exit_code == 0


def test_why_a_shop_delivers_is_shown(run, tmp_path):
    """A brace longer than anything that can be carried: its bars are delivered, and the reason is given."""
    text = (GATE / "Members.csv").read_text(encoding="utf-8").replace("BRACE,42.4x2.6,2,1710", "BRACE,42.4x2.6,2,3410")
    wanted = altered(tmp_path, "Members.csv", text)
    (tmp_path / "Shops.csv").write_text("shop,delivery,cut,carry\nCanal Yard,94,,\nHill Stores,9.5,0.8,3000\n")
    said = " ".join(run("plan", wanted).stdout.split())
    assert "delivery 9.50 EUR" in said
    assert "Delivered because of BRACE: what you can carry of 42.4x2.6 from Hill Stores gives 2958 mm at most." in said


def test_a_sum_with_a_price_missing_counts_the_charges(run, tmp_path):
    """Another tube has no price: no total, no proof, null in the JSON; what the shops charge is in what is said."""
    rows = [line for line in dearer().splitlines() if not line.startswith("26.9")]
    wanted = altered(tmp_path, "Stock.csv", "\n".join([*rows, "26.9x2.3,6000,,,buy,,", ""]))
    result = run("plan", wanted, "--json", tmp_path / "plan.json")
    said = " ".join(result.stdout.split())
    assert "Cost: not known, as no price is given for 26.9x2.3." in said
    assert "The shops charge" in said
    plan = json.loads((tmp_path / "plan.json").read_text())
    assert (plan["cost"], plan["bound"], plan["proven"]) == (None, None, False)
    order = plan["orders"][0]
    options = run("buy", wanted).stdout
    assert f"Option 2: {order['cost']:.2f} EUR, and 26.9x2.3, which has no price" in options
    assert "Not in these sums: 26.9x2.3, which these shops do not sell." in options
    assert run("buy", wanted, "--budget", "1000").exit_code == 1


def test_a_part_that_came_short_is_put_right(cut, run):
    """`next` lists what to buy as it is sold; a part that the shop cut 9 mm short is typed, and the rest is planned."""
    folder, _ = cut
    said = run("next", folder / "gate.xlsx").stdout
    assert "6000 mm of 42.4x2.6 from Hill Stores, cut into 2997 mm (bar 1) + 3000 mm (bar" in said
    assert said.count("6000 mm of 42.4x2.6 from Hill Stores") == 3
    assert "Bar 1: 2997" not in said
    book = load_workbook(folder / "gate.xlsx")
    assert any("measure it when you get home" in str(cell) for row in book["Notes"].values for cell in row)
    sheet = book["Bars in hand"]
    heads = next(row for row in sheet.iter_rows() if any(cell.value == "struck out" for cell in row))
    column = next(cell.column for cell in heads if str(cell.value).startswith("measured now"))
    row = next(row[0].row for row in sheet.iter_rows() if str(row[0].value) == "1")
    sheet.cell(row, column).value = 2988
    book.save(folder / "short.xlsx")
    result = run("recut", folder / "short.xlsx", "--output", folder / "after.xlsx")
    assert result.exit_code == 0, result.output
    assert "Bar 1 is corrected: 2988 mm remain, 9 mm less than expected." in result.stdout
    assert run("check", folder / "after.xlsx").exit_code == 0
