"""The one gate, each term of its arithmetic by itself: at the edge, and one step beyond.

Bounds worked by hand: U of one net weight is 0.82 d, of a sum the root of the sum of squares
(EURAMET cg-18 v4.0, as `metrology/uncertainty.py` has it).
"""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest

from station.batch.lawful import (
    agent_g,
    allowed_g,
    breaches,
    hard_limit,
    least_g,
    required_g,
    required_lines,
    strength,
    worse,
)
from station.batch.state import Lot
from station.formula.model import Band
from tests.batch.built import (
    FINE,
    PREMIX,
    U_FINE,
    U_MEAT,
    addition,
    batch,
    line,
    load,
    row,
)

SHARE = Fraction("0.0625")
STEP = Decimal("0.000001")
TWICE = {"sodium nitrite": Decimal("0.125"), "salt": Decimal("0.875")}
HALF_MORE = {"sodium nitrite": Decimal("0.09375"), "salt": Decimal("0.90625")}
LOTS = {"P-1": Lot("P-1", PREMIX), "P-2": Lot("P-2", TWICE), "P-3": Lot("P-3", HALF_MORE)}
SALT = addition("salt", "18", "salt", {"salt": Decimal(1)})
U_TWO_FINE = Decimal("0.057983")
"""0.041 g x sqrt(2) = 0.0579827: up."""
U_TWO_MEAT = Decimal("2.319311")


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


def test_another_agent_counts_as_what_the_row_expresses() -> None:
    """KNO2 as NaNO2: 68.9953 / 85.1038 (molmass), its reciprocal printed as 1.233472."""
    potassium = line(addition(contains={"potassium nitrite": Decimal("0.0625")}))
    as_sodium = row(agents=("sodium nitrite", "potassium nitrite"), expressed_as="sodium nitrite")
    assert float(SHARE / strength(potassium, as_sodium)) == pytest.approx(1.233472, abs=1e-6)


def at_the_limit(more: Decimal = Decimal(0)) -> Decimal:
    """Grams of one load in one line that hold exactly what 10 kg of meat allow, and so much more:
    (net + U) x 6.25 % = 150 mg/kg x (10 000 g - U_M)."""
    allowed = Decimal("0.00015") * (10_000 - U_MEAT)
    return allowed / Decimal("0.0625") - U_FINE + more


@pytest.mark.parametrize(("more", "broken"), [("0", False), ("0.000001", True)])
def test_exactly_what_the_meat_allows_is_lawful_and_a_microgram_more_is_not(
    more: str, broken: bool
) -> None:
    held = batch(line(None, load(str(at_the_limit(Decimal(more))))), rows=[row()])
    found = breaches(held)
    assert bool(found) is broken
    if broken:
        assert found[0].excess_g == Fraction(STEP) * SHARE
        assert found[0].text == (
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


# the most of a line, and the least


def test_a_line_that_no_row_is_about_has_no_hard_limit() -> None:
    made = batch(line(), line(SALT), rows=[row()])
    assert hard_limit(made, "salt", [FINE.division_g]) is None
    assert hard_limit(batch(line()), "premix", [FINE.division_g]) is None


def test_the_hard_limit_is_what_the_meat_allows_less_the_uncertainty_of_its_loads() -> None:
    """H = L (M - U_M) / strength - U_m."""
    made = batch(line(), rows=[row()])
    allowed = allowed_g(made, row()) / SHARE
    assert hard_limit(made, "premix", [FINE.division_g]) == allowed - Fraction(U_FINE)
    assert hard_limit(made, "premix", [FINE.division_g] * 2) == allowed - Fraction(U_TWO_FINE)


@pytest.mark.parametrize(("more", "broken"), [("0", False), ("0.000001", True)])
def test_a_load_of_exactly_the_hard_limit_is_lawful_and_a_microgram_more_is_not(
    more: str, broken: bool
) -> None:
    """The two guards say the same, and each says it by itself."""
    most = hard_limit(batch(line(), rows=[row()]), "premix", [FINE.division_g])
    assert most == Fraction(at_the_limit())
    held = batch(line(None, load(str(at_the_limit() + Decimal(more)))), rows=[row()])
    assert bool(breaches(held)) is broken


@pytest.mark.parametrize("name", ["more premix", "second premix"])
def test_the_hard_limit_leaves_room_for_every_other_line(name: str) -> None:
    other = line(addition(name), load("10"))
    made = batch(line(), other, rows=[row()])
    alone = hard_limit(batch(line(), rows=[row()]), "premix", [FINE.division_g])
    assert alone is not None
    assert hard_limit(made, "premix", [FINE.division_g]) == alone - 10 - Fraction(U_FINE)


def test_of_several_rows_the_smallest_maximum_is_the_hard_limit() -> None:
    rows = [row("0.0002"), row("0.00012"), row("0.00015")]
    made = batch(line(), rows=rows)
    assert hard_limit(made, "premix", [FINE.division_g]) == hard_limit(
        batch(line(), rows=[rows[1]]), "premix", [FINE.division_g]
    )


def test_a_row_about_another_agent_does_not_touch_the_line() -> None:
    nitrate = row("0.0000001", agents=("sodium nitrate",))
    made = batch(line(), rows=[nitrate, row()])
    assert hard_limit(made, "premix", [FINE.division_g]) == Fraction(at_the_limit())


def test_what_was_weighed_from_a_stronger_bag_leaves_less_of_the_bag_in_use() -> None:
    """5 g of half as much again stand for 7.5 g: 2.5 g less of the line's sum are left, and the
    uncertainty counts by the stronger bag."""
    divisions = [FINE.division_g] * 2
    mixed = line(None, load("5", lot="P-3"), lots=LOTS, lot=LOTS["P-1"])
    found = hard_limit(batch(mixed, rows=[row()]), "premix", divisions)
    allowed = allowed_g(batch(mixed), row()) / SHARE
    assert found == allowed - Fraction("2.5") - Fraction("1.5") * Fraction(U_TWO_FINE)


def test_what_was_weighed_from_a_weaker_bag_leaves_more_and_no_less_uncertainty() -> None:
    """8 g of half the strength stand for 4 g of the bag in use."""
    divisions = [FINE.division_g] * 2
    mixed = line(None, load("8", lot="P-1"), lots=LOTS, lot=LOTS["P-2"])
    found = hard_limit(batch(mixed, rows=[row()]), "premix", divisions)
    allowed = allowed_g(batch(mixed), row()) / (2 * SHARE)
    assert found == allowed + 4 - Fraction(U_TWO_FINE)


@pytest.mark.parametrize(("more", "broken"), [("0", False), ("0.000001", True)])
def test_a_second_load_up_to_the_hard_limit_of_two_bags_is_lawful(more: str, broken: bool) -> None:
    first = load("4", lot="P-2")
    mixed = line(None, first, lots=LOTS, lot=LOTS["P-1"])
    most = hard_limit(batch(mixed, rows=[row()]), "premix", [FINE.division_g] * 2)
    assert most is not None
    net = Decimal(most.numerator) / Decimal(most.denominator) - 4 + Decimal(more)
    both = replace(mixed, loads=(first, load(str(net), lot="P-1")))
    assert bool(breaches(batch(both, rows=[row()]))) is broken


REQUIRED = row("0.00012", "required")


def test_what_is_required_counts_on_the_meat_and_its_uncertainty() -> None:
    """L (M + U_M): the least that gives it, whatever the meat really weighs."""
    made = batch(line(), meat=("6000", "4000"))
    assert required_g(made, REQUIRED) == Fraction("0.00012") * (10_000 + Fraction(U_TWO_MEAT))


def test_a_line_that_no_rule_requires_has_no_least() -> None:
    made = batch(line(), line(SALT), rows=[row()], required=[REQUIRED])
    assert least_g(made, "salt", [FINE.division_g]) is None
    assert least_g(batch(line(), rows=[row()]), "premix", [FINE.division_g]) is None


def test_the_least_of_a_line_is_what_is_required_more_the_uncertainty_of_its_loads() -> None:
    made = batch(line(), required=[REQUIRED])
    needed = required_g(made, REQUIRED) / SHARE
    assert least_g(made, "premix", [FINE.division_g]) == needed + Fraction(U_FINE)
    assert least_g(made, "premix", [FINE.division_g] * 2) == needed + Fraction(U_TWO_FINE)


def test_of_several_rules_the_largest_minimum_is_the_least() -> None:
    rules = [row("0.0001", "required"), REQUIRED, row("0.00011", "required")]
    made = batch(line(), required=rules)
    assert least_g(made, "premix", [FINE.division_g]) == least_g(
        batch(line(), required=[REQUIRED]), "premix", [FINE.division_g]
    )


def least_beside(*others: object) -> Fraction:
    """How much less the premix may be for what other lines bring, grams of premix."""
    alone = least_g(batch(line(), required=[REQUIRED]), "premix", [FINE.division_g])
    beside = least_g(
        batch(line(), *others, required=[REQUIRED]),  # type: ignore[arg-type]
        "premix",
        [FINE.division_g],
    )
    assert alone is not None and beside is not None
    return alone - beside


MORE = addition("more premix", "1")


@pytest.mark.parametrize(
    ("other", "brings"),
    [
        (line(MORE, load("10"), judged=True), 10 - Fraction(U_FINE)),
        (line(MORE, load("6"), load("4"), judged=True), 10 - Fraction(U_TWO_FINE)),
        (line(MORE, load("10", residue="1"), judged=True), 9 - Fraction(U_TWO_FINE)),
        (
            line(MORE, load("5", lot="P-2"), lots=LOTS, judged=True),
            10 - 2 * Fraction(U_FINE),
        ),
        (line(MORE, load("0.041"), judged=True), Fraction(0)),
        (line(MORE, load("0.01"), judged=True), Fraction(0)),  # never less than nothing
        (line(MORE, judged=True), Fraction(0)),
        (line(MORE, load("10"), load(None), judged=True), Fraction(0)),  # nobody knows how much
        (line(MORE), 10 * Fraction("0.96")),  # waits: at least what its band lets through
        (line(MORE, load("3")), 10 * Fraction("0.96")),
        (line(MORE, skipped=True), Fraction(0)),
        (line(MORE, missing=True), Fraction(0)),
        (line(SALT), Fraction(0)),
        (line(SALT, load("180"), judged=True), Fraction(0)),
    ],
)
def test_the_least_of_a_line_counts_on_what_another_surely_brings_and_no_more(
    other: object, brings: Fraction
) -> None:
    assert least_beside(other) == brings


def test_every_other_line_counts_wherever_it_stands() -> None:
    before, behind = addition("another", "1"), addition("second premix", "1")
    assert least_beside(line(before), line(behind)) == 20 * Fraction("0.96")


def test_a_band_that_reaches_under_nothing_brings_nothing() -> None:
    tiny = addition("more premix", "0.01", contains=PREMIX)
    wide = batch(
        line(), line(tiny), required=[REQUIRED],
        bands={"more premix": Band(Decimal("1.5"), Decimal("0.02"))},
    )  # fmt: skip
    alone = least_g(batch(line(), required=[REQUIRED]), "premix", [FINE.division_g])
    assert least_g(wide, "premix", [FINE.division_g]) == alone


def test_the_lines_that_a_rule_requires_are_those_that_bring_its_agent() -> None:
    made = batch(line(), line(SALT), line(MORE), required=[REQUIRED])
    assert [found.name for found in required_lines(made)] == ["premix", "more premix"]
    assert required_lines(batch(line(), rows=[row()])) == []
