"""Over all batches: what is open, what went wrong, what people decided, what lots gave."""

import csv
import io
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from station.audit.decisions import DECIDED, decisions
from station.audit.warned import WARNED
from station.batch import events as ev
from station.batch.codec import kind_of
from station.ledger.asking import Period, asked
from station.ledger.book import Book
from station.ledger.records import linked
from station.metrology.scale import Device
from tests.audit.asking import ask, told
from tests.audit.kitchen_record import append_batch, begun
from tests.benchside import FINE, RING, Bench
from tests.ledger.ledgers import AT, BORN


def test_open_batches_are_those_that_are_neither_closed_nor_given_up(kept: Path) -> None:
    found = told(kept, "open")
    assert [(row["batch"], row["state"]) for row in found["batches"]] == [("261204-7", "additions")]
    assert found["answer"] == "1 batch is open"
    assert "261204-7" in ask(kept, "open").stdout


def test_without_an_open_batch_it_says_what_there_is(tmp_path: Path) -> None:
    path = tmp_path / "a.ledger"
    Book.open(path, BORN, AT).close()
    found = told(path, "open")
    assert (found["batches"], found["answer"]) == ([], "no batches are open")
    assert found["next"] == "no batch is on record yet: station open begins one"


def test_warnings_are_the_sentences_of_the_sheets_that_no_person_decided(kept: Path) -> None:
    row, refused = told(kept, "warnings")["warnings"]
    assert (row["batch"], row["kind"]) == ("261201-3", "hold")
    assert (refused["batch"], refused["addition"], refused["text"]) == (
        "261201-4", "premix", "lot P-30 was past its date 2026-10-31: Ansel had told it",
    )  # fmt: skip
    assert refused["text"] in [one["text"] for one in told(kept, "batch", "261201-4")["warnings"]]
    assert "lot P-30 was past its date" in " ".join(ask(kept, "day", "2026-12-01").stdout.split())
    sheet = told(kept, "batch", "261201-3")
    assert row["text"] in [warning["text"] for warning in sheet["warnings"]]
    assert told(kept, "warnings", "--from", "2026-12-02")["warnings"] == []
    assert "nobody knows how much premix" in " ".join(ask(kept, "warnings").stdout.split())


def test_no_kind_of_event_is_both_a_warning_and_a_decision() -> None:
    assert WARNED and DECIDED and not WARNED & DECIDED
    assert kind_of(ev.PutOnHold) in WARNED


def test_decisions_say_who_with_whom_what_and_why(kept: Path) -> None:
    rows = told(kept, "concessions")["concessions"]
    said = {(row["batch"], row["kind"]): row for row in rows}
    assert said["261130-1", "voided"]["reason"] == "wet"
    typed = said["261130-2", "by hand"]
    assert (typed["who"], typed["second"], typed["reason"]) == (
        "Ansel",
        "Brida",
        "the cable is torn",
    )
    assert typed["text"] == "61 g, read and typed"
    assert said["261130-2", "named at close"]["text"] == "closed without, or as weighed: pepper"
    assert said["261130-2", "skipped"]["reason"] == "not delivered"
    assert "nobody knows" in said["261201-3", "unaccepted"]["text"]
    assert said["261202-5", "lot"]["second"] == "Brida"
    text = " ".join(ask(kept, "concessions").stdout.split())
    assert "nobody has a PIN yet" in text


def test_what_is_ordinary_work_is_no_decision() -> None:
    """A load that a scale sent, a sum in its band, a lot read by one, an end by plan, a close."""
    bench = Bench()
    bench.vessels()
    begun(bench)
    for line, cup, net in (("salt", "cup 3", "216"), ("premix", "cup 2", "24")):
        bench.add(line, cup, net)
    ordinary = [
        event for event in bench.events if not (isinstance(event, ev.MeatEnded) and event.sure)
    ]
    by_plan = [
        ev.MeatEnded("pork", Decimal(12000), "Ansel", False),
        ev.StepEnded("rest", "4 degC", "Ansel", AT),
        ev.MeatLotNamed("pork", "B-1", None, None, "2026-12-04", "Ansel"),
        ev.ScaleKnown(FINE, Device("letters"), None),
        ev.Closed((), "Ansel"),
    ]
    events: list[tuple[str | None, ev.Event]] = [("b-1", e) for e in [*ordinary, *by_plan]]
    kinds = {kind_of(type(event)) for _, event in events}
    assert kinds >= {"load-weighed", "accepted", "lot-opened", "meat-ended", "closed"}
    assert list(decisions(linked(0, bytes(32), events, AT))) == []


DECISIONS: tuple[tuple[ev.Event, str], ...] = (
    (ev.MeatEnded("pork", Decimal(12000), "Ansel", True), "12000 g are right"),
    (ev.TippedUnaccepted("salt", Decimal(210), None, None, None, None, None, "Ansel"),
     "210 g are in the mix"),
    (ev.LotReviewed("premix", "P-41", {}, "read again", "Ansel", "Brida"),
     "lot P-41 is as it was last told"),
    (ev.TakenBack("premix", Decimal(2), Decimal(90), "Ansel"), "2 g went back"),
    (ev.DoubtSettled("premix", "jar", "weighed", "Ansel"), "not in the mix, by jar"),
    (ev.JumpExplained("salt", Decimal(50), "Ansel"), "50 g belong in"),
    (ev.Abandoned("the power is out", "Ansel"), "given up"),
    (ev.LossAccepted("aa", 90, "bb", 60, "cc"),
     "the station went on without events 61 and later"),
    (ev.StepEnded("rest", None, "Ansel", AT, "the room is warm"), "ended all the same"),
    (ev.MeatLotNamed("pork", "B-1", None, None, "2026-11-29", "Ansel", "Brida"),
     "lot B-1, to be used by 2026-11-29, was used"),
    (ev.ScaleChosen("crumb", "bench", "Ansel"), "weighed on bench"),
    (ev.ScaleKnown(FINE, Device("letters"), "Ansel"), "fine is another scale now"),
)  # fmt: skip


@pytest.mark.parametrize(("event", "text"), DECISIONS)
def test_each_decision_is_told_in_words(event: ev.Event, text: str) -> None:
    (row,) = decisions(linked(0, bytes(32), [("b-1", event)], AT))
    assert (row.text, row.who) == (text, getattr(event, "who", None))


def test_stock_has_every_lot_with_what_was_weighed_from_it(kept: Path) -> None:
    found = told(kept, "stock")
    rows: dict[tuple[str, str], dict[str, Any]] = {
        (row["line"], row["lot"]): row for row in found["lots"]
    }
    assert list(rows) == sorted(rows) and len(rows) == 8
    used = rows["premix", "P-41"]
    assert (used["weighed_g"], used["batches"], used["left_g"]) == ("95.65", 4, None)
    assert used["last_at"] == "2026-12-04T08:00:14.000Z"
    assert (rows["premix", "P-42"]["weighed_g"], rows["premix", "P-42"]["at_least"]) == (
        "23.9",
        True,
    )
    assert (rows["pepper", "B-7"]["batches"], rows["pepper", "B-7"]["last_at"]) == (0, None)
    assert rows["premix", "P-30"]["expires"] == "2026-10-31"
    assert "what is left of a lot is told where stock.toml says" in found["answer"]


@pytest.mark.parametrize("lot", ["P-41", "P-42", "P-43"])
def test_stock_and_trace_agree(kept: Path, lot: str) -> None:
    (row,) = [row for row in told(kept, "stock")["lots"] if row["lot"] == lot]
    (line,) = told(kept, "lot", lot)["lines"]
    keys = ("line", "expires", "at_least")
    assert [row[key] for key in keys] == [line[key] for key in keys]
    assert row["weighed_g"] == line["actual_g"]


def test_a_day_belongs_to_the_lots_weighed_on_it(kept: Path) -> None:
    with asked(kept) as ledger:
        at = ledger.lot("P-42")[0]["at"]
        assert "P-42" in {row["lot"] for row in ledger.all_lots(Period(at, "~"))}
        assert "P-42" not in {row["lot"] for row in ledger.all_lots(Period("", at))}
        hold = next(iter(ledger.events_in(Period(), {"put-on-hold"})))
        assert list(ledger.events_in(Period("", hold.at), {"put-on-hold"})) == []
        assert len(list(ledger.events_in(Period(hold.at, "~"), {"put-on-hold"}))) == 1


@pytest.mark.parametrize("name", ["warnings", "concessions", "stock"])
def test_days_without_any_say_which_days_there_are(kept: Path, name: str) -> None:
    found = told(kept, name, "--from", "2030-01-01")
    assert found["next"].startswith("7 batches are on record, opened from 2026-11-30")
    assert "next: 7 batches are on record" in ask(kept, name, "--from", "2030-01-01").stdout


@pytest.mark.parametrize(("name", "count"), [("open", 1), ("warnings", 2), ("concessions", 16),
                                             ("stock", 8)])  # fmt: skip
def test_csv_has_a_row_each(kept: Path, name: str, count: int) -> None:
    rows = list(csv.DictReader(io.StringIO(ask(kept, name, "--csv").stdout)))
    assert len(rows) == count and {row["simulated"] for row in rows} == {"SIMULATED"}


def test_what_may_be_in_the_mix_besides_is_told_with_the_stock(tmp_path: Path) -> None:
    def doubted(bench: Bench) -> None:
        begun(bench, "P-51")
        gone = ev.Voided("premix", None, "wet", Decimal(0), "Ansel", doubted=True,
                         content_g=Decimal(20), lot="P-51", division_g=Decimal("0.05"))  # fmt: skip
        bench.events.append(gone)

    path = tmp_path / "a.ledger"
    book = Book.open(path, BORN, AT)
    append_batch(book, "b-1", "2026-11-30T10", RING, doubted)
    book.close()
    (row,) = told(path, "stock")["lots"]
    assert (row["weighed_g"], row["may_be_g"]) == ("0", "20")
    assert "20 g more may be in" in ask(path, "stock").stdout
