"""Where a batch stands: what is finished, what is lacking, in or out of its band."""

from decimal import Decimal

import pytest

from station.batch import events as ev
from station.batch.line import Line, MeatLine
from station.batch.progress import current, finished, lacking, phase, stands_before, verdict
from station.batch.state import Batch
from tests.batch.built import addition, batch, line, load, tare

SALT = addition("salt", "18", "salt", {"salt": Decimal(1)})
PEPPER = addition("pepper", "3", "seasoning", {})


def accepted(meat: str = "10000", as_weighed: bool = False) -> ev.Accepted:
    return ev.Accepted(
        line="premix", net_g=Decimal(20), target_g="20", lower_g="19.2", upper_g="20.4",
        accept_lower_g=Decimal("19.25"), accept_upper_g=Decimal("20.35"), aim_g="20", hard_g=None,
        expanded_g=Decimal("0.041"), conformance="1.0000", meat_g=Decimal(meat), loads=1,
        as_weighed=as_weighed, keyed=True, who="Ansel",
    )  # fmt: skip


def one(net: str | None = "20", meat: str = "10000", **fields: object) -> tuple[Batch, Line]:
    """A batch of so much meat with a single premix of so much in it, target 2 g/kg."""
    loads = () if net is None else (load(net),)
    made = line(None, *loads, **fields)
    return batch(made, meat=(meat,)), made


def done(net: str = "20", **fields: object) -> Line:
    return line(None, load(net, tipped=True), accepted=accepted(), judged=True, **fields)


def test_a_batch_goes_from_meat_to_additions_and_ends() -> None:
    half = {"pork": MeatLine("pork", Decimal(1))}
    assert phase(batch(line(), meats=half)) == "meat"
    assert phase(batch(line())) == "additions"
    assert phase(batch(line(), hold=("x",))) == "on hold"
    assert phase(batch(line(), meats=half, hold=("x",))) == "on hold"
    assert phase(batch(line(), hold=("x",), end="closed")) == "done"


def test_what_comes_next_is_the_first_that_is_not_finished() -> None:
    half = {"pork": MeatLine("pork", Decimal(1))}
    salt = line(SALT)
    assert current(batch(line(), salt, meats=half)) == "pork"
    assert current(batch(line(), salt)) == "premix"
    assert current(batch(done(), salt)) == "salt"
    assert current(batch(done())) is None
    assert current(batch(line(), end="abandoned")) is None
    assert current(batch(line(), meats=half, end="abandoned")) is None


def test_of_two_meats_the_one_that_has_not_ended_comes_next() -> None:
    meats = {
        "pork": MeatLine("pork", Decimal("0.5"), ended=True),
        "veal": MeatLine("veal", Decimal("0.5")),
    }
    assert current(batch(line(), meats=meats)) == "veal"


def test_a_step_waits_in_its_place_until_it_is_done() -> None:
    order = ("premix", "knead", "salt")
    salt = line(SALT)
    assert current(batch(done(), salt, order=order)) == "knead"
    assert current(batch(done(), salt, order=order, steps_done={"knead": None})) == "salt"
    assert current(batch(line(), salt, order=order)) == "premix"


def test_on_hold_only_what_brings_the_batch_back_comes_next() -> None:
    hold, order = ("x",), ("knead", "premix", "salt")
    salt = line(SALT)
    assert current(batch(line(), salt, order=order, hold=hold)) is None
    assert current(batch(line(missing=True), salt, order=order, hold=hold)) == "premix"
    assert current(batch(line(tare=tare()), salt, order=order, hold=hold)) == "premix"
    void = ev.VoidAsked(line="premix", reason="wet", who="Ansel")
    assert current(batch(line(voiding=void), salt, order=order, hold=hold)) == "premix"
    little = line(None, load("19.1", tipped=True), judged=True)
    assert current(batch(little, salt, order=order, hold=hold)) == "premix"
    enough = line(None, load("19.2", tipped=True), judged=True)
    assert current(batch(enough, salt, order=order, hold=hold)) is None


def test_what_stands_before_a_step_is_named() -> None:
    order = ("premix", "pepper", "knead", "salt")
    stands, mixed = line(None, load("20")), line(None, load("20", tipped=True))
    pepper, salt = line(PEPPER, load("30")), line(SALT, load("180"))
    assert stands_before(batch(stands, pepper, salt, order=order), "knead") == "premix"
    assert stands_before(batch(mixed, pepper, salt, order=order), "knead") == "pepper"
    gone = line(PEPPER, load("30", tipped=True))
    assert stands_before(batch(mixed, gone, salt, order=order), "knead") is None
    steps = ("soak", *order)
    assert stands_before(batch(mixed, pepper, salt, order=steps), "soak") is None
    later = ("premix", "soak", "knead", "salt", "pepper")
    assert stands_before(batch(mixed, pepper, salt, order=later), "knead") is None


@pytest.mark.parametrize(
    ("net", "lacks"), [("19.199999", True), ("19.2", False), ("25", False), ("0", True)]
)
def test_a_line_lacks_what_it_has_under_its_band_and_nothing_at_it(net: str, lacks: bool) -> None:
    made, premix = one(net, accepted=accepted())
    assert lacking(made, premix) is lacks


def test_more_meat_makes_a_line_lack_what_was_enough() -> None:
    """19.2 g are the least for 10 kg; one gram of meat more asks for more."""
    made, premix = one("19.2", "10001", accepted=accepted())
    assert lacking(made, premix)
    assert not finished(made, premix)


def test_nothing_is_lacking_where_nobody_knows_or_it_is_still_weighed() -> None:
    made, unknown = one(None)
    assert not lacking(made, unknown)  # not begun, and not asked for
    made, named = one(None, missing=True)
    assert lacking(made, named)
    first = line(None, load("10"))
    assert not lacking(batch(first), first)  # the next load comes
    tipped = line(None, load("10", tipped=True))
    assert lacking(batch(tipped), tipped)
    nobody = line(None, load("10", tipped=True), load(None, tipped=True))
    assert not lacking(batch(nobody), nobody)
    stands = line(None, load("10"), accepted=accepted())
    assert lacking(batch(stands), stands)


def test_a_line_is_finished_once_its_sum_is_accepted_and_nothing_is_under_way() -> None:
    void = ev.VoidAsked(line="premix", reason="wet", who="Ansel")
    assert finished(*one(accepted=accepted()))
    assert not finished(*one(accepted=accepted(), tare=tare()))
    assert not finished(*one(accepted=accepted(), voiding=void))
    assert not finished(*one())


def test_what_was_accepted_for_this_much_meat_stays_finished_even_under_its_band() -> None:
    """It was judged by its own limits then; only another weight of meat asks anew."""
    assert finished(*one("19", accepted=accepted("10000")))
    assert not finished(*one("19", accepted=accepted("9000")))
    assert not finished(*one("19", accepted=accepted("11000")))
    assert finished(*one("20", accepted=accepted("9000")))


def test_as_weighed_is_finished_whatever_it_lacks() -> None:
    assert finished(*one("5", "20000", accepted=accepted(as_weighed=True)))


def test_what_went_in_unaccepted_is_finished_unless_it_lacks() -> None:
    def tipped(net: str, unaccepted: bool = True) -> tuple[Batch, Line]:
        made = line(None, load(net, tipped=True), unaccepted=unaccepted, judged=True)
        return batch(made), made

    assert finished(*tipped("19.2"))
    assert not finished(*tipped("19.1"))
    assert not finished(*tipped("19.2", unaccepted=False))


@pytest.mark.parametrize(
    ("net", "found"),
    [("19.199999", "out"), ("19.2", "in"), ("20", "in"), ("20.4", "in"), ("20.400001", "out")],
)
def test_in_is_inside_the_band_or_exactly_at_its_limits(net: str, found: str) -> None:
    assert verdict(*one(net, accepted=accepted())) == found


def test_the_verdict_goes_by_the_meat_as_it_is_now() -> None:
    assert verdict(*one("20", "10000", accepted=accepted())) == "in"
    assert verdict(*one("20", "12000", accepted=accepted())) == "out"


def test_the_verdict_says_how_a_line_came_to_its_end() -> None:
    assert verdict(*one(None)) is None
    assert verdict(*one("20")) is None
    assert verdict(*one(None, skipped=True)) == "skipped"
    assert verdict(*one("20", skipped=True, accepted=accepted())) == "in"
    assert verdict(*one("20", accepted=accepted(as_weighed=True))) == "out"
    assert verdict(*one("20", unaccepted=True)) == "unaccepted"
    assert verdict(*one("20", unaccepted=True, accepted=accepted())) == "unaccepted"
