"""A formula as bags that are weighed ahead: each dry line several times, for a planned meat block.

What is wet, or made of parts that stand, is weighed on the day.
"""

from fractions import Fraction

from msgspec.structs import replace

from station.formula.model import Addition, Amount, Formula
from station.formula.scaling import target_of
from station.units import rounded

BAG = " bag "
"""Between the name of a line and the number of its bag."""
CALLED = " weighed ahead"
MOST_BAGS = 20


def weighed_ahead(formula: Formula, meat_g: Fraction, count: int) -> Formula:
    """The formula of so many bags of each dry line, for `count` meat blocks of `meat_g` grams. Has
    no lines where the formula has none that can be weighed ahead."""
    lines = [line for line in formula.additions if _dry(line)]
    return replace(
        formula,
        name=f"{formula.name}{CALLED}",
        additions=tuple(
            _bag(line, number, target_of(line.amount, formula, meat_g), meat_g * count)
            for line in lines
            for number in range(1, count + 1)
        ),
        steps=(),
        piece_g=None,
        piece_band=None,
        packs=(),
        casing=None,
        rework=None,
    )


def _dry(line: Addition) -> bool:
    return (
        line.role != "water"
        and not line.onto
        and not line.in_pickle
        and line.part_of is None
        and line.amount.on != "count"
    )


def _bag(line: Addition, number: int, grams: Fraction, block_g: Fraction) -> Addition:
    """One bag: its grams as a share of all the meat that is planned, for what the law allows is
    counted on that."""
    target = rounded(grams, 6, up=False)
    amount = Amount(line.amount.text, "meat", target, rounded(block_g, 6, up=False))
    return replace(line, name=f"{line.name}{BAG}{number}", amount=amount)


def line_of(bag: str) -> str:
    """The line of the formula that a bag is of, by its name."""
    name, _, _ = bag.rpartition(BAG)
    return name


def formula_of(called: str) -> str:
    """The name of the formula that bags were weighed ahead for."""
    return called.removesuffix(CALLED)


def count_of(text: str) -> int:
    """How many bags of each line. Raises `ValueError`."""
    if not (text.isascii() and text.isdecimal()) or not 1 <= int(text) <= MOST_BAGS:
        raise ValueError(f"found {text!r}, expected a whole number from 1 to {MOST_BAGS}")
    return int(text)
