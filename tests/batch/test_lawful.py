"""The one gate, each term of its arithmetic by itself: at the edge, and one step beyond.

Bounds worked by hand: U of one net weight is 0.82 d, of a sum the root of the sum of squares
(EURAMET cg-18 v4.0, as `metrology/uncertainty.py` has it).
"""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from station.batch.evolve import evolve
from station.batch.lawful import (
    agent_g,
    allowed_g,
    breaches,
    strength,
    worse,
)
from station.batch.line import Doubt, Load, Lot
from station.batch.state import Station
from station.formula.model import Amount
from tests.batch.built import (
    AT,
    LOTS,
    PREMIX,
    SHARE,
    TWICE,
    U_FINE,
    U_MEAT,
    U_TWO_FINE,
    U_TWO_MEAT,
    addition,
    at_the_limit,
    batch,
    line,
    load,
    row,
    with_fields,
)

STEP = Decimal("0.000001")
SALT = addition("salt", "18", "salt", {"salt": Decimal(1)})


def test_the_meat_allows_its_share_less_its_uncertainty() -> None:
    """L (M - U_M): 150 mg/kg of 10 kg less 1.64 g."""
    assert allowed_g(batch(line()), row()) == Fraction("0.00015") * (10_000 - Fraction(U_MEAT))


def test_meat_in_two_loads_allows_less_than_in_one() -> None:
    two = batch(line(), meat=("6000", "4000"))
    assert allowed_g(two, row()) == Fraction("0.00015") * (10_000 - Fraction(U_TWO_MEAT))


def test_meat_that_was_taken_out_again_allows_nothing_and_its_uncertainty_stays() -> None:
    out = batch(line(), meat=("100", "-100"))
    owed = Fraction("0.00015") * -Fraction(U_TWO_MEAT)
    assert allowed_g(out, row()) == owed
    assert allowed_g(out, row(basis="product")) == owed  # not of what the lines would weigh


def test_a_row_on_the_product_counts_what_little_meat_is_surely_there() -> None:
    """2.14 g less 1.64 g are half a gram, 60 % of it product; 1 g may be less than none."""
    made = batch(line(), meat=("2.14",), formula={"loss": Decimal("0.40")})
    assert allowed_g(made, row(basis="product")) == (
        Fraction("0.00015") * Fraction("0.5") * Fraction("1.002") * Fraction("0.6")
    )
    none = batch(line(), meat=("1",))
    assert allowed_g(none, row(basis="product")) == Fraction("0.00015") * Fraction("-0.64")


@pytest.mark.parametrize(
    ("loss", "basis"),
    [("0", Fraction(1)), ("0.001", Fraction(1)), ("0.40", Fraction("1.002") * Fraction("0.6"))],
)
def test_a_row_on_the_product_allows_what_the_smaller_of_meat_and_product_does(
    loss: str, basis: Fraction
) -> None:
    """One line at 2 g/kg: the mix is 1.002 times the meat, and less its loss becomes product."""
    made = batch(line(), formula={"loss": Decimal(loss)})
    assert allowed_g(made, row(basis="product")) == (
        Fraction("0.00015") * (10_000 - Fraction(U_MEAT)) * basis
    )
    assert allowed_g(made, row()) == Fraction("0.00015") * (10_000 - Fraction(U_MEAT))


ICE = addition("ice", "100", "water", {})


def test_a_row_on_the_mix_allows_by_the_meat_unless_the_formula_says_mix() -> None:
    """10 kg less 1.64 g; with 2 g/kg of cure and 100 g/kg of ice 1.102 times that."""
    lines = (line(), line(ICE))
    meat = 10_000 - Fraction(U_MEAT)
    limit = Fraction("0.00015")
    assert allowed_g(batch(*lines), row(basis="mix")) == limit * meat
    mixed = {"basis": "mix", "loss": Decimal("0.35")}
    made = batch(*lines, formula=mixed)
    assert allowed_g(made, row(basis="mix")) == limit * meat * Fraction("1.102")


@pytest.mark.parametrize(
    ("ice", "short"),
    [
        ({"skipped": True}, Fraction(1000)),
        ({"missing": True}, Fraction(1000)),
        ({"judged": True, "loads": (load("900"),)}, 100 + Fraction(U_FINE)),
        ({"loads": (load("900"),)}, 0),  # still pouring
        ({"judged": True, "loads": (load("0.01"),)}, 1000),  # it may be nothing, and no less
        ({"judged": True, "loads": (load("1200"),)}, 0),  # more water is no leave for more cure
    ],
)
def test_what_was_left_out_of_the_mix_allows_no_cure(ice: dict[str, Any], short: Fraction) -> None:
    loads = ice.pop("loads", ())
    made = batch(line(), line(ICE, *loads, **ice), formula={"basis": "mix"})
    mix = (10_000 - Fraction(U_MEAT)) * Fraction("1.102")
    assert allowed_g(made, row(basis="mix")) == Fraction("0.00015") * (mix - short)
    assert allowed_g(batch(line(), line(ICE, *loads, **ice)), row(basis="mix")) == Fraction(
        "0.00015"
    ) * (10_000 - Fraction(U_MEAT))


@pytest.mark.parametrize("skipped", [False, True])
def test_what_is_no_mass_of_the_mix_is_missing_from_none(skipped: bool) -> None:
    """What is counted in pieces, and a pickle that is not pumped in."""
    mustard = addition("mustard", "10", "seasoning", {})
    pieces = with_fields(
        mustard, amount=Amount("10 sachets / kg", "count", Decimal(10), Decimal(1000))
    )
    inside = with_fields(mustard, name="herbs", in_pickle=True)
    lines = (line(pieces, skipped=skipped), line(inside, skipped=skipped))
    made = batch(line(), *lines, formula={"basis": "mix"})
    mix = (10_000 - Fraction(U_MEAT)) * Fraction("1.002")
    assert allowed_g(made, row(basis="mix")) == Fraction("0.00015") * mix


def test_a_breach_names_the_basis_that_was_used() -> None:
    for basis, name in (("meat block", "meat block"), ("mix", "mix")):
        made = batch(line(None, load("30")), rows=(row(basis="mix"),), formula={"basis": basis})
        (found,) = breaches(made)
        assert f" of the {name} (" in found.says("is")


def test_nothing_weighed_holds_no_agent() -> None:
    assert agent_g(line(), row()) == 0


def test_a_load_holds_its_strength_of_all_that_may_be_in_it() -> None:
    assert strength(line(), row()) == SHARE
    assert agent_g(line(None, load("20")), row()) == (20 + Fraction(U_FINE)) * SHARE


def test_the_uncertainty_of_two_loads_goes_with_the_root() -> None:
    held = agent_g(line(None, load("12"), load("8")), row())
    assert held == (20 + Fraction(U_TWO_FINE)) * SHARE


@pytest.mark.parametrize("residue", ["0.10", "6"])
def test_what_clung_takes_nothing_off_the_most(residue: str) -> None:
    """A spoon in the emptied cup looks like residue, and buys no top-up."""
    held = agent_g(line(None, load("20", residue=residue)), row())
    assert held == (Fraction(20) + Fraction(U_FINE)) * SHARE


def test_each_load_counts_by_its_own_bag_and_the_uncertainty_by_the_strongest() -> None:
    two = line(None, load("10", lot="P-1"), load("4", lot="P-2"), lots=LOTS)
    assert agent_g(two, row()) == (10 * SHARE + 4 * 2 * SHARE + Fraction(U_TWO_FINE) * 2 * SHARE)
    cleaned = line(None, load("10", lot="P-1"), load("4", lot="P-2", residue="1"), lots=LOTS)
    assert agent_g(cleaned, row()) == agent_g(two, row())


def test_a_load_of_unknown_weight_adds_no_grams_and_keeps_its_uncertainty() -> None:
    unknown = line(None, load("20"), load(None))
    assert agent_g(unknown, row()) == (20 + Fraction(U_TWO_FINE)) * SHARE
    cleaned = line(None, load("20", residue="0.01"), load(None))  # 19.99 + 0.071 would be more
    assert agent_g(cleaned, row()) == (20 + Fraction(U_TWO_FINE)) * SHARE


@pytest.mark.parametrize(
    ("loads", "lot", "held"),
    [
        ((), None, (5 + Fraction(U_FINE)) * SHARE),
        ((load("12"),), None, (17 + Fraction(U_TWO_FINE)) * SHARE),
        ((), "P-2", (5 + Fraction(U_FINE)) * 2 * SHARE),  # a bag of twice the strength
    ],
)
def test_what_was_voided_in_doubt_is_held_as_if_it_were_in_the_mix(
    loads: tuple[Load, ...], lot: str | None, held: Fraction
) -> None:
    """With the uncertainty of its own weighing, and by its own bag."""
    doubt = Doubt(Decimal(5), Decimal("0.05"), lot)
    assert agent_g(line(None, *loads, doubts=(doubt,), lots=LOTS), row()) == held


def test_what_went_in_after_a_sample_left_counts_for_more_and_so_does_the_uncertainty() -> None:
    """A fifth has left: 4 g of what is left are as 5 g of the whole."""
    later = replace(load("4"), worth=Decimal("1.25"))
    held = agent_g(line(None, load("10"), later), row())
    assert held == (10 + 5 + Fraction("1.25") * Fraction(U_TWO_FINE)) * SHARE
    doubt = Doubt(Decimal(4), Decimal("0.05"), None, Decimal("1.25"))
    held = agent_g(line(None, doubts=(doubt,)), row())
    assert held == (5 + Fraction("1.25") * Fraction(U_FINE)) * SHARE


@pytest.mark.parametrize(("first", "then"), [(PREMIX, TWICE), (TWICE, PREMIX)])
def test_a_bag_that_was_told_twice_holds_the_most_of_either(
    first: dict[str, Decimal], then: dict[str, Decimal]
) -> None:
    told = {"P-1": Lot("P-1", then, before=(first,))}
    held = agent_g(line(None, load("10", lot="P-1"), lots=told), row())
    assert held == (10 + Fraction(U_FINE)) * 2 * SHARE


def test_another_agent_counts_as_what_the_row_expresses() -> None:
    """KNO2 as NaNO2: 68.9953 / 85.1038 (molmass), its reciprocal printed as 1.233472."""
    potassium = line(addition(contains={"potassium nitrite": Decimal("0.0625")}))
    as_sodium = row(agents=("sodium nitrite", "potassium nitrite"), expressed_as="sodium nitrite")
    assert float(SHARE / strength(potassium, as_sodium)) == pytest.approx(1.233472, abs=1e-6)


@pytest.mark.parametrize(("more", "broken"), [("0", False), ("0.000001", True)])
def test_exactly_what_the_meat_allows_is_lawful_and_a_microgram_more_is_not(
    more: str, broken: bool
) -> None:
    held = batch(line(None, load(str(at_the_limit(Decimal(more))))), rows=[row()])
    found = breaches(held)
    assert bool(found) is broken
    if broken:
        assert found[0].excess_g == Fraction(STEP) * SHARE
        assert found[0].says("would be") == (
            "sodium nitrite would be over 0.00015 of it of the meat block (a rule)"
        )


def test_all_lines_count_together_whether_they_stand_or_are_in_the_mix() -> None:
    """Two premix lines, each far under the limit: (12 + U) + (11.96054 - U) + 2 U."""
    half = at_the_limit() - 12 - U_FINE
    second = line(addition("more premix"), load(str(half), tipped=True))
    together = batch(line(None, load("12")), second, rows=[row()])
    assert breaches(together) == []
    over = line(addition("more premix"), load(str(half + STEP), tipped=True))
    assert len(breaches(batch(line(None, load("12")), over, rows=[row()]))) == 1
    assert breaches(batch(over, rows=[row()])) == []


def test_a_batch_without_meat_breaks_nothing_while_it_holds_no_agent() -> None:
    bare = batch(line(), line(SALT, load("20")), meat=(), rows=[row()])
    assert breaches(bare) == []
    taken_out = batch(line(), meat=("100", "-100"), rows=[row()])
    assert allowed_g(taken_out, row()) < 0
    assert breaches(taken_out) == []
    negative = line(None, load("-0.042"))  # with its uncertainty still less than nothing
    assert breaches(batch(negative, meat=("100", "-100"), rows=[row()])) == []
    assert len(breaches(batch(line(None, load("1")), meat=(), rows=[row()]))) == 1


def test_every_row_is_asked() -> None:
    rows = [row("0.0002"), row("0.00012"), row("0.00011")]
    held = batch(line(None, load(str(at_the_limit()))), rows=rows)
    assert [breach.row for breach in breaches(held)] == rows[1:]


def test_a_breach_that_was_there_before_is_no_worse_until_it_grows() -> None:
    def holding(more: str) -> list[Fraction]:
        after = batch(line(None, load(str(at_the_limit(Decimal(more))))), rows=[row()])
        return [breach.excess_g for breach in worse(before, after)]

    before = batch(line(None, load(str(at_the_limit(Decimal(1))))), rows=[row()])
    assert holding("1") == []
    assert holding("0.999999") == []
    assert holding("1.000001") == [Fraction("1.000001") * SHARE]
    before = batch(line(), rows=[row()])
    assert holding("0") == []
    assert holding("0.000001") == [Fraction(STEP) * SHARE]


@pytest.mark.parametrize(("plan", "held"), [("5000", 1), ("5001", 0)])
def test_a_row_that_asks_for_cereal_is_judged_for_the_meat_that_was_planned(
    plan: str, held: int
) -> None:
    """1250 g to 5 kg are a fifth of it all, by hand."""
    rusk = addition("rusk", contains={}, role="binder", cereal=True)
    rusk = with_fields(rusk, amount=Amount("1250 g", "fixed", Decimal(1250)))
    opened = batch(line(rusk), rows=(row(cereal=Decimal("0.2")),), plan=plan).opened
    station = evolve(Station(), opened, AT, "b-1")
    assert station.batch is not None
    assert len(station.batch.rows) == held


def test_unplanned_a_row_that_asks_for_cereal_is_judged_all_the_same() -> None:
    rusk = addition("rusk", per_kg="250", contains={}, role="binder", cereal=True)
    opened = batch(line(rusk), rows=(row(cereal=Decimal("0.2")),), plan="0").opened
    station = evolve(Station(), opened, AT, "b-1")
    assert station.batch is not None
    assert len(station.batch.rows) == 1
