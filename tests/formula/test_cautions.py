"""The usual cautions: each where it applies, and nowhere else."""

from decimal import Decimal

import pytest
from msgspec.structs import replace

from station.formula.cautions import ALLERGENS, cautions
from station.formula.model import Formula, Meat, Step
from tests.formula.made import NITRITE, QUOTED, formula, law_of, thing

NITRATE = {"sodium nitrate": Decimal("0.04"), "salt": Decimal("0.96")}
ASCORBATE = {"sodium ascorbate": Decimal(1)}


def said(made: Formula) -> list[str]:
    return [finding.text for finding in cautions(made, ALLERGENS, QUOTED)]


def of(species: str) -> tuple[Meat, ...]:
    return (Meat("meat", Decimal(1), species=species),)


@pytest.mark.parametrize(
    ("product", "species", "warned"),
    [
        ("raw cured dried comminuted", "pork", True),
        ("fermented comminuted sausage", "wild boar", True),
        ("raw cured whole", "pork", True),
        ("raw cured dried comminuted", "beef", False),
        ("cooked cured dried comminuted", "pork", False),
        ("fresh comminuted sausage", "pork", False),  # cooked by whoever buys it
    ],
)
def test_pork_that_is_eaten_raw_is_warned_of(product: str, species: str, warned: bool) -> None:
    """Freezing of pieces up to 6 in: 5 degF 20 days, -10 degF 10, -20 degF 6 (JAMA 1954;155:1394,
    abstract)."""
    told = said(replace(formula(thing(), product=product), meats=of(species)))
    assert any(f"{species} that is eaten raw" in text for text in told) is warned
    assert any("5 degF 20 days, -10 degF 10, -20 degF 6" in text for text in told) is warned


HEAT = Step("into the kettle", after="premix", temperature="<= 80 degC")


@pytest.mark.parametrize(
    ("steps", "warned"),
    [
        ((), False),
        ((HEAT,), True),
        ((Step("cook", after="premix"),), True),
        ((Step("smoke", after="premix", temperature="50 degC"),), True),
        ((Step("smoke", after="premix", temperature="49 degC"),), False),
        ((HEAT, Step("chill", after="into the kettle")), False),
        ((Step("knead", after="premix", temperature="<= 10 degC"),), False),
    ],
)
def test_a_cooked_product_cools_by_a_step_or_is_asked_how(
    steps: tuple[Step, ...], warned: bool
) -> None:
    assert any("how it cools" in text for text in said(formula(thing(), steps=steps))) is warned


def test_what_is_cured_may_cool_more_slowly() -> None:
    """Extension summary of the US guideline, 1999: 130 to 80 degF in 1.5 h and to 40 in 5 h more;
    with nitrite 5 h and 10 h."""
    heat = Step("cook", after="premix")
    (cured,) = said(formula(thing(), steps=(heat,)))
    assert cured.endswith("from 130 to 80 degF within 5 h, then to 40 degF in 10 h more")
    (plain,) = said(formula(thing(contains={}), steps=(heat,)))
    assert plain.endswith("from 130 to 80 degF within 1.5 h, then to 40 degF in 5 h more")


@pytest.mark.parametrize(
    ("product", "method", "warned"),
    [
        ("cooked cured comminuted", "comminuted", True),
        ("cured whole", "pumped", True),
        ("raw cured dried comminuted", "comminuted", False),
        ("cured fermented comminuted", "comminuted", False),
        ("raw cured whole", "dry", False),
    ],
)
def test_nitrate_is_out_of_place_in_a_quick_product(
    product: str, method: str, warned: bool
) -> None:
    made = formula(thing(contains=NITRATE), product=product, method=method)
    assert any("nitrate works only after weeks" in text for text in said(made)) is warned
    assert not any("nitrate" in t for t in said(formula(thing(), product=product, method=method)))


def test_an_accelerator_goes_in_behind_the_cure() -> None:
    speeds = thing("ascorbate", "0.5", "accelerator", ASCORBATE)
    assert said(formula(thing(), speeds)) == []
    (told,) = said(formula(speeds, thing()))
    assert "goes in last, behind the cure" in told
    assert said(formula(speeds)) == []
    assert said(formula(thing("pepper", "2", "seasoning", {}), thing())) == []
    inside = thing("ascorbate", "0.5", "accelerator", ASCORBATE, in_pickle=True)
    assert said(formula(inside, thing(in_pickle=True))) == []


@pytest.mark.parametrize(
    ("agent", "share", "warned"),
    [("sodium erythorbate", "1", True), ("sodium erythorbate", "0.9167", True),
     ("sodium erythorbate", "0.9166", False), ("sodium erythorbate", "0.5", False),
     ("sodium ascorbate", "1", False)],
)  # fmt: skip
def test_erythorbate_is_sold_with_its_water(agent: str, share: str, warned: bool) -> None:
    """198.106 of 216.121 g/mol are 91.66 % (computed; 550 becomes 600 mg/kg, from memory)."""
    speeds = thing("speeds", "0.5", "accelerator", {agent: Decimal(share)})
    told = said(formula(thing(), speeds))
    assert any("monohydrate it is 91.66 %" in text for text in told) is warned


@pytest.mark.parametrize(
    ("name", "listed", "missing"),
    [
        ("milk powder", (), ["milk"]),
        ("milk powder", ("Milk",), []),
        ("mustard seed", ("milk",), ["mustard"]),
        ("rusk", ("wheat",), []),
        ("rye flour", ("rye",), []),
        ("soya isolate", ("soy",), []),
        ("celery salt", (), ["celery"]),
        ("black pepper", (), []),
        ("eggplant", (), []),
        ("buttermilk", ("milk",), []),
    ],
)
def test_an_allergen_that_the_name_says_is_listed(
    name: str, listed: tuple[str, ...], missing: list[str]
) -> None:
    told = said(formula(thing(name, "10", "other", {}, allergens=listed)))
    assert [text.split(", an allergen")[0].split()[-1] for text in told] == missing


def test_a_part_is_called_by_the_line_that_it_is_a_part_of() -> None:
    part = thing("powder", "10", "other", {}, part_of="mustard")
    assert len(said(formula(part))) == 1
    listed = thing("vinegar", "10", "other", {}, part_of="mustard", allergens=("mustard",))
    assert said(formula(part, listed)) == []


@pytest.mark.parametrize("other", ["another cup", "n"])
def test_what_another_line_lists_is_not_listed_here(other: str) -> None:
    here = thing("mustard", "10", "other", {}, part_of="my cup")
    there = thing("vinegar", "10", "other", {}, part_of=other, allergens=("mustard",))
    alone = thing("relish", "10", "other", {}, allergens=("mustard",))
    for order in ((here, there, alone), (alone, there, here)):
        assert len(said(formula(*order))) == 1
    bare = thing("mustard", "10", "other", {})
    for order in ((bare, there, alone), (alone, there, bare)):
        assert len(said(formula(*order))) == 1


@pytest.mark.parametrize(("authority", "asked"), [("gb", True), ("eu", True), ("us", False)])
def test_each_authority_has_its_own_allergens(authority: str, asked: bool) -> None:
    """EU/GB: 14, Regulation (EU) No 1169/2011, Annex II, mustard among them; US: 9, without it
    (from memory)."""
    law = law_of(authority)
    assert ("mustard" in law.allergens) is asked
    assert {"milk", "egg", "fish", "soya", "peanut", "sesame"} <= set(law.allergens)


def test_a_formula_that_nothing_is_to_be_said_of_is_left_alone() -> None:
    assert said(formula(thing(contains=NITRITE))) == []
