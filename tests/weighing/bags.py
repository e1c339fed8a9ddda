"""Bags that are weighed ahead, and the batch on the day."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from msgspec.structs import replace as changed

from station.batch import events as ev
from station.batch.evolve import evolve
from station.formula.ahead import weighed_ahead
from station.weighing import commands as do
from tests.benchside import Bench
from tests.weighing.test_tallying import FORMULA

WET = """
[[addition]]
name = "ice"
amount = "10 %"
role = "water"
[[addition]]
name = "soaked crumb"
role = "binder"
parts = [{ name = "crumb", amount = "2 %" }, { name = "milk", amount = "3 %", role = "water" }]
[[addition]]
name = "sachets"
amount = "1 sachet / 10 kg"
role = "culture"
"""


BAGS = {f"bag {n}": str(10 * n) for n in range(1, 7)}


PLANNED = 7000


def ahead(formula: str = FORMULA, count: int = 2) -> Bench:
    """So many bags of each line are to be weighed, for 7 kg of meat each."""
    bench = Bench(formula)
    for name, grams in BAGS.items():
        bench.show("fine", grams)
        bench.say(do.RecordVessel(name, "fine"))
        bench.show("fine", "0")
    bench.show("bench", "1200")
    bench.say(do.RecordVessel("tub", "bench"))
    bench.show("bench", "0")
    meant = bench.formula
    bench.formula = weighed_ahead(meant, Fraction(PLANNED), count)
    bench.open(str(PLANNED * count), "261130-1")
    bench.formula = meant
    opened = changed(bench.last(ev.BatchOpened), ahead=count)  # type: ignore[type-var]
    bench.station = evolve(replace(bench.station, batch=None), opened, bench.at, "261130-1")  # type: ignore[arg-type]
    return bench


def weigh(bench: Bench, line: str, bag: str, net: str, key: bool = False) -> None:
    """An empty bag is filled and lifted off."""
    empty = Decimal(BAGS[bag])
    bench.show("fine", str(empty))
    for part in range(1, 40):
        bench.move("fine", str(empty + Decimal(net) * part / 40))
    bench.show("fine", str(empty + Decimal(net)))
    if key:
        bench.say(do.Accept(line))
    bench.lift()


def closed(formula: str = FORMULA, salt: str = "126") -> Bench:
    """Two bags of salt and two of pepper wait."""
    bench = ahead(formula)
    weigh(bench, "salt bag 1", "bag 1", salt)
    weigh(bench, "salt bag 2", "bag 2", "126")
    weigh(bench, "pepper bag 1", "bag 3", "21")
    weigh(bench, "pepper bag 2", "bag 4", "21")
    bench.say(do.Close())
    return bench


def on_the_day(meat_g: str = "7000", bench: Bench | None = None) -> Bench:
    bench = bench or closed()
    bench.open(meat_g, "261201-2")
    bench.weigh_meat(meat_g)
    return bench


def put_on(bench: Bench, grams: str) -> None:
    bench.move("fine", str(Decimal(grams) / 2))
    bench.show("fine", grams)


def portion(bench: Bench, **changes: object) -> None:
    """Bag 1 as it would be had it been weighed otherwise."""
    one = replace(bench.station.portions["bag 1"], **changes)  # type: ignore[arg-type]
    bench.station = replace(bench.station, portions={**bench.station.portions, "bag 1": one})
