"""What is left of a raw mix is weighed and put away, made of what is in it then, and of nothing
that comes after."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest

from station.batch import events as ev
from station.batch.amounts import whole_g
from station.batch.evolve import evolve
from station.batch.leftovers import composed, uncertain_g, unused_g
from station.batch.state import Kept
from station.batch.tally import least_load_g
from station.batch.way_back import way_back
from station.formula.sheet import parse_formula
from station.metrology.uncertainty import expanded
from station.units import plain
from station.weighing import commands as do
from tests.benchside import BENCH, CUPS, Bench
from tests.weighing.leftovers import (
    CURED,
    LOT,
    REWORK,
    SACHET,
    TWO_MEATS,
    fill,
    kept,
    leftover,
    made,
    named,
    opens,
    refused,
    reworked,
    take,
)
from tests.weighing.test_clocks import passes
from tests.weighing.test_tallying import FORMULA, put


def test_what_is_left_is_weighed_and_gets_a_lot_of_its_own() -> None:
    bench = made()
    bench.say(do.CountPieces("links", "fine"))
    put(bench, "60")
    bench.say(do.End("links"))
    kept(bench)
    event = bench.last(ev.LeftoverKept)
    assert (event.lot, event.net_g, event.tare_g) == (LOT, 1000, 1200)  # type: ignore[attr-defined]
    assert bench.station.leftovers[LOT].left_g == 1000


def test_its_composition_is_that_of_the_mix_as_it_was_weighed() -> None:
    bench = kept(made())
    batch, found = bench.batch, leftover(bench)
    assert [(part.name, part.role) for part in found.parts] == [
        *(("pork", "meat"), ("salt", "salt"), ("pepper", "seasoning"))
    ]
    whole = Fraction(12000) + Fraction("215.90") + Fraction("35.90")  # less what clung to the cups
    assert whole_g(batch) == whole
    for part, grams in zip(found.parts, ("12000", "215.90", "35.90"), strict=True):
        assert abs(Fraction(part.share) * whole - Fraction(grams)) < Fraction(1, 10**6)
    assert abs(sum(part.share for part in found.parts) - 1) < Decimal("1e-11")


def test_it_is_composed_when_its_batch_is_closed_and_not_before() -> None:
    bench = made()
    bench.show("bench", "2200")
    bench.say(do.KeepLeftover("bench", "tub"))
    assert bench.station.leftovers[LOT].leftover is None
    bench.show("bench", "0")
    bench.say(do.Park())
    opens(bench)
    assert bench.refused(named()).code == "not-closed"


def test_the_most_and_the_least_of_an_agent_that_is_in_it_stand_around_what_was_weighed() -> None:
    bench = kept(made(CURED))
    found, premix = leftover(bench), bench.line("premix")
    whole = whole_g(bench.batch)
    nominal = Fraction(premix.actual_g) * Fraction("0.0625") / whole
    most, least = (Fraction(side["sodium nitrite"]) for side in (found.most, found.least))
    assert least < nominal < most
    uncertain = Fraction(expanded([Decimal("0.05")])) + Fraction("0.10")  # and what clung to it
    assert most - nominal < (uncertain * Fraction("0.0625") + Fraction("0.002")) / whole
    assert Fraction(found.meat_least) < Fraction(found.meat)


def floored(share: Fraction, up: bool = False) -> Decimal:
    """To twelve decimals."""
    whole = share * 10**12
    return Decimal(-(-whole.numerator // whole.denominator) if up else int(whole)).scaleb(-12)


def test_what_it_holds_is_rounded_and_counted_to_the_side_on_which_it_does_harm() -> None:
    """By hand: 24 g of premix less 0.10 g that clung, weighed with d = 0.05 g and once more as it
    came back empty; U is twice the root of the sum of d^2 / 12 (`published/test_metrology.py`)."""
    bench = kept(made(CURED))
    found, lines = leftover(bench), bench.batch.lines.values()
    one, both = (Fraction(expanded([Decimal("0.05")] * times)) for times in (1, 2))
    meat_u = Fraction(expanded([Decimal(2)]))
    whole = Fraction(12000) + sum(Fraction(line.actual_g) for line in lines)
    uncertain = meat_u + 4 * both
    agent = Fraction("0.0625")
    most, least = (24 + one) * agent, (Fraction("23.90") - both) * agent
    assert found.most == {"sodium nitrite": floored(most / (whole - uncertain), up=True)}
    assert found.least == {"sodium nitrite": floored(least / (whole + uncertain))}
    assert found.meat_least == floored((12000 - meat_u) / (whole + uncertain))
    assert found.meat == found.parts[0].share == floored(12000 / whole)
    assert found.parts[2].share == floored(Fraction("23.90") / whole)
    assert unused_g(bench.batch) == whole - 1000
    assert uncertain_g(bench.batch) == uncertain


def test_what_was_not_weighed_is_no_part_of_it() -> None:
    bench = Bench(TWO_MEATS + REWORK)
    bench.vessels()
    bench.open("10000", "261130-1")
    take(bench, 10000)
    for name in bench.batch.meats:
        bench.say(do.End(name, sure=True))
    bench.add("salt", "cup 3", "180")
    bench.say(do.Skip("pepper", "none there"))
    bench.show("bench", "2200")
    bench.say(do.KeepLeftover("bench", "tub"))
    bench.show("bench", "0")
    bench.say(do.Close(("pepper",)))
    assert [part.name for part in leftover(bench).parts] == ["pork", "salt"]


def test_what_was_tasted_is_not_left() -> None:
    bench = made()
    whole = whole_g(bench.batch)
    bench.say(do.TakeSample(None, None, Decimal(1000), "cook it through"))
    assert abs(unused_g(bench.batch) - (whole - 1000)) < Fraction(1, 10**6)
    bench.say(do.EndTasting())
    bench.show("bench", str(1200 + 11300))
    assert bench.refused(do.KeepLeftover("bench", "tub")).code == "too-much"
    bench.show("bench", str(1200 + 11250))
    bench.say(do.KeepLeftover("bench", "tub"))


def test_nothing_is_kept_before_all_is_in() -> None:
    bench = Bench(FORMULA).begin()
    bench.add("salt", "cup 1", "216")
    bench.show("bench", "2200")
    assert bench.refused(do.KeepLeftover("bench", "tub")).code == "not-in"


def test_what_has_been_heated_is_no_leftover() -> None:
    cooked = '\n[[step]]\nname = "poach"\nafter = "pepper"\ntemperature = ">= 72 degC"\n'
    bench = made(FORMULA + cooked)
    bench.say(do.EndStep("poach", "73 degC"))
    bench.show("bench", "2200")
    refusal = bench.refused(do.KeepLeftover("bench", "tub"))
    assert (refusal.code, refusal.sentence) == ("not-raw", "poach is done: it is not raw any more")


def test_what_was_out_of_the_cold_too_long_is_no_leftover() -> None:
    cold = '\n[[step]]\nname = "cold"\nafter = "filling"\nsince = "first meat"\ntime = "<= 2 h"\n'
    bench = made(FORMULA + cold)
    bench.show("bench", "2200")
    passes(bench, 121)
    assert bench.refused(do.KeepLeftover("bench", "tub")).code == "not-raw"
    passes(bench, 120)
    bench.say(do.KeepLeftover("bench", "tub"))


def test_what_has_hung_is_no_leftover() -> None:
    bench = made(FORMULA.replace('piece = "60 g"', 'piece = "60 g"\nloss = "30 %"'))
    bench.say(do.CountPieces("links", "fine"))
    put(bench, "60")
    bench.say(do.End("links"))
    bench.say(do.WeighDried("links", "fine"))
    put(bench, "50")
    bench.say(do.End(bench.batch.tally.name))
    bench.show("bench", "2200")
    assert bench.refused(do.KeepLeftover("bench", "tub")).sentence == "it has hung, and lost water"


@pytest.mark.parametrize(("grams", "fits"), [(12250, True), (12280, False)])
def test_no_more_is_kept_than_is_left_of_the_mix(grams: int, fits: bool) -> None:
    """12 251.8 g were weighed in, U about 3 g with what clung."""
    bench = made()
    bench.show("bench", str(1200 + grams))
    command = do.KeepLeftover("bench", "tub")
    if fits:
        bench.say(command)
    else:
        assert bench.refused(command).code == "too-much"


def test_what_is_in_pieces_or_kept_already_is_not_left() -> None:
    bench = made()
    bench.say(do.CountPieces("links", "bench"))
    put(bench, "6000", "bench")
    bench.say(do.End("links"))
    bench.show("bench", "6200")
    bench.say(do.KeepLeftover("bench", "tub"))
    bench.show("bench", "0")
    bench.show("bench", "2500")
    assert bench.refused(do.KeepLeftover("bench", "tub")).code == "too-much"
    bench.show("bench", "0")
    bench.show("bench", "2400")
    assert bench.say(do.KeepLeftover("bench", "tub")).endswith("write 261130-1-L2 on it")


def test_one_vessel_is_kept_once() -> None:
    bench = made()
    bench.show("bench", "2200")
    bench.say(do.KeepLeftover("bench", "tub"))
    again = bench.refused(do.KeepLeftover("bench", "tub"))
    assert (again.code, again.sentence) == (
        "same-load", f"this weighs as {LOT} did: it is kept already"
    )  # fmt: skip
    bench.show("bench", "0")
    bench.show("bench", "2206")  # within three divisions
    assert bench.refused(do.KeepLeftover("bench", "tub")).code == "same-load"
    bench.show("bench", "0")
    bench.show("bench", "2208")
    bench.say(do.KeepLeftover("bench", "tub"))


def test_nothing_on_the_pan_is_no_leftover() -> None:
    bench = made()
    bench.show("bench", "1200")
    assert bench.refused(do.KeepLeftover("bench", "tub")).code == "not-settled"
    assert bench.refused(do.KeepLeftover("bench", "bowl")).code == "no-vessel"


def test_a_leftover_of_a_leftover_holds_what_both_held() -> None:
    bench = reworked(CURED)
    fill(bench)
    bench.show("bench", "2200")
    bench.say(do.KeepLeftover("bench", "tub"))
    bench.show("bench", "0")
    batch = bench.batch
    bench.say(do.Close())
    found = bench.station.leftovers["261130-2-L1"].leftover
    assert found is not None
    assert [part.name for part in found.parts] == ["pork", "salt", "premix", "pepper", "garlic"]
    pork = 9000 + 1000 * Fraction(leftover(bench).parts[0].share)
    assert found.parts[0].share == floored(pork / whole_g(batch))
    assert list(bench.station.leftovers) == [LOT, "261130-2-L1"]
    premix = Fraction(batch.lines["premix"].actual_g) * Fraction("0.0625")
    nitrite = premix + 1000 * Fraction(leftover(bench).contains["sodium nitrite"])
    share = nitrite / whole_g(batch)
    assert abs(Fraction(found.contains["sodium nitrite"]) - share) < Fraction(1, 10**10)
    assert Fraction(found.least["sodium nitrite"]) < share < Fraction(found.most["sodium nitrite"])


def among_others(bench: Bench) -> dict[str, Kept]:
    """With leftovers of a batch before it and of one after it, which are not touched."""
    others = {
        f"{batch}-L1": Kept(batch, Decimal(500), Decimal(2), bench.at)
        for batch in ("261129-1", "261201-1")
    }
    bench.station = replace(bench.station, leftovers={**others, **bench.station.leftovers})
    return others


def test_a_closed_batch_composes_its_own_leftovers_alone() -> None:
    bench = made()
    bench.show("bench", "2200")
    bench.say(do.KeepLeftover("bench", "tub"))
    bench.show("bench", "0")
    others = among_others(bench)
    bench.say(do.Close())
    found = dict(bench.station.leftovers)
    assert found.pop(LOT).leftover is not None
    assert found == others


def test_a_part_of_less_than_a_gram_is_one() -> None:
    bench = kept(made())
    line = bench.line("pepper")
    small = replace(line, loads=(replace(line.loads[0], net_g=Decimal("0.50"), residue_g=None),))
    batch = replace(bench.batch, lines={**bench.batch.lines, "pepper": small})
    assert [part.name for part in composed(batch).parts] == ["pork", "salt", "pepper"]


def test_what_is_left_of_a_batch_that_is_given_up_is_no_leftover() -> None:
    bench = made()
    bench.show("bench", "2200")
    bench.say(do.KeepLeftover("bench", "tub"))
    bench.show("bench", "0")
    others = among_others(bench)
    bench.station = evolve(
        bench.station, ev.Abandoned(reason="x", who="Ansel"), bench.at, "261130-1"
    )
    assert bench.station.leftovers == others


def after_it_is_kept(formula: str = FORMULA, skipped: str = "pepper") -> Bench:
    """A batch of which a line was put off and some of the mix is kept."""
    bench = Bench(formula + REWORK)
    bench.vessels()
    bench.open("12000", "261130-1")
    bench.weigh_meat()
    bench.add("salt", "cup 3", "216")
    bench.say(do.Skip(skipped, "later"))
    bench.show("bench", "7200")
    bench.say(do.KeepLeftover("bench", "tub"))
    bench.show("bench", "0")
    return bench


def test_nothing_more_goes_into_the_rest_of_a_mix_of_which_some_is_kept() -> None:
    bench = after_it_is_kept()
    what = "some of the mix is kept for another batch: nothing more can be mixed in"
    for command in (
        *(do.Use("cup 1", "pepper"), do.TakeSample(None, None, Decimal(50), "cook it")),
        *(do.TakeMeatOut("pork"), do.Wish("salt", Decimal("0.02"))),
    ):
        refusal = bench.refused(command)
        assert refusal.sentence == what or refusal.code == "no-sample", command
    bench.show("fine", CUPS["cup 1"])
    assert bench.line("pepper").tare is None
    bench.say(do.Use("tub", "pork"))
    bench.show("bench", "3200")
    assert bench.refused(do.Accept("pork")).sentence == what
    assert way_back(bench.batch).why_not == what


def test_what_went_in_after_it_was_kept_makes_it_unfit() -> None:
    bench = after_it_is_kept()
    bench.say(do.Tip("salt", more=True))
    assert bench.station.leftovers[LOT].spoilt
    bench.say(do.Close(("salt", "pepper")))
    bench.formula = parse_formula((FORMULA + REWORK).replace("test ring", "next"), "next.toml")
    bench.open("10000", "261130-2")
    assert refused(bench) == (
        "not-known", f"something went into the rest of {LOT} after it was kept"
    )  # fmt: skip


def test_what_goes_into_another_batch_spoils_nothing() -> None:
    bench = opens(kept(made()))
    take(bench, 5000)
    assert not bench.station.leftovers[LOT].spoilt


def test_the_allergens_of_what_is_counted_are_in_it() -> None:
    bench = Bench(FORMULA + SACHET + REWORK)
    bench.vessels()
    bench.open("12000", "261130-1")
    bench.weigh_meat()
    fill(bench)
    bench.say(do.EndStep("culture"))
    assert bench.station.soiled == {"milk": "261130-1"}
    kept(bench)
    assert leftover(bench).allergens == ("milk",)
    bench.station = replace(bench.station, soiled={})
    opens(bench)
    assert refused(bench) == ("allergen", f"{LOT} brings milk, and next has none")
    other = replace(bench.station, batch=None, soiled={})
    bench.station = other
    again = FORMULA.replace("revision = 1", "revision = 2")
    opens(bench, again + SACHET.replace("milk", "Milk") + REWORK)
    bench.say(named())


def test_a_leftover_is_as_old_as_the_oldest_that_is_in_it() -> None:
    bench = reworked()
    fill(bench)
    passes(bench, 47 * 60)
    bench.show("bench", "2200")
    bench.say(do.KeepLeftover("bench", "tub"))
    bench.show("bench", "0")
    bench.say(do.Close())
    assert bench.station.leftovers["261130-2-L1"].at == "2026-11-30T10:00:00.000Z"
    bench.open("10000", "261130-3")
    passes(bench, 49 * 60)
    assert bench.refused(named(lot="261130-2-L1")).code == "too-old"


def test_the_same_without_the_name_of_its_vessel_is_kept_once() -> None:
    bench = made()
    bench.show("bench", "2200")
    bench.say(do.KeepLeftover("bench"))
    assert bench.refused(do.KeepLeftover("bench", "tub")).code == "same-load"


def test_the_screen_offers_to_keep_what_stands_on_a_scale_once_some_is_filled() -> None:
    bench = made()
    bench.show("bench", "2200")
    assert "leftover" not in [offer.verb for offer in bench.told.offers]
    bench.say(do.CountPieces("links", "fine"))
    put(bench, "60")
    bench.say(do.End("links"))
    found = [offer.params for offer in bench.told.offers if offer.verb == "leftover"]
    assert found == [{"scale": "bench", "vessel": "tub"}]


def test_it_is_thrown_away_with_a_reason() -> None:
    bench = kept(made())
    others = dict.fromkeys(("261130-0-L1", "261130-9-L1"), bench.station.leftovers[LOT])
    bench.station = replace(bench.station, leftovers={**bench.station.leftovers, **others})
    assert bench.say(do.Discard(LOT, "too old")) == f"{LOT} is no more"
    assert list(bench.station.leftovers) == list(others)
    event = bench.last(ev.LeftoverDiscarded)
    assert (event.left_g, event.reason, event.who) == (1000, "too old", "Ansel")  # type: ignore[attr-defined]
    assert bench.refused(do.Discard(LOT, "x")).code == "no-leftover"
    opens(bench)
    assert refused(bench)[0] == "no-leftover"


def test_what_is_kept_of_a_leftover_is_what_was_not_used() -> None:
    kept_g = Kept("b", Decimal(1000), Decimal(2), "", Decimal(400))
    assert kept_g.left_g == 600


def test_without_a_vessel_all_that_is_on_the_pan_is_kept() -> None:
    bench = made()
    bench.show("bench", "2200")
    bench.say(do.KeepLeftover("bench"))
    event = bench.last(ev.LeftoverKept)
    assert (event.net_g, event.tare_g, event.vessel) == (2200, 0, None)  # type: ignore[attr-defined]


def test_the_least_that_counts_as_a_piece_is_kept_and_a_division_less_is_not() -> None:
    bench = made()
    least = least_load_g(BENCH)
    bench.show("bench", str(1200 + least - 2))
    assert bench.refused(do.KeepLeftover("bench", "tub")).code == "not-settled"
    bench.show("bench", str(1200 + least))
    bench.say(do.KeepLeftover("bench", "tub"))


@pytest.mark.parametrize("first", ["bin", "tub"])
def test_two_vessels_that_weigh_the_same_are_kept_each(first: str) -> None:
    bench = made()
    bench.show("bench", "1500")
    bench.say(do.RecordVessel("bin", "bench"))
    bench.show("bench", "0")
    bench.show("bench", "2200")
    bench.say(do.KeepLeftover("bench", first))
    bench.show("bench", "0")
    bench.show("bench", "2200")
    bench.say(do.KeepLeftover("bench", "tub" if first == "bin" else "bin"))
    assert list(bench.station.leftovers) == [LOT, "261130-1-L2"]


def test_what_the_weighings_may_be_off_is_room_for_what_is_kept() -> None:
    """12 251.8 g of mix: 12 252 g are more than was weighed, and not more than may be there."""
    bench = made()
    left, off = unused_g(bench.batch), uncertain_g(bench.batch)
    assert left < 12252 <= left + off < 12254
    bench.show("bench", str(1200 + 12254))
    refusal = bench.refused(do.KeepLeftover("bench", "tub"))
    most = plain(round(left + off, 1))
    assert refusal.sentence == f"12254 g is more than is left of the mix, {most} g at most"
    bench.show("bench", str(1200 + 12252))
    bench.say(do.KeepLeftover("bench", "tub"))
    bench.show("bench", "0")
    bench.show("bench", "1700")
    refusal = bench.refused(do.KeepLeftover("bench", "tub"))
    assert refusal.sentence.endswith(f"{plain(round(left + off - 12252, 1))} g at most")


def test_where_more_is_kept_than_was_there_nothing_is_left() -> None:
    bench = made()
    kept_g = ev.LeftoverKept(
        lot="x", net_g=Decimal(13000), gross_g=Decimal(14000), tare_g=Decimal(0), scale="bench",
        division_g=Decimal(2), raw="", who="", vessel="bin",
    )  # fmt: skip
    batch = replace(bench.batch, left_over=(kept_g,))
    bench.station = replace(bench.station, batch=batch)
    bench.show("bench", "2200")
    refusal = bench.refused(do.KeepLeftover("bench", "tub"))
    assert refusal.sentence == "1000 g is more than is left of the mix, 0 g at most"


def test_what_nobody_knows_the_amount_of_is_named() -> None:
    bench = made()
    for name in ("pepper", "salt"):
        bench.say(do.Tip(name, more=True))
    bench.show("bench", "2200")
    refusal = bench.refused(do.KeepLeftover("bench", "tub"))
    assert (refusal.code, refusal.line) == ("unknown-amount", "salt")
    assert refusal.sentence == "nobody knows how much salt is in it"


@pytest.mark.parametrize(("used", "left"), [("999", "1"), ("1000", "0"), ("1003", "0")])
def test_what_is_thrown_away_is_what_was_not_used(used: str, left: str) -> None:
    bench = kept(made())
    one = replace(bench.station.leftovers[LOT], used_g=Decimal(used))
    bench.station = replace(bench.station, leftovers={LOT: one})
    bench.say(do.Discard(LOT, "old"))
    assert bench.last(ev.LeftoverDiscarded).left_g == Decimal(left)  # type: ignore[attr-defined]


def test_what_spoils_one_spoils_none_of_another_batch() -> None:
    bench = after_it_is_kept()
    others = among_others(bench)
    bench.say(do.Tip("salt", more=True))
    found = dict(bench.station.leftovers)
    assert found.pop(LOT).spoilt
    assert found == others


def weighed(bench: Bench, net_g: str) -> Decimal:
    """What is used of the leftover after a load of so much under its lot, whoever recorded that."""
    load = ev.MeatWeighed(
        line="pork", net_g=Decimal(net_g), gross_g=Decimal(0), tare_g=Decimal(0), scale="bench",
        division_g=Decimal(2), vessel="tub", who="Ansel", raw="", lot=LOT,
    )  # fmt: skip
    return evolve(bench.station, load, bench.at, "261130-2").leftovers[LOT].used_g


def test_what_leaves_a_batch_under_the_name_of_a_leftover_makes_it_no_more() -> None:
    bench = opens(kept(made()))
    bench.say(named())
    assert (weighed(bench, "-500"), weighed(bench, "1"), weighed(bench, "500")) == (0, 1, 500)
