"""One day at the bench: what the sheets have of it, and nothing of another day."""

import csv
import io
import time
from collections.abc import Iterable
from decimal import Decimal
from pathlib import Path

import pytest
from msgspec import structs

from station.audit.batch import batch_sheet
from station.audit.sheets import sheets_of
from station.batch import events as ev
from station.batch.state import Station
from station.ledger.asking import asked
from station.ledger.book import Book, read_events
from station.ledger.reading import open_reader
from station.ledger.records import Recorded
from tests.audit.asking import ask, told
from tests.audit.kitchen_record import append_batch, by_hand
from tests.benchside import RING
from tests.ledger.ledgers import AT, BORN, copied, opened


def test_a_day_has_the_batches_that_were_worked_on_with_what_their_sheets_say(kept: Path) -> None:
    found = told(kept, "day", "2026-11-30")
    assert [batch["batch"] for batch in found["batches"]] == ["261130-1", "261130-2"]
    for batch in found["batches"]:
        sheet = told(kept, "batch", batch["batch"])
        weighed = [row for row in sheet["additions"] if row["at"]]
        assert batch["additions"] == weighed
        assert batch["warnings"] == sheet["warnings"]
        assert (batch["salt_pct"], batch["opened"]) == (sheet["salt_percent"]["actual"], True)


def test_the_text_has_the_void_the_figure_by_hand_and_the_ends(kept: Path) -> None:
    text = ask(kept, "day", "2026-11-30").stdout
    assert "2026-11-30: 2 batches were worked on  SIMULATED" in text
    assert "08:00:14+00:00 salt: wet, says Ansel" in text
    assert "garlic: BY HAND, the cable is torn (Ansel and Brida)" in text
    assert "closed by Ansel, naming pepper" in text
    assert "MORE WENT IN, nobody knows how much" in ask(kept, "day", "2026-12-01").stdout


def test_a_batch_that_goes_over_midnight_is_on_both_days_each_with_its_own(
    kept: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """261203-6 begins at 23:00:01; midnight of this zone is 23:00:10."""
    monkeypatch.setenv("TZ", "XXX-0:59:50")
    time.tzset()
    try:
        first, second = (told(kept, "day", day) for day in ("2026-12-03", "2026-12-04"))
    finally:
        monkeypatch.undo()
        time.tzset()
    (one,) = first["batches"]
    (two,) = [batch for batch in second["batches"] if batch["batch"] == "261203-6"]
    assert (one["opened"], two["opened"]) == (True, False)
    assert [row["name"] for row in one["additions"]] == ["salt"]
    assert [row["name"] for row in two["additions"]] == ["premix", "pepper", "garlic"]
    assert not any(row["kind"] == "closed" for row in one["warnings"])
    assert [row["kind"] for row in two["warnings"]] == ["closed"]


def test_what_befell_the_ledger_is_told_once_for_the_day_and_notes_with_it(tmp_path: Path) -> None:
    path = tmp_path / "a.ledger"
    book = Book.open(path, BORN, AT)
    append_batch(book, "b-1", "2026-11-30T10", RING, by_hand)
    repair = ev.LedgerRepaired("addition 2 is another", "t.ledger.found-1", "dd")
    book.append([(None, repair)], "2026-11-30T11:00:00.000Z")
    book.append([(None, ev.Noted("the floor was wet", "Brida"))], "2026-11-30T11:00:01.000Z")
    book.append([(None, ev.Noted("dry again", "Brida"))], "2026-12-01T11:00:01.000Z")
    book.close()
    found = told(path, "day", "2026-11-30")
    assert [row["kind"] for row in found["bench"]] == ["ledger repaired"]
    assert not any(row["kind"] == "ledger repaired" for row in found["batches"][0]["warnings"])
    assert [note["text"] for note in found["notes"]] == ["the floor was wet"]
    text = ask(path, "day", "2026-11-30").stdout
    assert text.count("were made anew") == 1
    assert "the floor was wet (Brida)" in text


def test_a_day_without_a_batch_says_which_days_there_are(kept: Path) -> None:
    found = told(kept, "day", "2020-01-01")
    assert (found["batches"], found["answer"]) == ([], "2020-01-01: 0 batches were worked on")
    assert found["next"].startswith("7 batches are on record, opened from 2026-11-30 to 2026-12-04")
    assert "next: 7 batches are on record" in ask(kept, "day", "2020-01-01").stdout


def test_a_day_that_is_none_ends_in_a_sentence(kept: Path) -> None:
    result = ask(kept, "day", "yesterday")
    assert (result.exit_code, "found 'yesterday', expected a day" in result.stderr) == (2, True)


def test_csv_has_a_row_an_addition(kept: Path) -> None:
    rows = list(csv.DictReader(io.StringIO(ask(kept, "day", "2026-12-01", "--csv").stdout)))
    assert [(row["batch"], row["name"], row["actual_g"]) for row in rows] == [
        ("261201-3", "salt", "215.9"),
        ("261201-3", "premix", "23.9"),
    ]
    assert rows[0]["unknown_more"].startswith("Ansel, 2026")


def test_sheets_of_many_are_the_sheets_of_each(tmp_path: Path, kept: Path) -> None:
    """What befell the ledger and the bench between, and after a batch had ended, is on them too."""
    path = copied(kept, tmp_path)
    book = opened(path)
    repaired = ev.LedgerRepaired("addition 2 is another", "kept.ledger.found", "dd")
    lost = ev.LossAccepted("aa", 300, "bb", 200, "cc")
    book.append([(None, repaired), (None, lost), (None, ev.PersonCame(who="Brida"))], AT)
    book.append([("261204-7", ev.Noted("after it", "Ansel"))], AT)
    book.close()
    with asked(path) as ledger:
        names = [row["batch"] for row in ledger.batches()]
        many = dict(zip(names, sheets_of(ledger, names), strict=True))
    with open_reader(path) as db:
        for name in names:
            one = batch_sheet(read_events(db), name)
            place = {"events": one.events, "head": one.head, "code": one.code}
            same = structs.replace(many[name], **place)
            assert same == one
    assert [row.kind for row in many["261130-1"].warnings][-1] == "ledger repaired"
    assert {"loss accepted", "ledger repaired"} <= {r.kind for r in many["261204-7"].warnings}
    assert "loss accepted" not in {row.kind for row in many["261130-1"].warnings}


def test_a_sheet_begins_with_the_bench_as_it_was_when_its_batch_was_opened(
    kept: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was recorded before is folded already, what came after is among its events."""
    path = copied(kept, tmp_path)
    book = opened(path)
    cup = ev.VesselRecorded("cup 9", "fine", Decimal("0.1"), Decimal(90), "", None)
    between = ev.VesselRecorded("cup 8", "fine", Decimal("0.1"), Decimal(80), "", None)
    book.append([(None, between)], AT)
    book.append([("261204-7", ev.Abandoned("meanwhile", "Ansel"))], AT)
    book.append([(None, cup)], AT)
    append_batch(book, "261205-8", "2026-12-05T08", RING, by_hand)
    book.close()
    found: dict[str, tuple[set[str], list[str]]] = {}

    def seen(records: Iterable[Recorded], name: str, bench: Station) -> str:
        vessels = [one.event for one in records if isinstance(one.event, ev.VesselRecorded)]
        found[name] = (set(bench.vessels), [vessel.name for vessel in vessels])
        return name

    monkeypatch.setattr("station.audit.sheets.batch_sheet", seen)
    with asked(path) as ledger:
        wanted = ["261205-8", "261130-1", "261204-7"]
        assert sheets_of(ledger, wanted) == wanted, "in the order in which they were asked for"
    before = set(found["261130-1"][0])
    assert "cup 1" in before and found["261130-1"] == (before, [])
    assert found["261204-7"] == (before, ["cup 8"]), "what came once it had ended is not its own"
    assert found["261205-8"] == ({*before, "cup 8", "cup 9"}, [])
