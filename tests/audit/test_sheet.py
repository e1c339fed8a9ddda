"""The sheet of a batch says what was weighed, and what nobody knows beside it."""

from station.audit.batch import batch_sheet
from station.audit.rows import AdditionRow, BatchSheet
from station.cli.audit import _detail
from station.ledger.records import linked
from station.weighing import commands as do
from tests.benchside import Bench


def sheet_of(bench: Bench) -> BatchSheet:
    told = [("b-1", event) for event in bench.events]
    return batch_sheet(linked(0, bytes(32), told, bench.at), "b-1")


def row_of(sheet: BatchSheet, name: str) -> AdditionRow:
    return next(row for row in sheet.additions if row.name == name)


def salted_and_more() -> BatchSheet:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.say(do.Tip("salt", more=True))
    return sheet_of(bench)


def test_what_was_weighed_stays_beside_more_that_nobody_weighed() -> None:
    row = row_of(salted_and_more(), "salt")
    assert (row.actual_g, row.scale, row.who) == ("215.9", "fine", "Ansel")
    assert row.at is not None and row.unknown_more == "Ansel, 2026-11-30T10:00:00.000Z"
    assert row.difference_g is None, "nobody knows the difference"
    assert "MORE WENT IN, nobody knows how much (Ansel, 2026-11-30" in _detail(row)


def test_a_sum_that_contains_an_unknown_says_at_least() -> None:
    salt = salted_and_more().salt_percent
    assert (salt.actual, salt.at_least) == ("1.7992", True)


def test_a_sum_without_an_unknown_is_what_it_is() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    sheet = sheet_of(bench)
    assert not sheet.salt_percent.at_least and not any(row.at_least for row in sheet.limits)
    assert row_of(sheet, "salt").unknown_more is None


def test_an_unknown_amount_of_a_cure_makes_its_ingoing_amount_a_least() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.add("premix", "cup 2", "24")
    bench.say(do.Tip("premix", more=True))
    sheet = sheet_of(bench)
    nitrite = next(row for row in sheet.limits if "sodium nitrite" in row.agents)
    assert nitrite.at_least and sheet.salt_percent.at_least, "a premix is mostly salt"
    assert nitrite.actual is not None and nitrite.actual.startswith("124")


def test_only_an_unknown_amount_leaves_no_figure() -> None:
    bench = Bench().begin()
    bench.say(do.Tip("salt", more=True))
    row = row_of(sheet_of(bench), "salt")
    assert (row.actual_g, row.unknown_more is not None) == (None, True)
    assert "not weighed, MORE WENT IN" in _detail(row)
