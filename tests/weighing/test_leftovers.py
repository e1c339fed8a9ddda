"""What is left of a batch and used as meat of the next: its salt, its cure, its allergens and its
age are counted there, and a product that has no place for them refuses it."""

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest

from station.batch import events as ev
from station.batch.amounts import salt, whole_g
from station.batch.evolve import evolve
from station.batch.lawful import hard_limit, least_g, most_g
from station.batch.leftovers import batch_of, composed, uncertain_g, unused_g
from station.batch.line import MeatLine
from station.batch.state import Batch, Kept
from station.batch.way_back import way_back
from station.formula.leftover import Leftover, Part, Wanted, brings, rework_of
from station.formula.sheet import parse_formula
from station.metrology.uncertainty import expanded
from station.tomlfile import FileMistakes, TomlFile
from station.weighing import commands as do
from tests.benchside import CUPS, NITRITE, RING, Bench
from tests.weighing.test_clocks import passes
from tests.weighing.test_tallying import FORMULA, put

REWORK = '\n[rework]\nmost = "20 %"\nwithin = "48 h"\n'
LOT = "261130-1-L1"
TWO_MEATS = FORMULA.replace(
    'share = "100 %"', 'share = "90 %"\n[[meat]]\nname = "belly"\nshare = "10 %"'
)
WHEAT = FORMULA.replace('name = "pepper"', 'name = "pepper"\nallergens = ["wheat"]')
PORK = '[[meat]]\nname = "pork"\nshare = "100 %"\n'
CURED = RING.replace('product = "cooked cured comminuted"', 'product = "cured comminuted"')
ADDED = {"salt": "216", "premix": "24", "pepper": "36", "garlic": "60"}
CUP_OF = {"salt": "cup 3", "premix": "cup 2", "pepper": "cup 1", "garlic": "cup 1", "sage": "cup 1"}


def made(formula: str = FORMULA, meat_g: str = "12000") -> Bench:
    """A batch of which all is in the mix, and some of it in pieces where those are counted."""
    bench = Bench(formula + REWORK)
    bench.vessels()
    bench.open(meat_g, "261130-1")
    bench.weigh_meat(meat_g)
    fill(bench)
    return bench


def fill(bench: Bench) -> None:
    """Every addition, at its target as it is worked out."""
    if "premix" in bench.batch.lines:
        bench.say(do.OpenLot("premix", "P-41", NITRITE, None, "2026-11-30"))
    for name in bench.batch.lines:
        target = round(bench.batch.target(name) * 20) / Decimal(20)
        bench.add(name, CUP_OF[name], str(target))


def kept(bench: Bench, grams: int = 1000) -> Bench:
    """So much of it is left, in the tub, and the batch is closed."""
    bench.show("bench", str(1200 + grams))
    assert bench.say(do.KeepLeftover("bench", "tub")) == f"{grams} g are kept: write {LOT} on it"
    bench.show("bench", "0")
    bench.say(do.Close())
    return bench


def opens(bench: Bench, formula: str = FORMULA + REWORK, plan_g: str = "10000") -> Bench:
    """The next batch, of that formula."""
    bench.formula = parse_formula(formula.replace("test ring", "next"), "next.toml")
    bench.open(plan_g, "261130-2")
    return bench


def named(line: str = "pork", lot: str = LOT) -> do.NameMeatLot:
    return do.NameMeatLot(line, lot, None, None, None, "2026-11-30")


def take(bench: Bench, grams: int, line: str = "pork") -> None:
    bench.say(do.Use("tub"))
    bench.show("bench", "1200")
    bench.show("bench", str(1200 + grams))
    bench.say(do.Accept(line))
    bench.show("bench", "0")
    bench.show("bench", "1200")
    bench.show("bench", "0")


def reworked(formula: str = FORMULA, grams: int = 1000, fresh: int = 9000) -> Bench:
    """The next batch of the same formula, with so much of the last in it."""
    bench = opens(kept(made(formula), grams), formula + REWORK)
    take(bench, fresh)
    bench.say(named())
    take(bench, grams)
    bench.say(do.End("pork", sure=True))
    return bench


def leftover(bench: Bench) -> Leftover:
    found = bench.station.leftovers[LOT].leftover
    assert found is not None
    return found


# what is kept


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


# what it brings


def test_a_leftover_of_the_same_formula_wants_no_more_of_anything() -> None:
    """1 kg of the mix beside 9 kg of meat: what is to be weighed is what 9 kg of meat takes, as
    near as the first batch was to its own targets."""
    bench = reworked()
    meat = bench.batch.meat_g
    assert meat == Decimal("9979.44")  # 12 000 of 12 251.80 g are meat
    for name, share in (("salt", "0.018"), ("pepper", "0.003")):
        clung = Fraction("0.10") / Fraction("12251.80") * 1000  # of what was weighed to its target
        assert abs(bench.batch.target(name) - 9000 * Fraction(share) - clung) < Fraction(1, 1000)


def test_masses_add_up_over_both_batches() -> None:
    bench = reworked()
    fill(bench)
    told = salt(bench.batch)
    assert told is not None
    assert abs(told.actual - told.planned) < Fraction(1, 100)
    assert whole_g(bench.batch) == Fraction(10000) + sum(
        Fraction(line.actual_g) for line in bench.batch.lines.values()
    )


def test_its_cure_counts_for_the_limit_by_the_most_that_it_may_hold() -> None:
    bench = reworked(CURED)
    (row,) = [row for row in bench.batch.rows if "sodium nitrite" in row.agents][:1]
    load, found = bench.batch.reworked[0]
    most = (Fraction(1000) + Fraction(expanded([load.division_g]))) * row.counted(found.most)
    assert most_g(bench.batch, row) == most > 0
    free = hard_limit(bench.batch, "premix", [Decimal("0.05")])
    assert free is not None
    allowed = Fraction(row.maximum) * (
        Fraction(bench.batch.meat_g) - Fraction(bench.batch.meat_expanded_g)
    )
    assert free == (allowed - most) / Fraction("0.0625") - Fraction(expanded([Decimal("0.05")]))


def test_the_least_that_a_rule_requires_is_less_by_what_it_surely_holds() -> None:
    bench = reworked(CURED)
    (row,) = bench.batch.rows[:1]
    with_rule = evolved(bench.batch, required=(row,))
    without = evolved(with_rule, reworked_off=True)
    load, found = bench.batch.reworked[0]
    sure = (Fraction(1000) - Fraction(expanded([load.division_g]))) * row.counted(found.least)
    one, other = (least_g(batch, "premix", []) for batch in (with_rule, without))
    assert one is not None and other is not None and sure > 0
    meat = Fraction(row.maximum) * (
        Fraction(with_rule.meat_g) + Fraction(with_rule.meat_expanded_g)
        - Fraction(without.meat_g) - Fraction(without.meat_expanded_g)
    )  # fmt: skip
    assert one - other == (meat - sure) / Fraction("0.0625")


def evolved(batch: Batch, reworked_off: bool = False, **changes: object) -> Batch:
    """The batch with other rules, or as if what was left of another had been meat."""
    if not reworked_off:
        return replace(batch, **changes)  # type: ignore[arg-type]
    meats: dict[str, MeatLine] = {
        name: replace(meat, lots={}) for name, meat in batch.meats.items()
    }
    return replace(batch, meats=meats)


def test_the_uncertainty_of_its_meat_is_in_that_of_the_block() -> None:
    bench = reworked()
    load, found = bench.batch.reworked[0]
    loads = [one.division_g for meat in bench.batch.meats.values() for one in meat.loads]
    doubted = load.net_g * (found.meat - found.meat_least)
    assert doubted > 0
    assert bench.batch.meat_expanded_g == expanded(loads) + doubted


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


def part(name: str, share: str, role: str = "seasoning", **contains: str) -> Part:
    held = {key.replace("_", " "): Decimal(value) for key, value in contains.items()}
    return Part(name, role, Decimal(share), held)


def of(*parts: Part) -> Leftover:
    return Leftover("b", "f", 1, parts, {}, {}, Decimal(0))


SALT = Wanted("salt", "salt", {"salt": Decimal(1)})
PREMIX = Wanted("premix", "cure", {"sodium nitrite": Decimal("0.05"), "salt": Decimal("0.95")})


@pytest.mark.parametrize(
    ("parts", "lines", "wanted"),
    [
        ([part("pepper", "0.003")], [Wanted("pepper", "seasoning", {})], {"pepper": "0.003"}),
        ([part("pepper", "0.003")], [Wanted("sage", "seasoning", {})], {}),
        ([part("pepper", "0.003")], [SALT], {}),
        ([part("pepper", "0.003")], [SALT, PREMIX], {}),
        (
            [part("salt", "0.02", "salt", salt="1")],
            [Wanted("seasoned salt", "salt", {"salt": Decimal("0.5")})],
            {"seasoned salt": "0.04"},
        ),
        ([part("crumb", "0.02", "binder")], [Wanted("crumb", "binder", {})], {"crumb": "0.02"}),
        ([part("sea salt", "0.02", "salt", salt="1")], [SALT], {"salt": "0.02"}),
        (
            [part("salt", "0.02", "salt", salt="1")],
            [SALT, Wanted("more salt", "salt", {"salt": Decimal(1)})],
            {"salt": "0.02"},
        ),
        # a premix of another strength stands for as much of the line as it has of the agent
        (
            [part("cure", "0.001", "cure", sodium_nitrite="0.10", salt="0.90")],
            [SALT, PREMIX],
            {"premix": "0.002"},  # whose own salt, 0.0019, is more than there was: none is left
        ),
        (
            [part("cure", "0.002", "cure", sodium_nitrite="0.05", salt="0.95"),
             part("salt", "0.02", "salt", salt="1")],
            [SALT, PREMIX],
            {"premix": "0.002", "salt": "0.02"},
        ),
        # of two lines with the agent the first has it
        (
            [part("cure", "0.001", "cure", sodium_nitrite="0.05")],
            [PREMIX, Wanted("second", "cure", {"sodium nitrite": Decimal("0.05")})],
            {"premix": "0.001"},
        ),
        # a mixture of two agents stands for no more than the scarcer of them
        (
            [part("cure", "0.01", "cure", sodium_nitrite="0.02", sodium_nitrate="0.01")],
            [Wanted("both", "cure", {"sodium nitrite": Decimal("0.02"),
                                     "sodium nitrate": Decimal("0.02")})],
            {"both": "0.005"},
        ),
        # a meat that is called as a line is no line
        ([part("pork", "0.9", "meat")], [Wanted("pork", "seasoning", {})], {}),
    ],
)  # fmt: skip
def test_what_a_leftover_brings_of_a_line(
    parts: list[Part], lines: list[Wanted], wanted: dict[str, str]
) -> None:
    found = brings(of(*parts), tuple(lines))
    assert found == {name: Fraction(share) for name, share in wanted.items()}


def test_it_brings_never_less_than_nothing_to_be_weighed() -> None:
    bench = reworked()
    salty = of(part("salt", "0.9", "salt", salt="1"), part("pork", "0.1", "meat"))
    lots = {LOT: ev.MeatLotNamed(
        line="pork", lot=LOT, supplier=None, packed=None, use_by=None, who="", leftover=salty
    )}  # fmt: skip
    meats = {"pork": replace(bench.batch.meats["pork"], lots=lots)}
    batch = replace(bench.batch, meats=meats)
    assert batch.brought_g("salt") == 900
    assert batch.target("salt") == 0
    assert batch.meat_g == 9100


# where it may go


def refused(bench: Bench) -> tuple[str, str]:
    refusal = bench.refused(named())
    return refusal.code, refusal.sentence


def test_a_formula_that_takes_none_refuses_it() -> None:
    bench = opens(kept(made()), FORMULA)
    assert refused(bench) == ("no-rework", "next takes nothing that is left of another batch")


def test_an_allergen_that_the_product_has_not_refuses_it() -> None:
    bench = opens(kept(made(WHEAT)), WHEAT + REWORK)
    bench.say(named())
    bench = kept(made(WHEAT))
    bench.station = replace(bench.station, soiled={})
    bench = opens(bench)
    assert refused(bench) == ("allergen", f"{LOT} brings wheat, and next has none")


def test_its_allergens_are_on_the_bench_once_it_is_weighed() -> None:
    bench = reworked(WHEAT)
    bench.station = evolve(bench.station, ev.WashedDown(allergens=("wheat",), who="Ansel"), "", "x")
    assert bench.station.soiled == {}
    again = bench.last(ev.MeatWeighed)
    bench.station = evolve(bench.station, again, bench.at, "261130-2")
    assert bench.station.soiled == {"wheat": "261130-2"}


def test_an_agent_that_no_rule_allows_in_the_product_refuses_it() -> None:
    bench = opens(kept(made(CURED)))  # a fresh sausage
    assert refused(bench) == (
        "not-allowed", f"{LOT} brings sodium nitrite, and no rule allows that in next"
    )  # fmt: skip


def test_meat_of_another_species_refuses_it() -> None:
    beef = FORMULA.replace(PORK, PORK + 'species = "beef"\n')
    bench = opens(kept(made(beef)), FORMULA.replace(PORK, PORK + 'species = "pork"\n') + REWORK)
    assert refused(bench) == ("species", f"{LOT} is of beef")
    bench = opens(kept(made()), FORMULA.replace(PORK, PORK + 'species = "pork"\n') + REWORK)
    assert refused(bench) == ("species", f"{LOT} is of a meat of unknown species")


def test_only_its_meat_has_a_species() -> None:
    pork = CURED.replace(PORK, PORK + 'species = "pork"\n')
    bench = opens(kept(made(pork)), pork + REWORK)
    assert leftover(bench).species == ("pork",)
    bench.say(named())


@pytest.mark.parametrize(("hours", "taken"), [(48, True), (48.001, False)])
def test_one_that_is_too_old_is_refused(hours: float, taken: bool) -> None:
    bench = opens(kept(made()))
    passes(bench, hours * 60)
    if taken:
        bench.say(named())
    else:
        assert refused(bench) == ("too-old", f"{LOT} is 48 h old, 48 h is the most")


def test_a_clock_that_was_set_back_makes_it_no_younger() -> None:
    bench = opens(kept(made()))
    passes(bench, 72 * 60)
    bench.say(do.Note("a day later"))
    passes(bench, 60)
    assert refused(bench)[0] == "too-old"


def test_one_that_was_never_kept_is_named_so() -> None:
    bench = opens(kept(made()))
    refusal = bench.refused(named(lot="261130-1-L7"))
    assert (refusal.code, refusal.next) == ("no-leftover", LOT)
    bench.say(named(lot="B-118-L1"))  # which is no name of a leftover


@pytest.mark.parametrize(
    ("lot", "batch"),
    [
        *(("261130-1-L1", "261130-1"), ("261130-12-L3", "261130-12"), ("P-41", None)),
        *(("261130-1", None), ("261130-1-L", None), ("2611-1-L1", None), ("261130--L1", None)),
        *(("2611301-1-L1", None),),
        *(("261130-1-Lx", None), ("2611301-L1", None)),
    ],
)
def test_a_lot_tells_the_batch_that_it_is_left_of(lot: str, batch: str | None) -> None:
    assert batch_of(lot) == batch


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


# how much of it


def test_no_more_goes_in_than_the_formula_lets_in() -> None:
    bench = opens(kept(made(), 2200))
    bench.say(named())
    bench.say(do.Use("tub"))
    bench.show("bench", "1200")
    bench.show("bench", "3202")
    refusal = bench.refused(do.Accept("pork"))
    assert refusal.code == "too-much-rework"
    assert refusal.sentence == "2002 g of leftovers is over 20 % of the meat, 2000 g"
    bench.show("bench", "3200")
    bench.say(do.Accept("pork"))


def test_without_a_plan_the_fresh_meat_comes_first() -> None:
    bench = opens(kept(made()), plan_g="0")
    bench.say(named())
    bench.say(do.Use("tub"))
    bench.show("bench", "1200")
    bench.show("bench", "2200")
    assert bench.refused(do.Accept("pork")).code == "too-much-rework"


@pytest.mark.parametrize(("more", "taken"), [(6, True), (8, False)])
def test_no_more_of_it_goes_in_than_was_kept(more: int, taken: bool) -> None:
    bench = opens(kept(made()))
    bench.say(named())
    bench.say(do.Use("tub"))
    bench.show("bench", "1200")
    bench.show("bench", str(2200 + more))
    if taken:
        bench.say(do.Accept("pork"))
    else:
        assert bench.refused(do.Accept("pork")).code == "too-much"


def test_one_that_is_used_up_is_refused() -> None:
    bench = reworked()
    assert bench.station.leftovers[LOT].left_g == 0
    bench.say(do.Park())
    bench.open("10000", "261130-3")
    assert refused(bench)[0] == "used-up"


def test_a_figure_by_hand_has_no_more_room_than_the_scale() -> None:
    bench = opens(kept(made()))
    bench.say(named())
    bench.say(do.Use("tub"))
    bench.floor.link("bench", False, "its cable is out", "plug it in")
    by_hand = do.ByHand("pork", Decimal(1008), "bench", "cable out", "Brida")
    assert bench.refused(by_hand).code == "too-much"


def test_a_block_that_came_out_smaller_is_told() -> None:
    bench = opens(kept(made()))
    bench.say(named())
    take(bench, 1000)
    bench.say(do.NameMeatLot("pork", "B-9", None, None, None, "2026-11-30"))
    take(bench, 3000)
    bench.say(do.End("pork", sure=True))
    said = [event.text for event in bench.events if isinstance(event, ev.Warned)]
    assert "25 % of the meat is left of other batches, 20 % at most" in said


def test_meat_is_not_taken_out_again_where_a_leftover_is_in() -> None:
    bench = opens(kept(made()))
    bench.say(named())
    take(bench, 1000)
    bench.say(do.Use("tub"))
    bench.show("bench", "1700")
    assert bench.refused(do.TakeMeatOut("pork")).code == "leftover-is-in"


def test_fresh_meat_before_it_stays_fresh() -> None:
    bench = opens(kept(made()))
    take(bench, 5000)
    assert bench.say(named()) == "pork is left of batch 261130-1, 1000 g"
    take(bench, 1000)
    assert [load.lot for load in bench.batch.meats["pork"].loads] == [None, LOT]
    bench.say(do.NameMeatLot("pork", "B-9", None, None, None, "2026-11-30"))
    assert [load.lot for load in bench.batch.meats["pork"].loads] == ["B-9", LOT]


# what was tried to get more into the mix than the record has


def test_fresh_meat_that_is_taken_out_is_no_leftover() -> None:
    bench = opens(kept(made(CURED), 2000), CURED + REWORK, "5000")
    take(bench, 9000)
    bench.say(named())  # and nothing of it is weighed yet
    bench.say(do.Use("tub"))
    bench.show("bench", "1200")
    bench.show("bench", "0")
    bench.show("bench", "5200")
    bench.say(do.TakeMeatOut("pork"))
    assert bench.last(ev.MeatWeighed).lot is None  # type: ignore[attr-defined]
    assert bench.station.leftovers[LOT].left_g == 2000
    bench.show("bench", "0")
    bench.show("bench", "1200")
    bench.show("bench", "0")
    take(bench, 1100)
    assert [load.net_g for load, _ in bench.batch.reworked] == [1100]
    assert bench.batch.meat_g > 6000


def test_meat_that_is_taken_out_of_one_delivery_is_of_that() -> None:
    bench = opens(kept(made()))
    bench.say(do.NameMeatLot("pork", "B-9", None, None, None, "2026-11-30"))
    take(bench, 5000)
    bench.say(do.Use("tub"))
    bench.show("bench", "1700")
    bench.say(do.TakeMeatOut("pork"))
    assert bench.last(ev.MeatWeighed).lot == "B-9"  # type: ignore[attr-defined]


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


SACHET = """
[[addition]]
name = "culture"
amount = "1 sachet / 10 kg"
role = "culture"
allergens = ["milk"]
"""


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


def test_its_age_counts_when_it_is_weighed() -> None:
    bench = opens(kept(made()))
    bench.say(named())
    bench.say(do.Use("tub"))
    bench.show("bench", "1200")
    bench.show("bench", "2200")
    passes(bench, 100 * 60)
    assert bench.refused(do.Accept("pork")).code == "too-old"
    passes(bench, 48 * 60)
    bench.say(do.Accept("pork", sure=True))


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


def test_the_tub_with_a_leftover_is_asked_about_where_it_is_weighed_as_fresh_meat() -> None:
    bench = opens(kept(made()))
    bench.say(do.Use("tub"))
    bench.show("bench", "1200")
    bench.show("bench", "2206")  # within three divisions
    refusal = bench.refused(do.Accept("pork"))
    assert (refusal.code, refusal.sentence) == (
        "leftover", f"tub weighs as when {LOT} was kept in it"
    )  # fmt: skip
    bench.show("bench", "2208")
    bench.say(do.Accept("pork"))


def test_the_same_without_the_name_of_its_vessel_is_kept_once() -> None:
    bench = made()
    bench.show("bench", "2200")
    bench.say(do.KeepLeftover("bench"))
    assert bench.refused(do.KeepLeftover("bench", "tub")).code == "same-load"


# by keys, and thrown away


def test_the_screen_offers_it_where_it_may_go() -> None:
    bench = opens(kept(made()))
    said = [offer for offer in bench.told.offers if offer.verb == "meat-lot"]
    assert [offer.params["lot"] for offer in said] == [LOT]
    assert said[0].means == f"{LOT}, 1000 g left of batch 261130-1"
    for hours, offered in ((48, True), (49, False)):
        now = passes(bench, hours * 60)
        verbs = [offer.verb for offer in bench.floor.guide(now=now).offers]
        assert ("meat-lot" in verbs) == offered


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


def test_one_thrown_away_while_it_is_named_has_no_room() -> None:
    bench = opens(kept(made()))
    bench.say(named())
    bench.say(do.Discard(LOT, "fell"))
    bench.say(do.Use("tub"))
    bench.show("bench", "1200")
    bench.show("bench", "2200")
    assert bench.refused(do.Accept("pork")).code == "no-leftover"


def test_what_is_kept_of_a_leftover_is_what_was_not_used() -> None:
    kept_g = Kept("b", Decimal(1000), Decimal(2), "", Decimal(400))
    assert kept_g.left_g == 600


# the formula's own words


@pytest.mark.parametrize(
    ("most", "within", "said"),
    [
        ("50 %", "1 h", None),
        ("50.1 %", "1 h", "expected at most 50 %"),
        ("0 %", "1 h", "expected more than nothing"),
        ("10 %", "soon", "a time with its unit"),
    ],
)
def test_the_formula_says_how_much_and_how_old(most: str, within: str, said: str | None) -> None:
    file = TomlFile(f'[rework]\nmost = "{most}"\nwithin = "{within}"\n', "f.toml")
    found = rework_of(file.top)
    wrong: Callable[[], object] = file.finish
    if said is None:
        wrong()
        assert found is not None
        assert (found.most, found.within_s) == (Decimal("0.5"), 3600)
        return
    with pytest.raises(FileMistakes, match=said):
        wrong()
