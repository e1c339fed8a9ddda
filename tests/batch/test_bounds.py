"""The most and the least of one line, as the law leaves them beside all other lines.

Bounds worked by hand: U of one net weight is 0.82 d, of a sum the root of the sum of squares
(EURAMET cg-18 v4.0, as `metrology/uncertainty.py` has it).
"""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest

from station.batch.lawful import (
    allowed_g,
    breaches,
    hard_limit,
    least_g,
    required_g,
)
from station.batch.line import Doubt, Lot
from station.formula.model import Band
from tests.batch.built import (
    FINE,
    LOTS,
    PREMIX,
    SHARE,
    TWICE,
    U_FINE,
    U_TWO_FINE,
    U_TWO_MEAT,
    addition,
    at_the_limit,
    batch,
    line,
    load,
    row,
)

SALT = addition("salt", "18", "salt", {"salt": Decimal(1)})


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


def test_after_a_sample_less_on_the_scale_is_as_much_of_the_whole() -> None:
    """Four fifths are left: what may still go in, and U, weigh a fifth less on the scale."""
    made = batch(line(), rows=[row()], kept=Decimal("0.8"))
    allowed = allowed_g(made, row()) / SHARE
    found = hard_limit(made, "premix", [FINE.division_g])
    assert found == (allowed - Fraction("1.25") * Fraction(U_FINE)) / Fraction("1.25")


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


def test_what_was_voided_in_doubt_leaves_less_by_what_it_may_have_brought() -> None:
    """5 g of a bag of twice the strength stand for 10 g; its weighing and its strength are in the
    uncertainty."""
    doubted = line(doubts=(Doubt(Decimal(5), Decimal("0.05"), "P-2"),), lots=LOTS, lot=LOTS["P-1"])
    found = hard_limit(batch(doubted, rows=[row()]), "premix", [FINE.division_g])
    assert found == allowed_g(batch(doubted), row()) / SHARE - 10 - 2 * Fraction(U_TWO_FINE)


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
TOLD = {
    "P-1": Lot("P-1", PREMIX, before=(TWICE,)),
    "P-2": Lot("P-2", TWICE, before=(PREMIX,)),
}
"""Bags told twice: what surely is in them is the weaker, with the uncertainty of the stronger."""


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
        (line(MORE, load("10", lot="P-1"), lots=TOLD, judged=True), 10 - 2 * Fraction(U_FINE)),
        (line(MORE, load("10", lot="P-2"), lots=TOLD, judged=True), 10 - 2 * Fraction(U_FINE)),
        (line(MORE, doubts=(Doubt(Decimal(10), Decimal("0.05"), None),), judged=True), Fraction(0)),
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
    tiny = addition("more premix", "0.01")
    wide = batch(
        line(), line(tiny), required=[REQUIRED],
        bands={"more premix": Band(Decimal("1.5"), Decimal("0.02"))},
    )  # fmt: skip
    alone = least_g(batch(line(), required=[REQUIRED]), "premix", [FINE.division_g])
    assert least_g(wide, "premix", [FINE.division_g]) == alone


def test_the_lines_that_a_rule_requires_are_those_that_bring_its_agent() -> None:
    made = batch(line(), line(SALT), line(MORE), required=[REQUIRED])
    assert [name for name in made.lines if made.must_have(name)] == ["premix", "more premix"]
    other = batch(line(), rows=[row()])
    assert not any(other.must_have(name) for name in other.lines)
