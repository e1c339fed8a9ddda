"""A recall, both ways: all that holds a lot, all that is in a batch, and what is not known."""

import csv
import io
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from station.audit.recall import recall, sources
from station.audit.trace import trace
from station.cli import recalls
from station.ledger.book import Book
from station.ledger.tables import Row
from station.weighing import commands as do
from tests.audit.asking import ask, told
from tests.audit.kitchen_record import BATCHES, append_batch, seasoned
from tests.audit.test_sheet import sheet_of
from tests.benchside import NITRITE, RING, Bench
from tests.ledger.ledgers import AT, BORN

BATCH_NAMES = [batch for batch, *_ in BATCHES]


def test_a_recall_names_every_batch_with_its_meat_as_the_trace_does(kept: Path) -> None:
    found = told(kept, "recall", "P-41")
    traced = told(kept, "lot", "P-41")
    assert [row["batch"] for row in found["affected"]] == [
        row["batch"] for row in traced["batches"]
    ]
    listed = {row["batch"]: row for row in told(kept, "list")["batches"]}
    for row in found["affected"]:
        same = ("formula", "revision", "state", "meat_g", "opened_at")
        assert {key: row[key] for key in same} == {key: listed[row["batch"]][key] for key in same}
    assert found["meat_g"] == "48000" and all(row["sure"] for row in found["affected"])
    assert found["answer"] == traced["answer"] == "lot P-41 was weighed into 4 batches"
    assert float(found["took_s"]) >= 0


def test_what_nobody_knows_is_said_beside_what_was_weighed(kept: Path) -> None:
    (row,) = told(kept, "recall", "P-42")["affected"]
    assert (row["actual_g"], row["more"]) == (
        "23.9", ["premix: more went in, nobody knows how much"],
    )  # fmt: skip
    text = ask(kept, "recall", "P-42").stdout
    assert "261201-3 premix: more went in" in text


def test_two_lines_from_one_lot_are_one_batch(kept: Path) -> None:
    (row,) = told(kept, "recall", "G-118")["affected"]
    assert (row["lines"], row["actual_g"]) == (["pepper", "garlic"], "95.8")


def test_a_lot_that_was_never_weighed_holds_nothing_and_is_known(kept: Path) -> None:
    found = told(kept, "recall", "B-7")
    assert (found["affected"], found["meat_g"]) == ([], "0")
    assert "nothing holds it" in found["answer"]


def test_where_it_went_and_what_is_left_are_not_made_up(kept: Path) -> None:
    found = told(kept, "recall", "P-41")
    assert "is on no record" in found["went"] and "is not known" in found["left"]
    text = " ".join(ask(kept, "recall", "P-41").stdout.split())
    assert found["went"] in text and found["left"] in text and "the search took" in text


def test_a_lot_that_is_not_on_record_names_what_looks_like_it(kept: Path) -> None:
    result = ask(kept, "recall", "P 41")
    assert (result.exit_code, "P-41 looks like it" in result.stderr) == (2, True)


def test_csv_has_a_row_a_batch(kept: Path) -> None:
    rows = list(csv.DictReader(io.StringIO(ask(kept, "recall", "P-41", "--csv").stdout)))
    assert [row["actual_g"] for row in rows] == ["23.9", "23.9", "23.85", "24"]


def test_backward_every_lot_and_what_had_none(kept: Path) -> None:
    found = told(kept, "origin", "261130-2")
    rows = {(row["line"], row["lot"]): row["weighed_g"] for row in found["sources"]}
    assert rows == {
        ("pork", None): "12000", ("salt", None): "216.9", ("premix", "P-41"): "23.9",
        ("pepper", "B-7"): None, ("garlic", None): "61",
    }  # fmt: skip
    assert found["answer"] == "batch 261130-2: 2 lots, 3 lines weighed with no lot told"


def test_backward_every_source_is_found_forward_again(kept: Path) -> None:
    for batch in ("261130-1", "261201-3", "261202-5"):
        for row in told(kept, "origin", batch)["sources"]:
            if row["lot"] and row["weighed_g"]:
                held = {use["batch"] for use in told(kept, "recall", row["lot"])["affected"]}
                assert batch in held


def delivered(bench: Bench) -> None:
    bench.open()
    bench.say(do.NameMeatLot("pork", "B-118", "Orrin Farm", None, "2026-12-04", today="2026-11-30"))
    bench.weigh_meat()
    bench.say(do.OpenLot("premix", "P-41", NITRITE, "2027-03-31", "2026-11-30"))
    seasoned(bench)


def test_deliveries_and_their_suppliers_are_among_the_sources(tmp_path: Path) -> None:
    path = tmp_path / "new.ledger"
    book = Book.open(path, BORN, AT)
    append_batch(book, "261130-1", "2026-11-30T08", RING, delivered)
    book.close()
    first = told(path, "origin", "261130-1")["sources"][0]
    assert (first["line"], first["meat"], first["lot"]) == ("pork", True, "B-118")
    assert (first["supplier"], first["expires"]) == ("Orrin Farm", "2026-12-04")
    assert told(path, "recall", "B-118")["suppliers"] == ["Orrin Farm"]
    assert "supplier: Orrin Farm" in ask(path, "recall", "B-118").stdout


def test_more_of_what_had_no_lot_is_an_unknown_source() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.say(do.Tip("salt", more=True))
    (salt,) = [row for row in sources(sheet_of(bench), []) if row.line == "salt"]
    assert (salt.lot, salt.weighed_g) == (None, "215.9")
    assert salt.more is not None and "nobody knows how much" in salt.more


@pytest.mark.parametrize(
    ("told", "more"),
    [
        ({}, None),
        ({"unknown_more": "Ansel, then"}, "more went in, nobody knows how much (Ansel, then)"),
        ({"doubt_text": "3.5"}, "3.5 g more may be in"),
        ({"refused": "2026-01-31"}, "refused, past its date 2026-01-31"),
        ({"doubt_text": "2", "refused": "2026-01-31"},
         "2 g more may be in; refused, past its date 2026-01-31"),
    ],
)  # fmt: skip
def test_backward_what_is_not_known_of_a_lot_is_told(told: Row, more: str | None) -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    rows = [lot_row("b-1", line="salt", actual_text="215.9", **told)]
    found = [row for row in sources(sheet_of(bench), rows) if row.line == "salt"]
    assert [(row.lot, row.weighed_g, row.more) for row in found] == [("P-9", "215.9", more)]


def test_backward_an_amount_that_only_nobody_knows_is_not_called_nothing() -> None:
    sheet = sheet_of(Bench().begin())
    salt = next(row for row in sheet.additions if row.name == "salt")
    unknown = replace(salt, actual_g=None, unknown_more="Ansel, then")
    (found,) = sources(replace(sheet, meat=(), additions=(unknown,)), [])
    assert (found.lot, found.weighed_g) == (None, None)
    assert found.more == "more went in, nobody knows how much (Ansel, then)"
    (beside,) = sources(replace(sheet, meat=(), additions=(replace(unknown, actual_g="5"),)), [])
    assert beside.weighed_g == "5"


@pytest.mark.parametrize("name", ["2611302", "none"])
def test_a_batch_that_is_not_on_record_names_some(kept: Path, name: str) -> None:
    result = ask(kept, "origin", name)
    assert (result.exit_code, f"no batch '{name}' is on record" in result.stderr) == (2, True)
    assert "next: 261130-2" in result.stderr or "261204-7" in result.stderr


def lot_row(batch: str, **more: Any) -> Row:
    """A row as `Asked.lot` gives it."""
    return {
        "batch": batch, "line": "premix", "lot": "P-9", "expires": None, "strengths": "[]",
        "refused": None, "actual_text": None, "unknown_more": None, "doubt_text": None, "at": None,
        "supplier": None, "packed": None, "state": "closed", "opened_at": f"2026-11-30T0{batch}",
        **more,
    }  # fmt: skip


def batch_row(batch: str) -> Row:
    return {
        "batch": batch, "formula": "ring", "revision": 1, "opened_at": f"2026-11-30T0{batch}",
        "state": "closed", "meat_text": "1000",
    }  # fmt: skip


def test_a_batch_that_may_hold_it_is_named_and_not_sure() -> None:
    at = "2026-11-30T08"
    rows = [
        lot_row("1", doubt_text="3.5"),
        lot_row("2", unknown_more="Ansel, then", at=at),
        lot_row("2", line="salt", actual_text="9", at=at),
        lot_row("3"),
    ]
    found = recall(trace("P-9", rows, ["P-9"]), rows, map(batch_row, "1234"))
    assert [(one.batch, one.sure, one.actual_g, one.more) for one in found.affected] == [
        ("1", False, None, ("premix: 3.5 g more may be in",)),
        ("2", True, "9", ("premix: more went in, nobody knows how much",)),
    ]
    assert found.meat_g == "2000"


def test_more_of_it_than_nothing_makes_a_batch_sure() -> None:
    """Nobody weighed any of it, and one line says that some went in."""
    at = "2026-11-30T08"
    rows = [lot_row("1", unknown_more="Ansel, then", at=at), lot_row("1", line="x", doubt_text="2")]
    (one,) = recall(trace("P-9", rows, ["P-9"]), rows, [batch_row("1")]).affected
    assert (one.sure, one.actual_g) == (True, None)


def test_meat_is_told_from_additions_with_a_lot_or_without(kept: Path, tmp_path: Path) -> None:
    rows = {row["line"]: row["meat"] for row in told(kept, "origin", "261130-2")["sources"]}
    assert rows == {"pork": True, "salt": False, "premix": False, "pepper": False, "garlic": False}


def test_batches_that_hold_the_line_with_no_lot_told_are_named(kept: Path, tmp_path: Path) -> None:
    """The garlic of 261130-1 has a lot; in the other batches nobody told one."""
    found = told(kept, "recall", "G-118")
    origins = {batch: told(kept, "origin", batch)["sources"] for batch in BATCH_NAMES}
    for one in found["unnamed"]:
        assert one["batches"] == [
            batch for batch, rows in origins.items()
            if any((row["line"], row["lot"]) == (one["line"], None) for row in rows)
        ]  # fmt: skip
    assert {one["line"] for one in found["unnamed"]} == {"garlic", "pepper"}
    text = " ".join(ask(kept, "recall", "G-118").stdout.split())
    assert "garlic with no lot told, so it may be of this one, is in: 261130-2, 261202-5" in text
    page = tmp_path / "recall.html"
    ask(kept, "recall", "G-118", "--html", str(page))
    assert "garlic was weighed with no lot told, so it may be of this one, in" in page.read_text()
    assert told(kept, "recall", "P-41")["unnamed"] == []


def test_of_many_batches_with_no_lot_told_the_text_names_some(
    kept: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(recalls, "NAMED", 1)
    text = " ".join(ask(kept, "recall", "G-118").stdout.split())
    (garlic,) = [one for one in told(kept, "recall", "G-118")["unnamed"] if one["line"] == "garlic"]
    rest = len(garlic["batches"]) - 1
    assert f"is in: {garlic['batches'][0]} and {rest} more, all of them in --json" in text


def test_a_line_that_was_weighed_in_part_with_no_lot_is_one_of_them() -> None:
    rows = [lot_row("1", actual_text="10", at="2026-11-30T08")]
    found = recall(
        trace("P-9", rows, ["P-9"]), rows, [batch_row("1")], (), lambda line: [f"{line} b-7"]
    )
    assert [(one.line, one.batches) for one in found.unnamed] == [("premix", ("premix b-7",))]


def test_a_lot_in_two_lines_of_which_one_is_written_down_says_so_of_the_other(
    kept: Path, tmp_path: Path
) -> None:
    text = '[[came]]\nline = "garlic"\nlot = "G-118"\namount = "1 kg"\n'
    left = told(kept, "recall", "G-118", "--config", str(came(tmp_path, text)))["left"]
    assert "g of garlic, less what was voided" in left
    assert "pepper: not known, stock.toml does not say what came for that line" in left


def came(folder: Path, text: str) -> Path:
    """A configuration whose stock.toml says what came."""
    (folder / "stock.toml").write_text(text)
    return folder


P_41 = '[[came]]\nline = "premix"\nlot = "P-41"\namount = "{amount}"\nexpires = "2027-05-31"\n'


@pytest.mark.parametrize(
    ("amount", "left"),
    [
        ("150 g", "at most 54.35 g of premix, less what was voided, spilt or given away"),
        ("95.65 g", "at most 0 g of premix, less what was voided, spilt or given away"),
        ("95.6 g", "0.05 g more of premix were weighed than stock.toml says came: look on the"),
    ],
)
def test_what_is_left_of_a_recalled_lot_is_told_where_it_is_written_down_what_came(
    kept: Path, tmp_path: Path, amount: str, left: str
) -> None:
    """P-41 went into four batches: 23.9, 23.9, 23.85 and 24 g."""
    folder = came(tmp_path, P_41.format(amount=amount))
    found = told(kept, "recall", "P-41", "--config", str(folder))
    assert found["left"].startswith(left)
    (row,) = found["stock"]
    assert (row["weighed_g"], row["batches"]) == ("95.65", 4)
    page = folder / "recall.html"
    ask(kept, "recall", "P-41", "--config", str(folder), "--html", str(page))
    assert left in page.read_text()


def test_another_lot_that_came_says_nothing_of_this_one(kept: Path, tmp_path: Path) -> None:
    folder = came(tmp_path, P_41.format(amount="1 kg"))
    assert "is not known" in told(kept, "recall", "P-42", "--config", str(folder))["left"]


def test_a_lot_that_came_and_was_never_told_at_the_bench_is_taken_off_the_shelf(
    kept: Path, tmp_path: Path
) -> None:
    folder = came(tmp_path, P_41.format(amount="1 kg").replace("P-41", "P-77"))
    found = told(kept, "recall", "P-77", "--config", str(folder))
    assert found["answer"] == (
        "lot P-77 came, by stock.toml, and was never told at the bench: nothing holds it"
    )
    assert (found["next"], found["affected"]) == ("take it off the shelf", [])
    assert found["left"].startswith("at most 1000 g of premix")
    text = ask(kept, "recall", "P-77", "--config", str(folder)).stdout
    assert "take it off the shelf" in text and "at most 1000 g" in text


def test_a_broken_stock_file_ends_in_a_sentence(kept: Path, tmp_path: Path) -> None:
    folder = came(tmp_path, "[[came]]\nline = 5\n")
    result = ask(kept, "recall", "P-41", "--config", str(folder))
    assert result.exit_code == 2 and "stock.toml" in result.stderr
