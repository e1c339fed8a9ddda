"""What the mix is filled into: soaked, its water changed, its lot on record, its length filled."""

from decimal import Decimal
from pathlib import Path

import pytest

from station.formula.quantities import grams_a_metre
from station.formula.sheet import parse_formula
from station.ledger.book import Book
from station.service import packs
from station.tomlfile import FileMistakes
from station.weighing import commands as do
from station.weighing.commands import Refusal
from tests.audit.asking import ask, told
from tests.audit.kitchen_record import append_batch
from tests.audit.test_sheet import sheet_of
from tests.benchside import Bench
from tests.ledger.ledgers import BORN
from tests.weighing.test_clocks import passes
from tests.weighing.test_tallying import FORMULA, put

CASING = """
[casing]
name = "hog casing"
soak = ">= 30 min"
changes = 2
fills = "900 g / m"
"""
STEP = "hog casing soaks"


def mixed(formula: str = FORMULA + CASING) -> Bench:
    bench = Bench(formula).begin()
    bench.add("salt", "cup 1", "216")
    bench.add("pepper", "cup 2", "36")
    return bench


def offered(bench: Bench, verb: str) -> list[str]:
    return [offer.means for offer in bench.told.offers if offer.verb == verb]


def test_it_soaks_before_the_filling_and_its_water_is_changed() -> None:
    bench = mixed()
    assert bench.told.line == STEP
    assert bench.told.sentence == f"{STEP}: >= 30 min, 2 x fresh water; 0 so far"
    assert bench.refused(do.CountPieces("links", "fine")).code == "step-first"
    passes(bench, 30)
    refusal = bench.refused(do.EndStep(STEP))
    assert (refusal.code, refusal.sentence) == (
        "too-few", f"{STEP}: its water was changed 0 of 2 times"
    )  # fmt: skip
    assert [offer.verb for offer in refusal.offers] == ["rinse", "step"]
    assert offered(bench, "rinse") == ["its water is changed, 1 of 2"]
    assert bench.say(do.ChangeWater(STEP)) == "water changed 1 of 2 times"
    assert bench.told.sentence.endswith("; 1 so far")
    assert bench.refused(do.EndStep(STEP)).code == "too-few"
    bench.say(do.ChangeWater(STEP))
    assert offered(bench, "rinse") == []
    bench.say(do.EndStep(STEP))
    assert bench.refused(do.ChangeWater(STEP)).code == "step-ended"


def test_with_a_reason_it_ends_with_the_water_that_it_had() -> None:
    bench = mixed()
    passes(bench, 30)
    bench.say(do.EndStep(STEP, reason="they were salted, not dry"))
    casing = sheet_of(bench).casing
    assert casing is not None
    assert (casing.changes, casing.changes_meant) == (0, 2)


def test_what_has_no_water_is_not_rinsed() -> None:
    bench = mixed(FORMULA + '[[step]]\nname = "rest"\nafter = "pepper"\n')
    assert bench.refused(do.ChangeWater("rest")).next == "no step has its water changed"
    assert mixed().refused(do.ChangeWater("soaks")).next == f"one of {STEP}"


def test_lots_and_lengths_are_on_the_sheet_with_what_a_metre_took() -> None:
    """2 x 450 g in 0.8 + 0.4 m."""
    bench = mixed(FORMULA + CASING.replace('soak = ">= 30 min"\nchanges = 2\n', ""))
    bench.say(do.TakeCasing("H-7", Decimal("0.8")))
    bench.say(do.TakeCasing("H-8", Decimal("0.4")))
    bench.say(do.TakeCasing("H-7", None))
    bench.say(do.CountPieces("links", "fine"))
    put(bench, "450")
    put(bench, "450")
    casing = sheet_of(bench).casing
    assert casing is not None
    assert (casing.lots, casing.length_m) == (("H-7", "H-8"), "1.2")
    assert (casing.filled_g_per_m, casing.meant_g_per_m) == ("750", "900")


def test_before_it_is_filled_or_measured_nobody_knows_what_a_metre_took() -> None:
    bench = mixed(FORMULA + CASING.replace('soak = ">= 30 min"\nchanges = 2\n', ""))
    bench.say(do.TakeCasing("H-7", None))
    bench.say(do.CountPieces("links", "fine"))
    put(bench, "450")
    casing = sheet_of(bench).casing
    assert casing is not None
    assert (casing.length_m, casing.filled_g_per_m) == (None, None)
    bench = mixed()
    bench.say(do.TakeCasing(None, Decimal(3)))
    casing = sheet_of(bench).casing
    assert casing is not None
    assert (casing.lots, casing.length_m, casing.filled_g_per_m) == ((), "3", None)


def test_a_formula_without_a_casing_has_none() -> None:
    bench = mixed(FORMULA)
    assert bench.refused(do.TakeCasing("H-7", None)).code == "no-casing"
    assert sheet_of(bench).casing is None
    assert not [form for form in bench.told.forms if form.verb == "casing"]


def test_a_casing_without_lot_and_length_says_nothing() -> None:
    assert mixed().refused(do.TakeCasing(None, None)).code == "bad-params"


def test_its_length_is_typed_by_digits_while_it_soaks() -> None:
    (form,) = [form for form in mixed().told.forms if form.verb == "casing"]
    assert (form.param, form.unit, form.means) == ("length", "m", "so much hog casing is taken")


@pytest.mark.parametrize(("text", "metres"), [("12 m", "12"), ("80 cm", "0.8"), (None, None)])
def test_a_length_is_read_with_its_unit(text: str | None, metres: str | None) -> None:
    taken = packs.casing(None, {"lot": "H-7", "length": text})  # type: ignore[arg-type]
    assert taken == do.TakeCasing("H-7", None if metres is None else Decimal(metres))


@pytest.mark.parametrize("text", ["12", "12 kg", "0 m", "-1 m", "long"])
def test_what_is_no_length_is_refused(text: str) -> None:
    with pytest.raises(Refusal) as caught:
        packs.casing(None, {"lot": None, "length": text})  # type: ignore[arg-type]
    assert (caught.value.code, caught.value.next) == ("bad-params", "such as 12 m")


@pytest.mark.parametrize(
    ("text", "grams"), [("0.9 kg / m", "900"), ("450 g / 50 cm", "900"), ("900 g/m", "900")]
)
def test_what_a_metre_holds_is_read_in_any_units(text: str, grams: str) -> None:
    assert grams_a_metre(text) == Decimal(grams)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('"900 g / m"', '"900 g"', "so much a metre"),
        ('"900 g / m"', '"900 g / 0 m"', "more than nothing"),
        ('"900 g / m"', '"0 g / m"', "more than nothing"),
        ('"900 g / m"', '"900 g / kg"', "a length"),
        ("changes = 2", "changes = -1", "expected 0 to 99"),
        ("changes = 2", "changes = 100", "expected 0 to 99"),
        ("changes = 2", 'changes = "2"', "a whole number"),
        ('soak = ">= 30 min"', 'soak = "long"', "a time"),
        ('name = "hog casing"', "", "casing.name"),
        ('name = "hog casing"', 'name = "hog, casing"', "no comma in a name"),
    ],
)
def test_a_wrong_casing_says_what_is_wrong(old: str, new: str, says: str) -> None:
    assert old in CASING
    with pytest.raises(FileMistakes) as caught:
        parse_formula(FORMULA + CASING.replace(old, new), "x")
    assert says in str(caught.value)


@pytest.mark.parametrize("changes", [0, 99])
def test_a_casing_that_only_soaks_or_is_only_rinsed_is_a_step_too(changes: int) -> None:
    text = CASING.replace("changes = 2", f"changes = {changes}")
    (step,) = parse_formula(FORMULA + text, "x").steps
    assert (step.name, step.before, step.changes) == (STEP, "filling", changes)


def test_a_recall_of_its_lot_finds_the_batch(tmp_path: Path) -> None:
    def story(bench: Bench) -> None:
        bench.open()
        bench.weigh_meat()
        bench.add("salt", "cup 1", "216")
        bench.add("pepper", "cup 2", "36")
        bench.say(do.TakeCasing("H-7", Decimal(12)))
        bench.say(do.TakeCasing("H-7", Decimal(3)))
        bench.say(do.Skip(STEP, "they were wet"))
        bench.say(do.Close())

    path = tmp_path / "cased.ledger"
    book = Book.open(path, BORN, "2026-11-30T06:00:00.000Z")
    append_batch(book, "261130-1", "2026-11-30T08", FORMULA + CASING, story)
    book.close()
    found = told(path, "recall", "H-7")
    (row,) = found["affected"]
    assert (row["batch"], row["sure"], row["actual_g"]) == ("261130-1", True, None)
    sheet = ask(path, "batch", "261130-1").stdout
    assert "casing hog casing: lots H-7, 15 m, water changed 0 of 2 times" in sheet
