"""Why a batch is set aside: each reason by itself, and what stands right beside it."""

from decimal import Decimal
from fractions import Fraction

import pytest

from station.batch.lawful import hold_reasons
from station.batch.line import Line, Lot
from station.batch.state import Batch
from tests.batch.built import (
    PREMIX,
    U_FINE,
    addition,
    batch,
    line,
    load,
    row,
    tare,
)

REQUIRED = row("0.00012", "required")
LOTS = {"P-1": Lot("P-1", PREMIX)}
PEPPER = addition("pepper", "3", "seasoning", {})


def in_mix(net: str = "20", lot: str | None = "P-1") -> Line:
    """A premix whose whole sum is in the mix, from a bag that was opened."""
    return line(None, load(net, lot=lot, tipped=True), lots=LOTS, judged=True)


def reasons(*lines: Line, **fields: object) -> tuple[str, ...]:
    return hold_reasons(batch(*lines, **{"rows": [row("0.0002")], **fields}))  # type: ignore[arg-type]


def test_a_batch_that_is_as_it_was_meant_is_not_held() -> None:
    assert reasons(in_mix()) == ()
    assert reasons(line()) == ()


def test_more_than_the_law_allows_holds_the_batch() -> None:
    assert reasons(in_mix("20"), rows=[row("0.00012")]) == (
        "sodium nitrite is over 0.00012 of it of the meat block (a rule)",
    )


def test_a_line_that_is_missing_holds_the_batch_until_some_of_it_is_there() -> None:
    missing = "premix is missing, and the batch must have it"
    assert reasons(line(missing=True)) == (missing,)
    there = line(None, load("20", lot="P-1", tipped=True), lots=LOTS, missing=True)
    assert reasons(there) == ()
    assert reasons(line(PEPPER, missing=True)) == ("pepper is missing, and the batch must have it",)


def test_a_bag_of_unknown_strength_holds_the_batch_once_it_is_in_the_mix() -> None:
    nameless = "nobody knows the strength of the premix in the mix: open its lot"
    assert reasons(in_mix(lot="P-9")) == (nameless,)
    assert reasons(in_mix(lot=None)) == (nameless,)
    assert reasons(line(None, load("20", lot="P-9"), lots=LOTS, judged=True)) == ()
    part = line(None, load("12", lot="P-9", tipped=True), load("8", lot="P-9"), lots=LOTS)
    assert reasons(part) == (nameless,)  # whatever still stands


def test_an_unknown_amount_holds_the_batch_and_its_band_is_not_asked() -> None:
    one = line(None, load(None, lot="P-1", tipped=True), lots=LOTS, judged=True)
    assert reasons(one) == ("nobody knows how much premix is in the mix",)


def test_another_cure_than_the_formulas_holds_the_batch_once_it_is_in_the_mix() -> None:
    nitrate = {"P-1": Lot("P-1", {"sodium nitrate": Decimal("0.05")})}
    both = row("0.0002", agents=("sodium nitrite", "sodium nitrate"))
    strange = "what is in the mix of premix is another cure than the formula's"
    tipped = line(None, load("20", lot="P-1", tipped=True), lots=nitrate, judged=True)
    assert reasons(tipped, rows=[both]) == (strange,)
    stands = line(None, load("20", lot="P-1"), lots=nitrate, judged=True)
    assert reasons(stands, rows=[both]) == ()
    part = line(None, load("12", lot="P-1", tipped=True), load("8", lot="P-1"), lots=nitrate)
    assert reasons(part, rows=[both]) == (strange,)  # whatever still stands


@pytest.mark.parametrize(
    ("net", "side"),
    [
        ("19.199999", "under"),
        ("19.2", None),
        ("20.4", None),
        ("20.400001", "over"),
    ],
)
def test_a_limited_line_in_the_mix_holds_the_batch_outside_its_band(
    net: str, side: str | None
) -> None:
    """20 g, -4 % +2 %; both limits belong to the band."""
    found = reasons(in_mix(net))
    if side is None:
        assert found == ()
    else:
        text = f"premix in the mix is {side} its band: {net} g, band 19.2 to 20.4 g"
        assert found == (text,)


def test_a_line_that_no_rule_limits_never_holds_the_batch() -> None:
    assert reasons(line(PEPPER, load("90", tipped=True), judged=True)) == ()
    assert reasons(line(PEPPER, load(None, tipped=True), judged=True)) == ()
    assert reasons(line(PEPPER, load("30", lot="X", tipped=True), judged=True)) == ()


def test_a_line_that_no_rule_limits_does_not_hide_one_behind_it() -> None:
    assert len(reasons(line(PEPPER, load("90", tipped=True), judged=True), in_mix("21"))) == 1


def test_the_band_is_asked_only_once_the_line_is_finished_or_named_as_missing() -> None:
    part = line(None, load("10", lot="P-1", tipped=True), lots=LOTS)
    assert reasons(part) == ()
    named = line(None, load("10", lot="P-1", tipped=True), lots=LOTS, missing=True)
    assert len(reasons(named)) == 1


def test_the_band_is_asked_only_of_what_is_in_the_mix() -> None:
    stands = line(None, load("10", lot="P-1"), lots=LOTS, judged=True)
    assert reasons(stands) == ()
    rest = line(
        None, load("10", lot="P-1", tipped=True), load("10", lot="P-1"), lots=LOTS, judged=True
    )
    assert reasons(rest) == ()  # the rest may still go in
    assert reasons(rest, hold=("something",)) == (
        "premix in the mix is under its band: 10 g, band 19.2 to 20.4 g",
    )


def needed(net: Fraction | str, **fields: object) -> tuple[str, ...]:
    """Reasons of a batch of 10 kg with one premix in the mix and a rule that asks for 1.2 g of
    nitrite, 19.2 g of premix."""
    one = line(None, load(str(net), lot="P-1", tipped=True), lots=LOTS, judged=True)
    return hold_reasons(batch(one, required=[REQUIRED], **fields))  # type: ignore[arg-type]


SHORT = "sodium nitrite is under 0.00012 of it of the meat block (a rule)"


@pytest.mark.parametrize(
    ("net", "short"), [(Decimal("19.2") + U_FINE, False), (Decimal("19.240999"), True)]
)
def test_less_than_a_rule_requires_holds_the_batch_with_the_uncertainty_taken_off(
    net: Decimal, short: bool
) -> None:
    assert needed(str(net)) == ((SHORT,) if short else ())


def asked(*lines: Line) -> bool:
    made: Batch = batch(*lines, required=[REQUIRED])
    return SHORT in hold_reasons(made)


def test_a_shortage_is_told_once_every_line_that_brings_the_agent_is_through() -> None:
    little = load("1", lot="P-1", tipped=True)
    more = addition("more premix", "1")
    assert asked(line(None, little, lots=LOTS, judged=True))
    assert asked(line(None, little, lots=LOTS, missing=True))
    assert not asked(line(None, little, lots=LOTS))  # not through
    assert not asked(line(None, load("1", lot="P-1"), lots=LOTS, judged=True))  # it stands
    assert not asked(line(None, little, lots=LOTS, judged=True, tare=tare()))  # more is poured
    assert not asked(line(None, little, lots=LOTS, judged=True), line(more))
    assert asked(line(None, little, lots=LOTS, judged=True), line(more, missing=True))
    assert asked(line(None, little, lots=LOTS, judged=True), line(PEPPER))


def test_a_batch_that_no_line_brings_the_agent_to_is_not_short_of_it() -> None:
    assert not asked(line(PEPPER, judged=True))


def test_two_lines_together_give_what_a_rule_requires() -> None:
    """10 g and 9.3 g, less 0.041 g each, are 19.218 g of 19.2 g; 9.2 g are too little."""
    more = addition("more premix", "1")

    def second(net: str) -> Line:
        return line(more, load(net, lot="P-1", tipped=True), lots=LOTS, judged=True)

    assert not asked(in_mix("10"), second("9.3"))
    assert asked(in_mix("10"), second("9.2"))


def test_a_line_counts_for_what_is_required_by_what_it_was_meant_to_bring_or_by_its_bag() -> None:
    salt = Lot("P-1", {"salt": Decimal(1)})  # the bag turned out to be no cure at all
    assert asked(
        line(None, load("20", lot="P-1", tipped=True), lots={"P-1": salt}, lot=salt, judged=True)
    )
    cured = load("1", lot="P-1", tipped=True)  # and this one to be one
    assert asked(line(PEPPER, cured, lots=LOTS, lot=LOTS["P-1"], judged=True))


@pytest.mark.parametrize(("net", "said"), [("19.15", "under"), ("20.45", "over")])
def test_the_band_of_a_hold_is_told_on_the_grid_of_the_scale_inward(net: str, said: str) -> None:
    """2.003 g/kg on 10 kg: 19.2288 to 20.4306 g by the formula, on the grid of 0.05 g."""
    strange = addition("premix", "2.003", "cure", PREMIX)
    made = line(strange, load(net, lot="P-1", tipped=True), lots=LOTS, judged=True)
    assert reasons(made) == (
        f"premix in the mix is {said} its band: {net} g, band 19.25 to 20.4 g",
    )
