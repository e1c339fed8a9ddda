"""`station plan`: what a week needs, what of it is there, what is short."""

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from station.audit.stock import stock
from station.cli import planning
from station.received import Received
from tests.audit.asking import told

STOCK = """
[[came]]
line = "premix"
lot = "P-41"
amount = "120 g"
expires = "2027-05-31"

[[came]]
line = "premix"
lot = "P-99"
amount = "10 g"
expires = "2027-01-31"

[[came]]
line = "premix"
lot = "P-1"
amount = "1 kg"
expires = "2026-01-31"

[[came]]
line = "salt"
lot = "S-1"
amount = "50 kg"
"""
FORMULA = """
name = "{name}"
revision = 1
product = "cooked cured comminuted sausage"
method = "comminuted"
piece = "100 g"
[[meat]]
name = "pork"
share = "100 %"
species = "pork"
[[addition]]
name = "salt"
amount = "1.7 %"
role = "salt"
[[addition]]
name = "premix"
amount = "0.2 %"
role = "cure"
contains = {{ "sodium nitrite" = "{strength}", "salt" = "93 %" }}
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "stock.toml").write_text(STOCK)
    (tmp_path / "formulas").mkdir()
    for name, strength in (("ring", "6.25 %"), ("loaf", "6.25 %"), ("other", "5 %")):
        text = FORMULA.format(name=name, strength=strength)
        (tmp_path / "formulas" / f"{name}.toml").write_text(text)
    return tmp_path


@pytest.fixture(autouse=True)
def _that_day(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(planning, "today", lambda: "2026-11-27")


def plan(ledger: Path, folder: Path | None, *words: str) -> Result:
    config = () if folder is None else ("--config", str(folder))
    runner = CliRunner(catch_exceptions=False)
    return runner.invoke(planning.plan, [*words, "--ledger", str(ledger), *config])


def planned(ledger: Path, folder: Path, *words: str) -> tuple[int, dict[str, dict[str, Any]]]:
    """Exit status and the lines by name."""
    found = plan(ledger, folder, *words, "--json")
    return found.exit_code, {row["line"]: row for row in json.loads(found.stdout)["lines"]}


def test_what_was_weighed_is_taken_off_and_what_expires_first_is_taken_first(
    kept: Path, folder: Path
) -> None:
    """120 g of P-41 came and 95.65 g were weighed: 24.35 g are left."""
    code, lines = planned(kept, folder, "ring=7kg", "loaf=8 kg")
    premix = lines["premix"]
    assert (premix["need_g"], premix["formulas"]) == ("30", ["ring", "loaf"])
    assert [(each["lot"], each["left_g"], each["take_g"]) for each in premix["lots"]] == [
        ("P-99", "10", "10"),
        ("P-41", "24.35", "20"),
    ]
    assert (premix["short_g"], premix["expired"], code) == ("0", ["P-1"], 0)
    assert (lines["pork"]["short_g"], lines["pork"]["lots"]) == (None, [])


def test_what_is_short_is_said_and_is_a_no(kept: Path, folder: Path) -> None:
    code, lines = planned(kept, folder, "ring=20kg")
    assert (code, lines["premix"]["short_g"]) == (1, "5.65")
    found = plan(kept, folder, "ring=20kg")
    assert found.exit_code == 1 and "SHORT 5.7 g" in found.stdout
    assert "P-1 is past its date" in found.stdout and "not in stock.toml" in found.stdout


def test_of_one_name_for_different_goods_no_lot_is_taken(kept: Path, folder: Path) -> None:
    code, lines = planned(kept, folder, "ring=20kg", "other=20kg")
    premix = lines["premix"]
    assert (premix["alike"], premix["lots"], premix["short_g"], code) == (False, [], None, 0)
    found = plan(kept, folder, "ring=1kg", "other=1kg")
    assert "not the same goods in ring and other" in found.stdout


@pytest.mark.parametrize(("by", "amount", "meat"), [("mix", "10190 g", "10000"),
                                                    ("pieces", "1019", "100000")])  # fmt: skip
def test_an_amount_may_be_of_the_mix_or_in_pieces(
    kept: Path, folder: Path, by: str, amount: str, meat: str
) -> None:
    _, lines = planned(kept, folder, f"ring={amount}", "--by", by)
    assert lines["pork"]["need_g"] == meat


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("ring",), "expected FORMULA=AMOUNT"),
        (("ring=7",), "ring: meat: found '7', expected a mass"),
        (("ring=0.5", "--by", "pieces"), 'write "ring=200"'),
        (("nothing=7kg",), "there is no formulas/nothing.toml; there are"),
        (("../ring=7kg",), "is no name of a formula"),
    ],
)
def test_what_is_no_plan_is_said_with_the_next_step(
    kept: Path, folder: Path, words: tuple[str, ...], says: str
) -> None:
    found = plan(kept, folder, *words)
    assert found.exit_code == 2 and says in found.stderr and "next:" in found.stderr


def test_without_anything_that_came_no_ledger_is_wanted(tmp_path: Path) -> None:
    found = plan(tmp_path / "none.ledger", None, "garlic-ring=40kg")
    assert found.exit_code == 0 and "SHORT" not in found.stdout
    assert "44320 g of mix" in found.stdout


def test_stock_tells_what_is_left_of_what_came(kept: Path, folder: Path) -> None:
    found = told(kept, "stock", "--config", str(folder))
    rows = {(row["line"], row["lot"]): row for row in found["lots"]}
    assert list(rows) == sorted(rows)
    assert rows["premix", "P-41"]["left_g"] == "24.35"
    assert rows["premix", "P-41"]["expires"] == "2027-03-31"  # sooner than it was written down
    unused = rows["salt", "S-1"]
    assert (unused["left_g"], unused["weighed_g"], unused["batches"]) == ("50000", "0", 0)
    assert rows["premix", "P-42"]["left_g"] is None  # nobody wrote down what came
    assert "look into the bag" in found["answer"]


def row(**beside: Any) -> dict[str, Any]:
    """A row of table `lot`."""
    known = {"line": "salt", "lot": "S-1", "expires": None, "refused": None, "at": None,
             "actual_text": "100", "doubt_text": None, "unknown_more": 0}  # fmt: skip
    return known | beside


def test_what_may_be_in_a_mix_besides_is_not_left_in_its_bag() -> None:
    came = [Received("salt", "S-1", Decimal(1000))]
    (found,) = stock([row(), row(doubt_text="30", unknown_more=1)], came)
    assert (found.weighed_g, found.may_be_g, found.left_g) == ("200", "30", "770")
    assert found.at_least is True
    (found,) = stock([row(actual_text="1000.5")], came)
    assert (found.left_g, found.at_least) == ("-0.5", False)  # more was weighed than came


def test_of_some_days_alone_nothing_is_left(kept: Path, folder: Path) -> None:
    found = told(kept, "stock", "--config", str(folder), "--from", "2026-12-01")
    assert {row["left_g"] for row in found["lots"]} == {None}
    assert "no days are asked for" in found["answer"]
