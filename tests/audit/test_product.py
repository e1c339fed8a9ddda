"""What became of a batch: pieces, packs, loss and cost, as its sheet has them."""

import json
from decimal import Decimal
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from click.testing import CliRunner

from station.audit import product
from station.audit.made import Made, made
from station.cli.tag import tag
from station.ledger.book import Book
from station.weighing import commands as do
from tests.audit.asking import ask, told
from tests.audit.kitchen_record import append_batch
from tests.benchside import Bench
from tests.ledger.ledgers import BORN
from tests.weighing.test_tallying import FORMULA, NAME, PACKS, mixed, put

PRICED = FORMULA.replace('share = "100 %"', 'share = "100 %"\ncost = "6 / kg"').replace(
    'role = "salt"', 'role = "salt"\ncost = "0.50 / kg"'
)


def packed(bench: Bench) -> None:
    """Two links, a string of three, three packs, one of them struck."""
    bench.say(do.CountPieces("links", "fine"))
    for grams in ("59", "61"):
        put(bench, grams)
    bench.say(do.TellLinks(3))
    put(bench, "186")
    bench.say(do.End("links"))
    bench.say(PACKS)
    for grams in ("401", "380", "300"):
        put(bench, grams)
    bench.say(do.StrikeItem(3, "it fell"))
    bench.say(do.End(NAME))


def story(bench: Bench) -> None:
    bench.open()
    bench.say(do.NameMeatLot("pork", "B-9", None, None, None, "2026-11-30"))
    bench.weigh_meat()
    bench.add("salt", "cup 1", "216")
    bench.add("pepper", "cup 2", "36")
    packed(bench)
    bench.say(do.Close())


@pytest.fixture(name="ledger", scope="module")
def _ledger(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("packed") / "packed.ledger"
    book = Book.open(path, BORN, "2026-11-30T06:00:00.000Z")
    append_batch(book, "261130-1", "2026-11-30T08", PRICED, story)
    book.close()
    return path


def sheet(ledger: Path) -> dict[str, Any]:
    return told(ledger, "batch", "261130-1")


def test_pieces_are_counted_and_a_string_counts_in_the_mean_alone(ledger: Path) -> None:
    """306 g of five; the spread is that of 59 and 61 g: 2 / sqrt(2)."""
    assert sheet(ledger)["pieces"] == {"count": 5, "mean_g": "61.2", "spread_g": "1.41"}


def test_packs_are_judged_by_the_three_rules(ledger: Path) -> None:
    (found,) = sheet(ledger)["packs"]
    wanted = {"nominal_g": "400", "count": 2, "mean_g": "390.5", "t1": 1, "t2": 0}
    wanted |= {"verdict": "out", "use_by": "2026-12-04", "store": "fridge"}
    assert wanted.items() <= found.items()
    assert found["misses"] == [
        "the average lacks 9.5 g", "1 lack more than is tolerated, 0 may",
    ]  # fmt: skip


def test_masses_add_up_from_the_mix_to_the_packs(ledger: Path) -> None:
    """12 kg of meat, salt and pepper less what clung to their cups; 781 g in packs."""
    found = sheet(ledger)
    mix = 12000 + sum(Decimal(row["actual_g"]) for row in found["additions"])
    loss = round((1 - Decimal(781) / mix) * 100, 2)
    assert found["yield"] == {
        "mix_g": f"{mix}", "filled_g": "306", "packed_g": "781", "loss_pct": f"{loss}",
        "sampled_g": None, "dried_g": None, "left_over_g": None,
    }  # fmt: skip


def test_the_cost_is_that_of_what_went_in_and_names_what_has_no_price(ledger: Path) -> None:
    """12 kg at 6 and 215.90 g of salt at 0.50 are 72.11; the pepper's price nobody told."""
    found = sheet(ledger)["cost"]
    assert (found["total"], found["currency"], found["unpriced"]) == ("72.11", None, ["pepper"])
    assert (found["per_kg"], found["per_kg_of"]) == ("92.33", "packs")  # 72.108 / 0.781
    assert (found["per_piece"], found["per_pack"]) == ("14.42", "36.05")


def test_the_sheet_says_it_to_people(ledger: Path) -> None:
    text = " ".join(ask(ledger, "batch", "261130-1").stdout.split())
    assert "5 x links: 306 g, 61.2 g each on average, spread 1.41 g" in text
    assert "packs of 400 g for the fridge: out: the average lacks 9.5 g" in text
    assert "cost: at least 72.11, 92.33 a kilogram of the packs" in text
    assert "number 3 does not count, says Ansel: it fell" in text


def test_a_tag_has_six_lines(ledger: Path) -> None:
    result = CliRunner().invoke(tag, ["261130-1", "--ledger", str(ledger)])
    assert result.stdout.splitlines() == [
        "test ring", "batch 261130-1", "packed 2026-11-30", "use by 2026-12-04", "400 g",
        "keep: fridge", "SIMULATED",
    ]  # fmt: skip
    (found,) = json.loads(
        CliRunner().invoke(tag, ["261130-1", "--ledger", str(ledger), "--json"]).stdout
    )["tags"]
    assert (found["weight"], found["count"]) == ("400 g", 2)


def test_a_batch_without_packs_has_no_tag(kept: Path) -> None:
    batch = told(kept, "list")["batches"][0]["batch"]
    result = CliRunner().invoke(tag, [batch, "--ledger", str(kept)])
    assert result.exit_code == 3
    assert f"batch {batch} has no packs" in result.stderr


def test_nothing_counted_is_nothing_made_up() -> None:
    batch = mixed().batch
    assert (product.pieces(batch), product.packs(batch), product.counts(batch)) == (None, (), ())
    assert product.cost(batch) is None
    assert product.yielded(batch).loss_pct is None


def test_the_loss_goes_to_the_pieces_where_nothing_is_packed() -> None:
    bench = mixed()
    bench.say(do.CountPieces("links", "fine"))
    put(bench, "60")
    found = product.yielded(bench.batch)
    assert (found.filled_g, found.packed_g) == ("60", None)
    assert found.loss_pct == str(round((1 - Decimal(60) / Decimal(found.mix_g)) * 100, 2))


def test_what_was_tasted_is_no_loss() -> None:
    """251.8 g are in 12000 g of meat; 251.8 g leave to be tasted: 11000 of 12000 g are filled."""
    bench = mixed()
    bench.say(do.TakeSample(None, None, Decimal("251.8"), "cook it through"))
    bench.say(do.CountPieces("rings", "bench"))
    put(bench, "11000", "bench")
    found = product.yielded(bench.batch)
    assert (found.sampled_g, found.loss_pct) == ("251.8", "8.33")


def test_what_was_tasted_and_wished_stands_on_the_sheet(tmp_path: Path) -> None:
    def tasted(bench: Bench) -> None:
        bench.open()
        bench.weigh_meat()
        bench.add("salt", "cup 1", "216")
        bench.add("pepper", "cup 2", "36")
        bench.say(do.TakeSample(None, None, Decimal(180), "cook it through"))
        bench.say(do.Wish("salt", Decimal("0.02")))
        bench.add("salt", "cup 1", "23.85")
        bench.say(do.EndTasting())
        bench.say(do.Close())

    book = Book.open(tmp_path / "one.ledger", BORN, "2026-11-30T06:00:00.000Z")
    append_batch(book, "261130-1", "2026-11-30T08", FORMULA, tasted)
    book.close()
    found = told(tmp_path / "one.ledger", "batch", "261130-1")
    (salt, _) = found["additions"]
    assert salt["verdict"] == "in"
    assert found["salt_percent"]["actual"] == "2"  # of what is left
    texts = [row["text"] for row in found["warnings"]]
    assert "180 g left to be tasted, says Ansel: cook it through" in texts
    assert "215.9 g were in; Ansel wishes 2 % of the meat in all" in texts


def test_where_nobody_knows_what_went_in_nobody_knows_the_loss() -> None:
    bench = mixed(PRICED)
    bench.say(do.CountPieces("links", "fine"))
    put(bench, "60")
    bench.say(do.Tip("salt", more=True))
    assert product.yielded(bench.batch).loss_pct is None
    found = product.cost(bench.batch)
    assert found is not None and found.at_least


def test_the_price_of_a_lot_goes_before_that_of_its_line() -> None:
    bench = Bench(PRICED)
    bench.vessels()
    bench.open()
    delivery = do.NameMeatLot("pork", "B-1", None, None, None, "2026-11-30", price=Decimal(7))
    bench.say(delivery)
    bench.weigh_meat()
    found = product.cost(bench.batch)
    assert found is not None
    assert (found.total, found.per_kg, found.per_kg_of) == ("84.00", "7.00", "mix")
    bench.say(do.OpenLot("salt", "S-1", {}, None, "2026-11-30", price=Decimal(2)))
    bench.add("salt", "cup 1", "216")
    found = product.cost(bench.batch)
    assert found is not None and found.total == "84.43"  # and 215.90 g at 2
    again = do.NameMeatLot("pork", "B-1", "Orrin Farm", None, None, "2026-11-30")
    bench.say(again)
    assert bench.batch.meats["pork"].lots["B-1"].price == 7  # told once, and kept


@pytest.mark.parametrize(("asked", "rows"), [("recall", "affected"), ("lot", "batches")])
def test_a_lot_tells_pieces_and_packs_of_its_batches_and_where_they_are_kept(
    ledger: Path, asked: str, rows: str
) -> None:
    (row,) = told(ledger, asked, "B-9")[rows]
    assert row["made"] == {
        "pieces": 5,
        "packs": [{"count": 2, "nominal_g": "400", "store": "fridge", "use_by": "2026-12-04"}],
    }
    words = "261130-1 made: 5 pieces; 2 x 400 g, fridge, use by 2026-12-04"
    assert " ".join(ask(ledger, asked, "B-9").stdout.split()).count(words) == 1
    assert "5 pieces; 2 x 400 g" in ask(ledger, asked, "B-9", "--csv").stdout


def test_what_was_weighed_again_counts_once_and_a_batch_without_counts_made_nothing() -> None:
    bench = mixed()
    bench.say(do.CountPieces("links", "fine"))
    for grams in ("60", "61"):
        put(bench, grams)
    bench.say(do.WeighAgain(1))
    put(bench, "62")
    records = [SimpleNamespace(event=event, at="") for event in bench.events]
    assert made(records).pieces == 2  # type: ignore[arg-type]
    assert (made([]), made([]).words) == (Made(), "")
