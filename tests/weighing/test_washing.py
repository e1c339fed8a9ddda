"""After a batch with an allergen that the next one has not, somebody must have washed down."""

import pytest

from station.audit.remarks import remarks
from station.batch import events as ev
from station.formula.sheet import parse_formula
from station.weighing import commands as do
from tests.benchside import RING, Bench
from tests.weighing.test_tallying import FORMULA

WHEAT = FORMULA.replace('name = "pepper"', 'name = "pepper"\nallergens = ["wheat"]')
ASKED = {"formula": "ring", "who": "Ansel"}


def opens(bench: Bench, formula: str, washed: str | None = None) -> do.Open:
    """The next batch of another formula."""
    opened = bench.events[[isinstance(e, ev.BatchOpened) for e in bench.events].index(True)]
    made = parse_formula(formula.replace("test ring", "next"), "next.toml")
    changed = {"formula": made, "bands": opened.bands}  # type: ignore[attr-defined]
    fields = {name: getattr(opened, name) for name in opened.__struct_fields__} | changed
    return do.Open("b-2", ev.BatchOpened(**fields), washed=washed, asked=ASKED)


def after(line: str | None = "pepper", end: str = "close", first: str = WHEAT) -> Bench:
    """The bench after a batch of which a line was weighed."""
    bench = Bench(first).begin()
    bench.add("salt", "cup 1", "216")
    if line is not None:
        bench.pour("cup 2", "36")
        bench.lift()
        bench.tip("cup 2")
    bench.say(do.Abandon("enough") if end == "abandon" else do.Close())
    return bench


def test_the_next_batch_is_asked_about_and_a_name_answers() -> None:
    bench = after()
    refusal = bench.refused(opens(bench, FORMULA))
    assert (refusal.code, refusal.sentence) == (
        "wash-down", "on the bench is wheat of batch b-1, and next has none"
    )  # fmt: skip
    assert [(o.verb, o.params, o.means, o.danger) for o in refusal.offers] == [
        ("open", {**ASKED, "washed": name}, f"{name} washed down", True)
        for name in ("Ansel", "Brida")
    ]
    bench.say(opens(bench, FORMULA, washed="Brida"))
    washed = bench.last(ev.WashedDown)
    assert (washed.allergens, washed.who) == (("wheat",), "Brida")
    bench.say(do.Abandon("enough"))
    bench.say(opens(bench, FORMULA))  # it was washed down
    assert not isinstance(bench.events[-1], ev.WashedDown)


def test_it_stands_on_the_sheet_who_washed_down() -> None:
    bench = after()
    bench.say(opens(bench, FORMULA, washed="Brida"))
    rows = list(remarks([(bench.at, event) for event in bench.events[-2:]]))
    assert [(row.kind, row.text) for row in rows if row.kind == "washed down"] == [
        ("washed down", "wheat was on the bench; Brida washed down")
    ]


@pytest.mark.parametrize("name", ["wheat", "Wheat"])
def test_a_batch_that_has_the_same_allergen_is_not_asked(name: str) -> None:
    bench = after()
    bench.say(opens(bench, WHEAT.replace("wheat", name)))


def test_one_of_two_allergens_that_is_not_in_the_next_is_asked_about() -> None:
    bench = after(first=WHEAT.replace('["wheat"]', '["wheat", "mustard"]'))
    refusal = bench.refused(opens(bench, WHEAT))
    assert refusal.sentence == "on the bench is mustard of batch b-1, and next has none"


def test_a_batch_that_was_given_up_left_its_allergen_too() -> None:
    bench = after(end="abandon")
    assert bench.refused(opens(bench, FORMULA)).code == "wash-down"


def test_a_line_that_was_never_begun_left_nothing() -> None:
    bench = after(line=None, end="abandon")
    bench.say(opens(bench, FORMULA))


def test_what_is_poured_and_not_accepted_is_on_the_bench() -> None:
    bench = Bench(WHEAT).begin()
    bench.add("salt", "cup 1", "216")
    bench.pour("cup 2", "10")
    assert bench.station.soiled == {"wheat": "b-1"}


def test_a_batch_that_comes_back_to_the_bench_is_asked_about_too() -> None:
    bench = Bench(FORMULA).begin()
    bench.add("salt", "cup 1", "216")
    bench.say(do.Park())
    bench.say(opens(bench, WHEAT))
    for meat in bench.formula.meats:
        bench.say(do.Use("tub"))
        bench.show("bench", "13200")
        bench.say(do.Accept(meat.name))
        bench.show("bench", "0")
        bench.show("bench", "1200")
        bench.show("bench", "0")
        bench.say(do.End(meat.name, sure=True))
    bench.add("salt", "cup 1", "216")
    bench.add("pepper", "cup 2", "36")
    bench.say(do.Close())
    refusal = bench.refused(do.TakeUp("b-1"))
    assert refusal.code == "wash-down"
    assert [offer.params for offer in refusal.offers] == [
        {"batch": "b-1", "washed": name} for name in ("Ansel", "Brida")
    ]
    bench.say(do.TakeUp("b-1", washed="Ansel"))
    assert bench.last(ev.WashedDown).who == "Ansel"
    assert bench.batch.id == "b-1"


def test_without_allergens_nobody_is_asked() -> None:
    bench = after(first=FORMULA)
    bench.say(opens(bench, RING))
