"""What is left of a batch and used in the next: on sheet and label, in stock, and in both
directions of a recall."""

from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest

from station.audit.label import label
from station.audit.made import Made
from station.audit.product import cost
from station.audit.recall import recall
from station.audit.trace import LotUse, Trace, through_leftovers
from station.ledger.book import Book
from station.weighing import commands as do
from tests.audit.asking import ask, told
from tests.audit.kitchen_record import Story, append_batch
from tests.benchside import Bench
from tests.formula.made import COUNTING
from tests.ledger.ledgers import BORN, checked
from tests.weighing.leftovers import LOT, REWORK, SACHET, fill, named, take
from tests.weighing.test_tallying import FORMULA, put

AGAIN = "261130-2-L1"
PORK = FORMULA.replace('name = "pork"\n', 'name = "pork"\nspecies = "pork"\nfat = "20 %"\n')
KITCHEN = PORK.replace('name = "pepper"', 'name = "pepper"\nallergens = ["mustard"]') + REWORK


def delivered(lot: str) -> do.NameMeatLot:
    return do.NameMeatLot("pork", lot, f"{lot}'s farm", None, None, "2026-11-30")


def keep(bench: Bench, grams: int) -> None:
    bench.show("bench", str(1200 + grams))
    bench.say(do.KeepLeftover("bench", "tub"))
    bench.show("bench", "0")


def first(bench: Bench) -> None:
    bench.open()
    bench.say(delivered("B-1"))
    bench.weigh_meat()
    fill(bench)
    bench.say(do.CountPieces("links", "bench"))
    put(bench, "11000", "bench")
    bench.say(do.End("links"))
    keep(bench, 1000)
    bench.say(do.Close())


def with_leftover(lot: str) -> Story:
    """The story of a batch that has 600 g of another in it, and of which 500 g are left."""

    def story(bench: Bench) -> None:
        bench.open()
        bench.say(delivered("B-2"))
        take(bench, 9400)
        bench.say(named(lot=lot))
        take(bench, 600)
        bench.say(do.End("pork", sure=True))
        fill(bench)
        keep(bench, 500)
        bench.say(do.Close())

    return story


def third(bench: Bench) -> None:
    bench.open()
    bench.say(named(lot=AGAIN))
    take(bench, 500)
    bench.say(delivered("B-3"))
    take(bench, 9500)
    bench.say(do.End("pork", sure=True))
    fill(bench)
    bench.say(do.Close())
    bench.say(do.Discard(LOT, "too old"))


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("leftovers") / "station.ledger"
    book = Book.open(path, BORN, "2026-11-30T07:00:00.000Z")
    append_batch(book, "261130-1", "2026-11-30T08", KITCHEN, first)
    append_batch(book, "261130-2", "2026-11-30T12", KITCHEN, with_leftover(LOT))
    append_batch(book, "261130-3", "2026-11-30T16", KITCHEN, third)
    book.close()
    return path


def test_a_delivery_is_found_in_what_was_left_of_its_batch(kept: Path) -> None:
    found = told(kept, "recall", "B-1")
    rows = {row["batch"]: row for row in found["affected"]}
    assert list(rows) == ["261130-1", "261130-2", "261130-3"]
    assert [row["sure"] for row in rows.values()] == [True, True, True]
    assert rows["261130-2"]["more"] == [f"600 g of leftover {LOT}"]
    assert rows["261130-3"]["more"] == [f"500 g of leftover {AGAIN}"]
    assert [row["actual_g"] for row in rows.values()] == ["12000", None, None]
    assert found["answer"] == (
        "lot B-1 was weighed into 1 batch;"
        " with what was left of them it is in 261130-2, 261130-3 too"
    )
    text = " ".join(ask(kept, "recall", "B-1").stdout.split())
    assert f"261130-2 600 g of leftover {LOT}" in text
    assert f"261130-2 pork: as leftover {LOT}" in " ".join(ask(kept, "lot", "B-1").stdout.split())


def test_a_delivery_of_which_nothing_was_left_is_in_its_batch_alone(kept: Path) -> None:
    assert [row["batch"] for row in told(kept, "recall", "B-3")["affected"]] == ["261130-3"]


def test_each_batch_is_asked_once_for_what_is_left_of_it() -> None:
    def use(batch: str) -> LotUse:
        told = {"actual_g": "1", "unknown_more": None, "may_be_in_g": None}
        return LotUse(batch=batch, line="x", at="", state="", **told)  # type: ignore[arg-type]

    trace = Trace(
        lot="P", line=None, expires=None, batches=(use("a"), use("b")), lines=(), known=True,
        answer="it was weighed into 2 batches", next="",
    )  # fmt: skip
    row = {"line": "pork", "actual_text": "5", "at": "t", "state": "closed",
           "unknown_more": None, "doubt_text": None}  # fmt: skip
    left = {"a": [row | {"batch": "c", "lot": "a-L1"}], "b": [row | {"batch": "c", "lot": "b-L1"}],
            "c": [row | {"batch": "d", "lot": "c-L1"}], "d": []}  # fmt: skip
    found = through_leftovers(trace, left.__getitem__, lambda batch: Made())
    assert [(one.batch, one.through) for one in found.batches] == [
        ("a", None), ("b", None), ("c", "a-L1"), ("c", "b-L1"), ("d", "c-L1"),
    ]  # fmt: skip
    assert found.answer.endswith("; with what was left of them it is in c, d too")
    left = {"a": [row | {"batch": "b", "lot": "a-L1"}], "b": []}
    within = through_leftovers(trace, left.__getitem__, lambda batch: Made())
    assert [one.batch for one in within.batches] == ["a", "b", "b"]
    assert within.answer == trace.answer


def test_a_leftover_costs_what_was_said_of_it_and_else_is_named() -> None:
    priced = KITCHEN.replace('species = "pork"', 'species = "pork"\ncost = "6 / kg"')
    bench = labelled(priced.replace("test ring", "next"))
    found = cost(bench.batch)
    assert found is not None
    assert (found.total, found.unpriced) == ("54.00", (LOT, "salt", "pepper"))


def test_a_batch_that_may_hold_a_lot_leaves_a_batch_that_may() -> None:
    def use(batch: str, through: str | None = None, **known: str) -> LotUse:
        told = {"actual_g": None, "unknown_more": None, "may_be_in_g": None} | known
        return LotUse(batch=batch, line="x", at="", state="", through=through, **told)  # type: ignore[arg-type]

    uses = (use("261130-1", may_be_in_g="2"), use("261130-2", LOT, actual_g="600"),
            use("261130-3", AGAIN, actual_g="500"),
            use("261130-4", unknown_more="Ansel"))  # fmt: skip
    trace = Trace(
        lot="P", line=None, expires=None, batches=uses, lines=(), known=True, answer="", next=""
    )
    row = {"formula": "f", "revision": 1, "opened_at": "", "state": "closed", "meat_text": "1"}
    batches = [{"batch": use.batch, **row} for use in uses]
    found = recall(trace, [], batches)
    assert {one.batch: one.sure for one in found.affected} == {
        "261130-1": False, "261130-2": False, "261130-3": False, "261130-4": True,
    }  # fmt: skip


def test_a_batch_names_what_its_leftovers_were_made_of(kept: Path) -> None:
    rows = told(kept, "origin", "261130-3")["sources"]
    of = {(row["of_batch"], row["lot"]): row for row in rows if row["lot"]}
    assert [key for key in of if key[1].startswith("B-")] == [
        (None, "B-3"), ("261130-2", "B-2"), ("261130-1", "B-1"),
    ]  # fmt: skip
    assert of[None, AGAIN]["more"] == "left of batch 261130-2"
    assert of["261130-2", LOT]["weighed_g"] == "600"
    text = " ".join(ask(kept, "origin", "261130-3").stdout.split())
    assert "pork, of 261130-1-L1" in text


def test_stock_has_what_is_left_of_each_batch(kept: Path) -> None:
    rows = {row["lot"]: row for row in told(kept, "stock")["lots"]}
    assert (rows[AGAIN]["line"], rows[AGAIN]["weighed_g"], rows[AGAIN]["left_g"]) == (
        "left of 261130-2", "500", "0",
    )  # fmt: skip
    assert (rows[LOT]["weighed_g"], rows[LOT]["left_g"]) == ("600", "0")  # 400 g thrown away
    assert rows["B-1"]["left_g"] is None


def test_the_sheet_says_what_was_kept_and_what_was_used(kept: Path) -> None:
    sheets = {name: told(kept, "batch", name) for name in ("261130-1", "261130-2")}
    said = {(row["kind"], row["text"]) for row in sheets["261130-1"]["warnings"]}
    assert ("left over", f"1000 g kept as {LOT}, says Ansel") in said
    used = {(row["kind"], row["text"]) for row in sheets["261130-2"]["warnings"]}
    assert ("leftover used", f"{LOT} is left of batch 261130-1, test ring r1") in used
    found = sheets["261130-1"]["yield"]
    mix, made = Decimal(found["mix_g"]), Decimal(11000)
    assert (found["left_over_g"], found["filled_g"]) == ("1000", "11000")
    assert found["loss_pct"] == str(round((1 - made / (mix - 1000)) * 100, 2))
    assert "left over 1000 g" in " ".join(ask(kept, "batch", "261130-1").stdout.split())


def test_the_mix_is_all_that_was_weighed_the_leftover_with_what_is_in_it(kept: Path) -> None:
    found = told(kept, "batch", "261130-2")
    lines = sum(Decimal(row["actual_g"]) for row in found["additions"])
    assert Decimal(found["yield"]["mix_g"]) == 10000 + lines
    assert Decimal(found["meat_g"]) < 10000
    assert abs(Decimal(found["salt_percent"]["actual"]) - Decimal("1.8")) < Decimal("0.01")


def test_the_ledger_with_them_is_whole(kept: Path) -> None:
    assert checked(kept).ok


def labelled(second: str = KITCHEN) -> Bench:
    bench = Bench(KITCHEN)
    bench.vessels()
    bench.open(batch="261130-1")
    bench.weigh_meat()
    fill(bench)
    keep(bench, 1000)
    bench.say(do.Close())
    bench.formula = Bench(second).formula
    bench.open("10000", "261130-2")
    take(bench, 9000)
    bench.say(named())
    take(bench, 1000)
    bench.say(do.End("pork", sure=True))
    fill(bench)
    return bench


def test_a_label_counts_each_part_of_a_leftover_as_what_it_is() -> None:
    found = label(labelled().batch, COUNTING)
    percents = {one.name: Decimal(one.percent) for one in found.ingredients}
    assert list(percents) == ["pork", "salt", "pepper"]
    for name, of_meat in (("pork", 1), ("salt", Fraction("0.018")), ("pepper", Fraction("0.003"))):
        assert abs(Fraction(percents[name]) - 100 * of_meat / Fraction("1.021")) < Fraction(1, 9)
    assert found.allergens == ("mustard",)
    assert sum(percents.values()) == 100
    assert f"{LOT} is in it, left of another batch" in " ".join(found.notes)


def test_what_no_line_of_the_formula_is_stands_under_its_own_name() -> None:
    sage = KITCHEN.replace('name = "pepper"', 'name = "sage"').replace("test ring", "sage link")
    found = label(labelled(sage).batch, COUNTING)
    percents = {one.name: one.percent for one in found.ingredients}
    assert list(percents) == ["pork", "salt", "sage", "pepper"]
    (pepper,) = [one for one in found.ingredients if one.name == "pepper"]
    assert pepper.allergens == ("mustard",)


def test_the_meat_of_a_label_is_no_more_than_was_meat() -> None:
    bench = labelled()
    found = label(bench.batch, COUNTING)
    mix = sum(Fraction(line.actual_g) for line in bench.batch.lines.values()) + 10000
    assert found.meat_percent is not None
    assert abs(Fraction(found.meat_percent) - Fraction(bench.batch.meat_g) * 100 / mix) < Fraction(
        1, 10
    )


def test_what_is_counted_and_not_weighed_stands_on_the_label_with_its_allergens() -> None:
    bench = Bench(KITCHEN + SACHET)
    bench.vessels()
    bench.open(batch="261130-1")
    bench.weigh_meat()
    fill(bench)
    assert label(bench.batch, COUNTING).allergens == ("mustard",)
    bench.say(do.EndStep("culture"))
    found = label(bench.batch, COUNTING)
    assert found.allergens == ("mustard", "milk")
    assert (found.ingredients[-1].name, found.ingredients[-1].percent) == ("culture", "0")
    keep(bench, 1000)
    bench.say(do.Close())
    again = (KITCHEN + SACHET).replace("test ring", "next")
    bench.formula = Bench(again).formula
    bench.open("10000", "261130-2")
    take(bench, 9000)
    bench.say(named())
    take(bench, 1000)
    bench.say(do.End("pork", sure=True))
    fill(bench)
    other = label(bench.batch, COUNTING)
    assert other.allergens == ("mustard", "milk")
    assert f"leftover {LOT}" in [one.name for one in other.ingredients]
