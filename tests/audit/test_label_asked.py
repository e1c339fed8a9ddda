"""`station label`, asked of a ledger."""

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import html5lib
import pytest
from click.testing import CliRunner, Result

from station.audit.pages import emphasised
from station.cli.label import label_of
from station.ledger.book import Book
from station.resources import Config
from tests.audit.asking import told
from tests.audit.kitchen_record import append_batch
from tests.audit.test_label import LINK
from tests.benchside import Bench
from tests.ledger.ledgers import AT, BORN


def ask(ledger: Path, *words: str) -> Result:
    return CliRunner(catch_exceptions=False).invoke(label_of, [*words, "--ledger", str(ledger)])


def closed(ledger: Path) -> dict[str, Any]:
    found = told(ledger, "list")["batches"]
    return next(row for row in found if row["state"] == "closed" and row["salt_pct"])


def test_it_answers_in_the_shape_that_programs_know(kept: Path) -> None:
    batch = closed(kept)["batch"]
    result = ask(kept, batch, "--json")
    assert result.exit_code == 0, result.output
    found = json.loads(result.stdout)
    assert {"ingredients", "meat_percent", "salt_g_per_100g", "text"} <= set(found)
    assert set(found["ingredients"][0]) >= {"name", "percent", "allergens"}
    assert found["batch"] == batch and found["simulated"] is True


def test_as_text_every_line_is_a_line_and_the_stamp_stands_on_it(kept: Path) -> None:
    batch = closed(kept)["batch"]
    lines = ask(kept, batch).stdout.splitlines()
    assert lines[0] == f"batch {batch}  SIMULATED"
    assert any(line.startswith("Ingredients: ") for line in lines)
    assert any("The maker and local law decide" in line for line in lines)


def test_a_batch_that_is_none_is_told_with_those_that_are(kept: Path) -> None:
    result = ask(kept, "no-batch")
    assert result.exit_code == 2 and "no batch 'no-batch'; there are " in result.stderr


def test_a_batch_of_which_nobody_knows_how_much_has_none(kept: Path) -> None:
    for row in told(kept, "list")["batches"]:
        result = ask(kept, str(row["batch"]))
        if result.exit_code == 3:
            assert "has no label: " in result.stderr and "station audit batch" in result.stderr
            return
    raise AssertionError("the record has a batch with an amount that nobody knows")


def test_it_counts_meat_and_salt_by_the_files_of_the_folder_that_is_named(
    kept: Path, tmp_path: Path
) -> None:
    """Twice the salt for a gram of sodium is twice the salt on the label."""
    batch = closed(kept)["batch"]
    text = Config().read("label.toml")[0]
    (tmp_path / "label.toml").write_text(text.replace('"2.5"', '"5"'), "utf-8")
    usual, twice = (
        Decimal(json.loads(ask(kept, batch, "--json", *more).stdout)["salt_g_per_100g"])
        for more in ((), ("--config", str(tmp_path)))
    )
    assert usual and abs(twice - 2 * usual) <= Decimal("0.01")
    (tmp_path / "label.toml").write_text(text.replace('"2.5"', '"much"'), "utf-8")
    result = ask(kept, batch, "--config", str(tmp_path))
    assert result.exit_code == 2 and "label.toml" in result.stderr


BATCH = "261130-1"


def crumbed(bench: Bench) -> None:
    bench.open()
    bench.weigh_meat()
    bench.add("salt", "cup 3", "204.20")
    bench.add("dried crumb", "cup 1", "180.10")
    bench.add("water", "cup 1", "360.10")


@pytest.fixture(name="ledger", scope="module")
def _ledger(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("crumbed") / "crumbed.ledger"
    book = Book.open(path, BORN, AT)
    append_batch(book, BATCH, "2026-11-30T08", LINK, crumbed)
    book.close()
    return path


def test_the_page_has_every_line_of_the_label_and_its_allergens_stand_out(
    ledger: Path, tmp_path: Path
) -> None:
    """A crumb of wheat, in the mix by a part of its own."""
    file = tmp_path / "label.html"
    result = ask(ledger, BATCH, "--html", str(file))
    assert result.exit_code == 0 and "is written" in result.stdout
    page = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(file.read_text())
    (box,) = [node for node in page.iter("section") if node.get("class") == "label"]
    said = ["".join(line.itertext()) for line in box.findall("p")]
    assert said == json.loads(ask(ledger, BATCH, "--json").stdout)["text"].splitlines()
    assert [node.text for node in box.iter("strong")] == ["WHEAT"]
    assert not list(page.iter("script"))


def test_a_page_and_json_are_two_forms_of_one_answer(ledger: Path, tmp_path: Path) -> None:
    file = tmp_path / "label.html"
    result = ask(ledger, BATCH, "--html", str(file), "--json")
    assert (result.exit_code, file.exists()) == (2, False)


@pytest.mark.parametrize(
    ("text", "allergens", "parts"),
    [
        ("pork, rusk (WHEAT), salt", ("wheat",), ["pork, rusk (", "*WHEAT", "), salt"]),
        ("MILK powder", ("milk",), ["*MILK", " powder"]),
        ("milk powder", ("milk",), ["milk powder"]),
        ("SOYA, SOYA LECITHIN", ("soya", "soya lecithin"), ["*SOYA", ", ", "*SOYA LECITHIN"]),
        ("pork", (), ["pork"]),
    ],
)
def test_an_allergen_is_a_part_of_its_own(
    text: str, allergens: tuple[str, ...], parts: list[str]
) -> None:
    found = emphasised(text, allergens)
    assert [("*" if part.strong else "") + part.text for part in found] == parts
