"""Where a lot went: what was weighed, what nobody knows, what was refused or never used."""

import csv
import io
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from station.audit.trace import trace
from station.batch import events as ev
from station.cli.paper import print_csv
from station.ledger.book import Book
from station.weighing import commands as do
from tests.audit.asking import ask, told
from tests.audit.kitchen_record import append_batch, begun
from tests.benchside import CUPS, NITRITE, RING, Bench
from tests.ledger.ledgers import AT, BORN


def uses(found: dict[str, Any]) -> list[tuple[str, str, str | None]]:
    return [(use["batch"], use["line"], use["actual_g"]) for use in found["batches"]]


def test_every_batch_that_a_lot_went_into_is_named_with_its_amount(kept: Path) -> None:
    found = told(kept, "lot", "P-41")
    assert (found["lot"], found["line"], found["expires"]) == ("P-41", "premix", "2027-03-31")
    assert uses(found) == [
        ("261130-1", "premix", "23.9"),
        ("261130-2", "premix", "23.9"),
        ("261203-6", "premix", "23.85"),
        ("261204-7", "premix", "24"),
    ]
    assert found["answer"] == "lot P-41 was weighed into 4 batches"
    (line,) = found["lines"]
    assert (line["actual_g"], line["at_least"], line["unused"]) == ("95.65", False, [])
    assert line["strengths"] == [{"salt": "93.75", "sodium nitrite": "6.25"}]


@pytest.mark.parametrize("lot", ["P-41", "P-42", "P-43", "G-118"])
def test_the_amounts_are_those_of_the_batch_sheets_backward_and_forward(
    kept: Path, lot: str
) -> None:
    found = told(kept, "lot", lot)
    assert found["batches"]
    for use in found["batches"]:
        sheet = told(kept, "batch", use["batch"])
        (row,) = [row for row in sheet["additions"] if row["name"] == use["line"]]
        keys = ("lot", "actual_g", "at", "unknown_more")
        assert [row[key] for key in keys] == [lot, *(use[key] for key in keys[1:])]


def test_an_amount_that_nobody_knows_stands_in_a_field_of_its_own(kept: Path) -> None:
    found = told(kept, "lot", "P-42")
    (use,) = found["batches"]
    assert (use["actual_g"], use["unknown_more"]) == ("23.9", "Ansel, 2026-12-01T08:00:19.000Z")
    assert found["lines"][0]["at_least"]
    text = ask(kept, "lot", "P-42").stdout
    assert "premix: at least 23.9 g weighed" in text
    assert "261201-3 premix: MORE WENT IN, nobody knows how much (Ansel," in text


def test_where_only_an_unknown_amount_went_in_the_figure_is_null_not_nothing(
    tmp_path: Path,
) -> None:
    def more_alone(bench: Bench) -> None:
        begun(bench, "P-50")
        bench.say(do.Tip("premix", more=True))

    path = one_batch(tmp_path, more_alone)
    (use,) = told(path, "lot", "P-50")["batches"]
    assert (use["actual_g"], use["unknown_more"] is not None) == (None, True)


def one_batch(folder: Path, story: Any) -> Path:
    path = folder / "one.ledger"
    book = Book.open(path, BORN, AT)
    append_batch(book, "b-1", "2026-11-30T10", RING, story)
    book.close()
    return path


def test_what_was_thrown_away_unproved_may_be_in_the_mix(tmp_path: Path) -> None:
    """One person alone says where a cure went: a recall must name that batch."""

    def doubted(bench: Bench) -> None:
        begun(bench, "P-51")
        bench.add("salt", "cup 3", "216")
        bench.pour("cup 2", "20")
        bench.say(do.Void("premix", "from a wet bag"))
        bench.lift()
        bench.show("fine", CUPS["cup 2"])
        bench.show("fine", "0")
        bench.say(do.OpenLot("premix", "P-52", NITRITE, None, "2026-11-30"))

    path = one_batch(tmp_path, doubted)
    found = told(path, "lot", "P-51")
    (use,) = found["batches"]
    assert (use["actual_g"], Decimal(use["may_be_in_g"])) == (None, Decimal(20))
    assert found["answer"] == "lot P-51 may be in 1 where nobody saw where it went"
    assert "20 g more may be in, nobody saw where it went" in ask(path, "lot", "P-51").stdout
    assert told(path, "lot", "P-52")["batches"] == []


def test_a_code_that_is_on_the_bags_of_two_lines_is_shown_for_both(kept: Path) -> None:
    found = told(kept, "lot", "G-118")
    assert uses(found) == [("261130-1", "pepper", "35.9"), ("261130-1", "garlic", "59.9")]
    assert (found["line"], found["expires"]) == ("garlic, pepper", "2027-01-15")
    assert [(line["line"], line["expires"]) for line in found["lines"]] == [
        ("garlic", "2027-01-15"),
        ("pepper", None),
    ]


def test_every_strength_that_was_told_of_a_lot_is_shown(kept: Path) -> None:
    (line,) = told(kept, "lot", "P-43")["lines"]
    assert [one["sodium nitrite"] for one in line["strengths"]] == ["6.2", "6.25"]
    text = " ".join(ask(kept, "lot", "P-43").stdout.split())
    assert "sodium nitrite 6.2 %, before that as salt 93.75 % and sodium nitrite 6.25 %" in text


def test_a_lot_that_was_refused_says_for_what_and_what_to_look_at(kept: Path) -> None:
    found = told(kept, "lot", "P-30")
    assert (found["batches"], found["expires"]) == ([], "2026-10-31")
    assert found["lines"][0]["refused"] == {"261201-4": "2026-10-31"}
    assert found["lines"][0]["unused"] == []
    what = "lot P-30 was refused for batch 261201-4, past its date 2026-10-31: nothing holds it"
    assert found["answer"] == what
    assert found["next"] == "station audit batch 261201-4 says what was used in its place"


def test_a_lot_that_was_opened_and_never_used_says_so(kept: Path) -> None:
    found = told(kept, "lot", "P-44")
    assert (found["batches"], found["lines"][0]["unused"]) == ([], ["261201-4"])
    assert found["answer"] == (
        "lot P-44 was opened for 261201-4 and never weighed: nothing holds it"
    )
    assert "opened and not weighed for 261201-4" in ask(kept, "lot", "P-44").stdout


def test_a_lot_that_is_not_known_names_those_that_look_like_it(kept: Path) -> None:
    found = told(kept, "lot", "p-41", status=2)
    assert (found["batches"], found["line"], found["known"]) == ([], None, False)
    assert found["next"] == "read the code again: P-41 looks like it"
    result = ask(kept, "lot", "Z999999")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "no lot 'Z999999' is on record" in result.stderr
    assert "7 lots are on record" in result.stderr


def test_a_bag_sent_back_for_its_strength_is_found_in_the_refusal(tmp_path: Path) -> None:
    """No event names its lot but the sentence of the refusal, and P-6 is no part of P-60."""

    def sent_back(bench: Bench) -> None:
        begun(bench)
        why = "the bag P-60 says 12.5 % sodium nitrite, the formula 6.25 %"
        bench.events.append(ev.Refused("premix", "OpenLot", "other-strength", why))

    path = one_batch(tmp_path, sent_back)
    found = told(path, "lot", "P-60")
    assert found["answer"].startswith(
        "lot P-60 was refused for batch b-1: the bag P-60 says 12.5 %"
    )
    assert found["batches"] == []
    assert not told(path, "lot", "P-6", status=2)["known"]


def test_a_scanned_label_is_read_for_its_lot(kept: Path) -> None:
    assert told(kept, "lot", "(17)270331(10)P-41")["lot"] == "P-41"
    result = ask(kept, "lot", "(17)270331")
    assert (result.exit_code, "it has no lot (10)" in result.stderr) == (2, True)


def test_a_code_on_record_that_looks_like_a_label_is_found_as_it_was_told(tmp_path: Path) -> None:
    label = "(17)270331(10)P-77"

    def raw(bench: Bench) -> None:
        begun(bench)
        bench.say(do.OpenLot("pepper", label, {}, None, "2026-11-30"))

    assert told(one_batch(tmp_path, raw), "lot", label)["lot"] == label


def test_a_code_in_other_letters_is_the_one_that_is_meant() -> None:
    assert trace("ab", [], ["AB", "AX", "ZZ"]).next == "read the code again: AB looks like it"


def test_days_narrow_the_batches_and_never_make_a_lot_unknown(kept: Path) -> None:
    found = told(kept, "lot", "P-41", "--from", "2026-12-04", "--to", "2026-12-31")
    assert [use["batch"] for use in found["batches"]] == ["261204-7"]
    assert found["lines"][0]["actual_g"] == "24"
    none = told(kept, "lot", "P-41", "--from", "2030-01-01")
    assert none["batches"] == []
    assert none["answer"] == "lot P-41 is not in these days; outside them it is told of 4 times"
    assert none["next"] == "ask without --from and --to"


def test_csv_has_a_row_a_use(kept: Path) -> None:
    rows = list(csv.DictReader(io.StringIO(ask(kept, "lot", "P-42", "--csv").stdout)))
    (row,) = rows
    assert (row["batch"], row["line"], row["actual_g"]) == ("261201-3", "premix", "23.9")
    assert row["unknown_more"].startswith("Ansel")


def test_a_text_that_a_spreadsheet_would_work_out_stays_text_and_a_figure_a_figure(
    capsys: pytest.CaptureFixture[str],
) -> None:
    cells = ["=1+1", "+x", "-x", "@x", "-0.42", "-1", "P-41", None, ("a", "b"), "a,b", 2]
    print_csv(("cell",), [{"cell": cell} for cell in cells])
    assert list(csv.reader(io.StringIO(capsys.readouterr().out)))[1:] == [
        ["'=1+1"], ["'+x"], ["'-x"], ["'@x"], ["-0.42"], ["-1"], ["P-41"], [""], ["a; b"],
        ["a,b"], ["2"],
    ]  # fmt: skip
