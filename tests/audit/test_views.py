"""One formula, one person, one scale over time."""

import csv
import io
from decimal import Decimal
from pathlib import Path

import pytest

from station.audit.pours import pour_report
from station.batch import events as ev
from station.ledger.book import Book
from station.ledger.records import Recorded, linked
from station.weighing import commands as do
from tests.audit.asking import ask, told
from tests.audit.kitchen_record import append_batch, begun
from tests.audit.test_product import PRICED, story
from tests.benchside import RING, Bench
from tests.ledger.ledgers import AT, BORN

VIEWS = (("formula", "test ring"), ("person", "Brida"), ("scale", "fine"))


def test_a_formula_has_its_revisions_and_what_differs(kept: Path) -> None:
    found = told(kept, "formula", "test ring")
    first, second = found["revisions"]
    assert (first["revision"], first["batches"], first["first_batch"]) == (1, 5, "261130-1")
    assert (second["revision"], second["batches"], second["first_batch"]) == (2, 2, "261203-6")
    assert [one["changes"] for one in (first, second)] == [[], ["salt: 18 g, then 19 g"]]


def test_salt_and_ingoing_of_each_batch_are_those_of_its_sheet(kept: Path) -> None:
    for row in told(kept, "formula", "test ring")["batches"]:
        sheet = told(kept, "batch", row["batch"])
        salt, (nitrite,) = sheet["salt_percent"], sheet["limits"]
        assert (row["salt_pct"], row["salt_at_least"]) == (salt["actual"], salt["at_least"])
        (agents,) = row["ingoing"]
        assert (agents["actual"], agents["at_least"]) == (nitrite["actual"], nitrite["at_least"])


def test_no_statistic_has_an_amount_that_nobody_knows(kept: Path) -> None:
    found = told(kept, "formula", "test ring")
    for series in (*found["salt"], *found["ingoing"]):
        assert "261201-3" not in {point["batch"] for point in series["points"]}
        assert {row["batch"] for row in series["left_out"]} == {"261201-3", "261201-4", "261204-7"}


def test_a_formula_in_days_compares_the_revisions_of_those_days(kept: Path) -> None:
    found = told(kept, "formula", "test ring", "--from", "2026-12-03")
    assert [one["changes"] for one in found["revisions"]] == [[]]
    assert len(found["batches"]) == 2


def test_a_person_is_named_for_what_they_opened_weighed_decided_and_saw(kept: Path) -> None:
    brida = told(kept, "person", "Brida")
    assert {(row["batch"], row["kind"], row["line"]) for row in brida["entries"]} == {
        ("261130-2", "by hand", "garlic"), ("261202-5", "lot", "premix"),
    }  # fmt: skip
    assert all(row["text"].startswith("seen: ") for row in brida["entries"])
    ansel = told(kept, "person", "Ansel")
    weighed = [row for row in ansel["entries"] if row["kind"] == "weighed"]
    assert (ansel["counts"]["opened"], ansel["counts"]["weighed"]) == (7, len(weighed))
    assert "because: wet" in " ".join(row["text"] for row in ansel["entries"])
    times = [row["at"] for row in ansel["entries"]]
    assert times == sorted(times)


def test_what_was_weighed_on_a_scale_is_what_the_sheets_say(kept: Path) -> None:
    found = told(kept, "scale", "fine")
    entries = {(r["batch"], r["line"]): r for r in found["entries"] if r["kind"] == "weighed"}
    for batch in ("261130-1", "261202-5"):
        for row in told(kept, "batch", batch)["additions"]:
            if row["scale"] == "fine":
                entry = entries[batch, row["name"]]
                assert (entry["actual_g"], entry["difference_pct"]) == (
                    row["actual_g"], row["difference_percent"],
                )  # fmt: skip
    assert found["counts"]["vessel"] == 3
    more = entries["261201-3", "salt"]
    assert "nobody knows how much" in more["text"] and more["difference_pct"] is None
    assert "BY HAND" in entries["261130-2", "garlic"]["text"]


def test_loads_of_meat_are_on_their_scale(kept: Path) -> None:
    found = told(kept, "scale", "bench")
    assert [row["actual_g"] for row in found["entries"] if row["kind"] == "meat"] == ["12000"] * 7


@pytest.mark.parametrize("words", VIEWS, ids=" ".join)
def test_days_without_anything_say_which_days_there_are(kept: Path, words: tuple[str, str]) -> None:
    found = told(kept, *words, "--from", "2030-01-01")
    assert found["next"].startswith("7 batches are on record, opened from 2026-11-30")
    result = ask(kept, *words, "--from", "2030-01-01")
    assert (result.exit_code, "next: 7 batches are on record" in result.stdout) == (0, True)


@pytest.mark.parametrize(
    ("words", "near"),
    [
        (("formula", "test rang"), "one of test ring"),
        (("person", "brida"), "one of Brida"),
        (("scale", "Fine"), "one of fine"),
    ],
)
def test_an_unknown_name_names_those_that_look_like_it(
    kept: Path, words: tuple[str, str], near: str
) -> None:
    result = ask(kept, *words)
    assert (result.exit_code, near in result.stderr) == (2, True)


def test_a_ledger_without_a_batch_says_how_to_begin_one(tmp_path: Path) -> None:
    path = tmp_path / "new.ledger"
    Book.open(path, BORN, AT).close()
    for words in VIEWS:
        result = ask(path, *words)
        assert (result.exit_code, "station open begins one" in result.stderr) == (2, True)


@pytest.mark.parametrize("words", VIEWS, ids=" ".join)
def test_csv_has_what_json_has(kept: Path, words: tuple[str, str]) -> None:
    found = told(kept, *words)
    rows = list(csv.DictReader(io.StringIO(ask(kept, *words, "--csv").stdout)))
    every = found.get("entries") or [part for row in found["batches"] for part in row["ingoing"]]
    assert len(rows) == len(every) and {row["simulated"] for row in rows} == {"SIMULATED"}


def test_pours_that_ended_badly_stand_beside_the_others(kept: Path) -> None:
    found = told(kept, "pours")
    badly = {row["addition"]: row for row in found["badly"]}
    assert (badly["salt"]["voided"], badly["salt"]["unaccepted"]) == (1, 1)
    assert badly["premix"]["unaccepted"] == 1
    assert "ended badly" in ask(kept, "pours").stdout
    assert told(kept, "pours", "--from", "2026-12-02")["badly"] == []


def poured(said: str | None, ended: str) -> Recorded:
    """A pour that was accepted, its upper limit 19 g."""
    event = ev.PourEnded(
        "salt", "fine", None if said is None else Decimal(said), Decimal(2), False, Decimal(ended),
        Decimal(19), "Ansel",
    )  # fmt: skip
    (record,) = linked(0, bytes(32), [("b-1", event)], AT)
    return record


@pytest.mark.parametrize(
    ("said", "ended", "stops", "in_time", "beyond"),
    [
        ("18", "18.6", 1, 1, "0.6"), ("18", "19", 1, 1, "1"), ("18", "19.05", 1, 0, "1.05"),
        ("19", "19", 1, 1, "0"), ("19.05", "18", 0, 0, None), (None, "18", 0, 0, None),
    ],
)  # fmt: skip
def test_a_stop_that_was_shown_while_too_much_was_taken_out_is_none(
    said: str | None, ended: str, stops: int, in_time: int, beyond: str | None
) -> None:
    """What ran in before that is told among the pours that ended badly."""
    ((row,), _) = pour_report([poured(said, ended)])
    assert (row.pours, row.stops, row.in_time) == (1, stops, in_time)
    assert (row.beyond_most_g, row.beyond_mean_g) == (beyond, beyond)


def two_hands(bench: Bench) -> None:
    """Ansel weighs the salt; Brida says that more went in, parks the batch and closes another."""
    begun(bench)
    bench.add("salt", "cup 3", "216")
    bench.say(do.Who("Brida", ("Ansel", "Brida")))
    bench.say(do.Tip("salt", more=True))
    bench.say(do.Park())


@pytest.fixture(name="shared", scope="module")
def _shared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("shared") / "shared.ledger"
    book = Book.open(path, BORN, AT)
    append_batch(book, "261130-1", "2026-11-30T08", RING, two_hands)
    book.close()
    return path


def test_each_load_stands_with_who_weighed_it(shared: Path) -> None:
    weighed = {
        name: [row for row in told(shared, "person", name)["entries"] if row["line"] == "salt"]
        for name in ("Ansel", "Brida")
    }
    assert [(row["kind"], row["actual_g"]) for row in weighed["Ansel"]] == [("weighed", "215.9")]
    assert weighed["Ansel"][0]["text"].startswith("load 1 of 2; all together: unaccepted")
    first = weighed["Brida"][0]
    assert (first["actual_g"], first["text"][:11]) == (None, "load 2 of 2")
    on_scale = told(shared, "scale", "fine")["entries"]
    assert [row["actual_g"] for row in on_scale if row["line"] == "salt"] == ["215.9"]


def test_ordinary_work_is_a_person_s_too_and_a_decision_is_told_once(
    shared: Path, kept: Path
) -> None:
    kinds = [row["kind"] for row in told(shared, "person", "Brida")["entries"]]
    assert "parked" in kinds
    closed = [row for row in told(kept, "person", "Ansel")["entries"]
              if row["batch"] == "261130-2" and "close" in row["kind"]]  # fmt: skip
    assert [row["kind"] for row in closed] == ["named at close"]
    plain = [row["kind"] for row in told(kept, "person", "Ansel")["entries"]
             if row["batch"] == "261203-6"]  # fmt: skip
    assert plain.count("closed") == 1


def test_a_sheet_tells_each_load_where_there_are_several_and_one_that_still_stands(
    shared: Path, kept: Path
) -> None:
    text = " ".join(ask(shared, "batch", "261130-1").stdout.split())
    assert "load 1: 215.9 g, in the mix, fine," in text
    assert "load 2: an unknown amount, in the mix, no scale," in text and "lot none told" in text
    stands = " ".join(ask(kept, "batch", "261204-7").stdout.split())
    assert "load 1: 24 g, still stands in cup 2, fine," in stands and "lot P-41" in stands
    assert "load 1" not in ask(kept, "batch", "261202-5").stdout


def test_a_page_tells_the_loads_too(shared: Path, kept: Path, tmp_path: Path) -> None:
    for ledger, batch, says in (
        (shared, "261130-1", "salt, load 2: an unknown amount, in the mix, no scale, Brida"),
        (kept, "261204-7", "premix, load 1: 24 g, still stands in cup 2, fine, Ansel"),
    ):
        file = tmp_path / f"{batch}.html"
        assert ask(ledger, "batch", batch, "--html", str(file)).exit_code == 0
        assert says in file.read_text()


def test_what_is_counted_on_a_scale_is_among_its_entries(tmp_path: Path) -> None:
    path = tmp_path / "counted.ledger"
    book = Book.open(path, BORN, AT)
    append_batch(book, "261130-1", "2026-11-30T08", PRICED, story)
    book.close()
    entries = told(path, "scale", "fine")["entries"]
    assert [row["text"] for row in entries if row["kind"] == "count"] == [
        "links are counted", "400 g, fridge, use by 2026-12-04 are counted",
    ]  # fmt: skip
