"""A batch without a planned weight takes the meat that arrives, and asks whether it is all."""

from fractions import Fraction

import pytest

from station.opening import opening
from station.resources import Config
from station.settings import load_settings
from station.weighing import commands as do
from station.weighing.commands import Refusal
from tests.audit.test_sheet import sheet_of
from tests.benchside import RING, Bench
from tests.weighing.test_tubs import TWO_MEATS


def opened(formula: str = RING) -> Bench:
    bench = Bench(formula)
    bench.vessels()
    bench.open(plan_g="0")
    return bench


def take(bench: Bench, line: str, grams: int) -> None:
    bench.show("bench", "1200")
    bench.show("bench", str(1200 + grams))
    bench.say(do.Accept(line))
    bench.show("bench", "0")
    bench.show("bench", "1200")
    bench.show("bench", "0")


def test_any_meat_is_in_band_and_the_end_asks_whether_it_is_all() -> None:
    bench = opened()
    bench.show("bench", "1200")
    bench.show("bench", "8704")
    told = bench.told
    assert (told.word, told.sentence, told.target_g) == ("IN BAND", "pork in tub", None)
    bench.say(do.Accept("pork"))
    refusal = bench.refused(do.End("pork"))
    assert (refusal.code, refusal.sentence) == ("all-meat", "7504 g of meat: is that all?")
    (offer,) = refusal.offers
    assert (offer.verb, offer.params) == ("end", {"line": "pork", "sure": True})
    bench.say(do.End("pork", sure=True))
    assert bench.batch.target("salt") == Fraction("0.018") * 7504


def test_the_next_meat_has_its_target_from_the_one_that_is_ended() -> None:
    bench = opened(TWO_MEATS)
    assert bench.batch.plan_g is None
    take(bench, "pork", 6000)
    bench.say(do.End("pork"))
    assert bench.batch.plan_g == 10_000
    assert bench.told.target_g == 4000


@pytest.mark.parametrize(
    ("grams", "said"),
    [
        (4000, "10000 g of meat: is that all?"),
        (
            1000,
            "7000 g of meat: is that all?; pork, 60 % by the formula, is 85.7 %;"
            " belly, 40 % by the formula, is 14.3 %",
        ),
    ],
)
def test_shares_that_are_off_are_said_with_the_question(grams: int, said: str) -> None:
    bench = opened(TWO_MEATS)
    take(bench, "pork", 6000)
    bench.say(do.End("pork"))
    take(bench, "belly", grams)
    assert bench.refused(do.End("belly")).sentence == said


def test_a_first_meat_that_nobody_weighed_plans_nothing() -> None:
    bench = opened(TWO_MEATS)
    bench.say(do.End("pork", sure=True))
    assert bench.batch.plan_g is None
    take(bench, "belly", 4000)
    bench.say(do.End("belly", sure=True))
    assert bench.batch.meat_g == 4000


def test_the_sheet_shows_no_plan_where_there_was_none() -> None:
    bench = opened()
    take(bench, "pork", 7504)
    bench.say(do.End("pork", sure=True))
    sheet = sheet_of(bench)
    assert (sheet.plan_g, sheet.meat_g, sheet.meat[0].planned_g) == (None, "7504", None)


def test_a_formula_is_opened_without_a_plan() -> None:
    config = Config()
    event, _ = opening(config, load_settings(config), True, "garlic-ring", {}, "Ansel")
    assert (event.plan_g, event.planned_by) == (0, "what arrives")


def test_fixed_grams_want_a_plan(tmp_path_factory: pytest.TempPathFactory) -> None:
    folder = tmp_path_factory.mktemp("config")
    (folder / "formulas").mkdir()
    text = Config().read("formulas/garlic-ring.toml")[0]
    fixed = text.replace('amount = "0.30 %"', 'amount = "30 g"', 1)
    assert fixed != text
    (folder / "formulas" / "ring.toml").write_text(fixed)
    config = Config(folder)
    settings = load_settings(config)
    with pytest.raises(Refusal, match="cannot be judged unplanned"):
        opening(config, settings, True, "ring", {}, "Ansel")
    assert opening(config, settings, True, "ring", {"meat": "12 kg"}, "Ansel")[0].plan_g == 12000


def test_every_formula_is_offered_once_somebody_is_at_the_bench() -> None:
    bench = Bench()
    bench.floor.offer_formulas(["garlic-ring", "herb-link"])
    assert not [offer for offer in bench.told.offers if offer.verb == "open"]
    bench.say(do.Who("Brida", ("Ansel", "Brida")))
    offers = [offer for offer in bench.told.offers if offer.verb == "open"]
    assert [offer.params for offer in offers] == [
        {"formula": "garlic-ring", "who": "Brida"},
        {"formula": "herb-link", "who": "Brida"},
    ]
    bench.vessels()
    bench.open()
    assert not [offer for offer in bench.told.offers if offer.verb == "open"]


def test_more_meat_is_offered_as_the_way_out_of_a_hold() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.say(do.Tip("premix", more=True))
    assert bench.told.phase == "on hold"
    offered = {(offer.verb, str(offer.params)) for offer in bench.told.offers}
    assert ("use", str({"vessel": "tub", "line": "pork"})) in offered
    bench.say(do.Use("tub", "pork"))
    bench.show("bench", "4200")
    accept = next(offer for offer in bench.told.offers if offer.verb == "accept")
    assert accept.params == {"line": "pork"}
    bench.say(do.Accept("pork"))
    assert bench.batch.meat_g == 15_000
