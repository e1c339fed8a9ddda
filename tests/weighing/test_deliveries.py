"""The meat's own lots: each load is of a delivery that can be found again."""

import pytest

from station.batch import events as ev
from station.ledger.tables import lot_rows
from station.weighing import commands as do
from tests.audit.test_sheet import sheet_of
from tests.benchside import Bench
from tests.weighing.test_tubs import TWO_MEATS, opened

NAMED = do.NameMeatLot("pork", "B-118", "Orrin Farm", "2026-11-20", "2026-12-04", "2026-11-30")


def take(bench: Bench, line: str, grams: int) -> None:
    bench.show("bench", "1200")
    bench.show("bench", str(1200 + grams))
    bench.say(do.Accept(line))
    bench.show("bench", "0")
    bench.show("bench", "1200")
    bench.show("bench", "0")


def lots(bench: Bench) -> list[str | None]:
    return [load.lot for meat in bench.batch.meats.values() for load in meat.loads]


def test_each_load_is_of_the_delivery_that_was_named_last() -> None:
    bench = opened()
    bench.say(NAMED)
    take(bench, "pork", 5000)
    bench.say(do.NameMeatLot("pork", "B-119", None, None, None, "2026-11-30"))
    take(bench, "pork", 4000)
    assert lots(bench) == ["B-118", "B-119"]
    assert [load.lot for load in sheet_of(bench).meat[0].loads] == ["B-118", "B-119"]


def test_what_was_weighed_before_any_was_named_is_of_the_first() -> None:
    bench = opened()
    take(bench, "pork", 5000)
    assert lots(bench) == [None]
    answer = bench.say(NAMED)
    assert answer == "pork is of lot B-118 from now on, and so are the 5000 g before it"
    take(bench, "pork", 4000)
    other = bench.say(do.NameMeatLot("pork", "B-119", None, None, None, "2026-11-30"))
    assert other == "pork is of lot B-119 from now on"
    assert lots(bench) == ["B-118", "B-118"]


def test_the_table_of_lots_has_the_delivery_with_its_grams_and_supplier() -> None:
    bench = opened()
    bench.say(NAMED)
    take(bench, "pork", 5000)
    take(bench, "pork", 4000)
    (row,) = lot_rows(bench.batch)
    wanted = {
        "line": "pork",
        "lot": "B-118",
        "expires": "2026-12-04",
        "actual_text": "9000",
        "supplier": "Orrin Farm",
        "packed": "2026-11-20",
        "at": bench.at,
    }
    assert wanted.items() <= row.items()


@pytest.mark.parametrize(("use_by", "refused"), [("2026-11-29", True), ("2026-11-30", False)])
def test_meat_past_its_use_by_wants_a_second_person(use_by: str, refused: bool) -> None:
    bench = opened()
    named = do.NameMeatLot("pork", "B-1", None, None, use_by, "2026-11-30")
    if not refused:
        bench.say(named)
        return
    assert bench.refused(named).code == "second-wanted"
    seen = do.NameMeatLot("pork", "B-1", None, None, use_by, "2026-11-30", second="Brida")
    bench.say(seen)
    assert bench.last(ev.MeatLotNamed).second == "Brida"  # type: ignore[attr-defined]
    said = [row.text for row in sheet_of(bench).warnings if row.kind == "past use-by"]
    assert said == [f"lot B-1, to be used by {use_by}, say Ansel and Brida"]


def test_a_clock_that_was_set_back_makes_no_meat_younger() -> None:
    """The ledger has seen 2026-11-30."""
    bench = opened()
    named = do.NameMeatLot("pork", "B-1", None, None, "2026-11-29", "2026-11-01")
    assert bench.refused(named).code == "second-wanted"


def test_the_earlier_of_two_dates_told_counts_and_what_was_told_stays() -> None:
    bench = opened()
    bench.say(NAMED)
    bench.say(do.NameMeatLot("pork", "B-118", None, None, "2027-01-01", "2026-11-30"))
    lot = bench.batch.meats["pork"].lots["B-118"]
    assert (lot.use_by, lot.supplier, lot.packed) == ("2026-12-04", "Orrin Farm", "2026-11-20")


def test_said_twice_it_is_recorded_once() -> None:
    bench = opened()
    bench.say(NAMED)
    bench.say(NAMED)
    assert len([event for event in bench.events if isinstance(event, ev.MeatLotNamed)]) == 1


def test_the_same_as_last_is_one_key_in_the_next_batch() -> None:
    bench = opened()
    bench.say(NAMED)
    take(bench, "pork", 5000)
    bench.say(do.Abandon("the mincer broke"))
    bench.open(batch="b-2")
    (offer,) = [offer for offer in bench.told.offers if offer.verb == "meat-lot"]
    assert (offer.key, offer.danger, offer.means) == ("same", True, "lot B-118 again")
    assert offer.params == {
        "line": "pork",
        "lot": "B-118",
        "supplier": "Orrin Farm",
        "packed": "2026-11-20",
        "use_by": "2026-12-04",
    }
    bench.say(NAMED)
    assert not [offer for offer in bench.told.offers if offer.verb == "meat-lot"]


def test_the_last_delivery_of_one_meat_is_none_of_another() -> None:
    bench = opened(TWO_MEATS)
    bench.say(NAMED)
    take(bench, "pork", 6000)
    bench.say(do.End("pork", sure=True))
    assert bench.told.line == "belly"
    assert not [offer for offer in bench.told.offers if offer.verb == "meat-lot"]


def test_what_leaves_takes_nothing_off_a_lot_that_it_may_not_be_of() -> None:
    bench = opened()
    bench.say(NAMED)
    take(bench, "pork", 3000)
    bench.say(do.NameMeatLot("pork", "B-119", None, None, None, "2026-11-30"))
    take(bench, "pork", 5000)
    bench.show("bench", "3200")
    bench.say(do.TakeMeatOut("pork"))
    grams = {row["lot"]: row["actual_text"] for row in lot_rows(bench.batch)}
    assert (bench.batch.meat_g, grams) == (6000, {"B-118": "3000", "B-119": "5000"})


def test_what_leaves_of_the_only_lot_is_of_that_lot_and_no_use_of_it() -> None:
    bench = opened()
    bench.say(NAMED)
    take(bench, "pork", 5000)
    bench.at = "2026-11-30T11:00:00.000Z"
    bench.show("bench", "3200")
    bench.say(do.TakeMeatOut("pork"))
    (row,) = lot_rows(bench.batch)
    assert (row["actual_text"], row["at"]) == ("3000", "2026-11-30T10:00:00.000Z")
