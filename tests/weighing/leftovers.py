"""A batch of which something is left, and the next that may take it."""

from decimal import Decimal

from station.formula.leftover import Leftover
from station.formula.sheet import parse_formula
from station.weighing import commands as do
from tests.benchside import NITRITE, RING, Bench
from tests.weighing.test_tallying import FORMULA

REWORK = '\n[rework]\nmost = "20 %"\nwithin = "48 h"\n'


LOT = "261130-1-L1"


TWO_MEATS = FORMULA.replace(
    'share = "100 %"', 'share = "90 %"\n[[meat]]\nname = "belly"\nshare = "10 %"'
)


WHEAT = FORMULA.replace('name = "pepper"', 'name = "pepper"\nallergens = ["wheat"]')


PORK = '[[meat]]\nname = "pork"\nshare = "100 %"\n'


CURED = RING.replace('product = "cooked cured comminuted"', 'product = "cured comminuted"')


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


def refused(bench: Bench) -> tuple[str, str]:
    refusal = bench.refused(named())
    return refusal.code, refusal.sentence


SACHET = """
[[addition]]
name = "culture"
amount = "1 sachet / 10 kg"
role = "culture"
allergens = ["milk"]
"""
