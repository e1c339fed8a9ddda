"""The sheet of a batch says what was weighed, and what nobody knows beside it."""

import time
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import pytest

from station.audit.batch import batch_sheet
from station.audit.rows import AdditionRow, BatchSheet
from station.cli.sheet_text import _detail, print_sheet
from station.ledger.chain import canonical_body, head_text
from station.ledger.mark import read_mark
from station.ledger.paths import read_alone
from station.ledger.reading import open_reader
from station.ledger.records import linked, read_events
from station.weighing import commands as do
from tests.audit.asking import told
from tests.benchside import RING, Bench


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


def test_the_sheet_says_who_decided_what() -> None:
    bench = Bench()
    bench.vessels()
    bench.open("14000")
    bench.weigh_meat("12000")
    bench.say(do.Skip("pepper", "none was delivered"))
    bench.say(do.Abandon("the power is out"))
    sheet = sheet_of(bench)
    assert sheet.opened_by == "Ansel"
    said = [(row.kind, row.text) for row in sheet.warnings]
    ended = "ended with 12000 g of meat; Ansel says that it is right"
    assert ("meat confirmed", ended) in said
    assert ("skipped", "left for the end by Ansel: none was delivered") in said
    assert ("abandoned", "abandoned by Ansel: the power is out") in said


def test_the_sheet_says_how_a_hold_was_lifted() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.pour("cup 2", "20")
    bench.lift()
    bench.show("fine", "98.45")
    bench.say(do.Accept("premix"))
    bench.say(do.Accept("premix", second="Brida"))
    said = [(row.kind, row.text) for row in sheet_of(bench).warnings]
    assert ("hold", "on hold: nobody saw where 20 g of premix went") in said
    assert ("doubt settled", "second person: seen, says Ansel, and Brida saw it") in said
    assert said[-1] == ("hold lifted", "on hold no longer, by doubt settled of premix, Ansel")


def test_a_limit_is_shown_with_what_it_is_judged_by() -> None:
    """24 g of 6.25 % on 12 kg: 125 mg/kg, less what clung; at most (24 + 0.041) g of it on
    (12000 - 1.64) g, U = 2 * 0.41 d of each."""
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.add("premix", "cup 2", "24")
    row = next(row for row in sheet_of(bench).limits if "sodium nitrite" in row.agents)
    assert (row.actual, row.at_most) == ("124.479", "125.231")


def test_what_is_over_a_limit_shows_as_over_it() -> None:
    """A hold by a hair: the figure is rounded up, and is never the limit itself."""
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.pour("cup 2", "30")
    bench.lift()
    bench.say(do.Tip("premix", unaccepted=True))
    row = next(row for row in sheet_of(bench).limits if "sodium nitrite" in row.agents)
    assert bench.batch.hold and row.at_most is not None
    assert float(row.at_most) > float(row.limit)


def test_a_limit_has_no_most_where_nobody_knows_how_much_went_in() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.add("premix", "cup 2", "24")
    bench.say(do.Tip("premix", more=True))
    row = next(row for row in sheet_of(bench).limits if "sodium nitrite" in row.agents)
    assert (row.at_least, row.at_most) == (True, None)


def test_figures_are_on_the_grid_of_their_scale_and_rounded_inward() -> None:
    bench = Bench().begin("12345")
    bench.add("salt", "cup 3", "222.20")
    row = row_of(sheet_of(bench), "salt")
    assert (row.lower_g, row.upper_g) == ("217.74816", "226.63584")
    assert "band 217.75 to 226.60 g" in _detail(row)


def test_times_are_those_of_the_bench_with_their_offset(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("TZ", "Etc/GMT-2")
    time.tzset()
    try:
        bench = Bench().begin()
        bench.add("salt", "cup 3", "216")
        print_sheet(sheet_of(bench))
    finally:
        monkeypatch.undo()
        time.tzset()
    printed = " ".join(capsys.readouterr().out.split())
    assert "opened 2026-11-30 12:00:00+02:00 by Ansel" in printed
    assert "fine, 12:00:00+02:00, Ansel" in printed


def test_a_sheet_of_a_batch_read_alone_is_that_of_the_whole_ledger(kept: Path) -> None:
    mark = read_mark(kept)
    with open_reader(kept) as db:
        names = [row[0] for row in db.execute("SELECT batch FROM batch ORDER BY batch")]
        assert len(names) > 1
        for name in names:
            alone = read_alone(db, name, mark)
            assert alone.broken is None
            assert len(alone.records) < len(list(read_events(db)))
            assert batch_sheet(alone.records, name) == batch_sheet(read_events(db), name)


def test_a_sheet_says_what_the_batch_was_opened_with() -> None:
    """The same formula, law, bands, scales and people are the same signs, however much is made."""
    sheets = []
    for formula, plan in (
        (RING, "12000"),
        (RING, "8000"),
        (RING.replace("1.8 %", "1.9 %"), "12000"),
    ):
        bench = Bench(formula)
        bench.open(plan)
        sheets.append(sheet_of(bench))
    same, other_plan, other_formula = (sheet.configured for sheet in sheets)
    assert same == other_plan != other_formula
    assert (sheets[0].version, len(same)) == ("0", 19)


@pytest.mark.parametrize("lacks", [None, "declaration"])
def test_what_it_was_opened_with_is_told_by_the_ledgers_own_words(lacks: str | None) -> None:
    """A station that knows more of a formula says the same of an opening that an older one wrote:
    the SHA-256 of the canonical JSON of its body, less what is of this batch alone."""
    bench = Bench()
    bench.open("12000")
    records = linked(0, bytes(32), [("b-1", event) for event in bench.events], bench.at)
    number = next(n for n, record in enumerate(records) if record.kind == "batch-opened")
    formula = {key: value for key, value in records[number].body["formula"].items() if key != lacks}
    body = {**records[number].body, "formula": formula}
    records[number] = replace(records[number], body=body, text=canonical_body(body))
    alone = ("plan_g", "planned_by", "who", "uid")
    common = {key: value for key, value in body.items() if key not in alone}
    digest = sha256(canonical_body(common).encode()).digest()
    assert batch_sheet(records, "b-1").configured == head_text(digest)


def test_a_lot_that_was_read_again_stands_on_the_sheet_with_both_people(kept: Path) -> None:
    """P-43 was told with 6.25 % and read again with 6.2 % by two."""
    rows = told(kept, "batch", "261202-5")["warnings"]
    said = [row["text"] for row in rows if row["kind"] == "lot read by two"]
    assert said == ["lot P-43: salt 93.8 %, sodium nitrite 6.2 %, say Ansel and Brida"]
    other = told(kept, "batch", "261130-1")["warnings"]
    assert not [row for row in other if row["kind"] == "lot read by two"]
