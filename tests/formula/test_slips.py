"""Slips that no limit catches: the usual amount, what stands in one cup, what comes too late."""

from decimal import Decimal
from fractions import Fraction

import pytest

from station.formula.model import Addition
from station.formula.scaling import ingoing_masses
from station.formula.slips import called_out
from tests.formula.made import NITRITE, PREMIX, amount, formula, grams, thing

KILO = Fraction(1000)
SALT = thing("salt", "18", "salt", {"salt": Decimal(1)})
PEPPER = thing("pepper", "3", "seasoning", {})
ASCORBATE = {"sodium ascorbate": Decimal(1)}


def slips(*additions: Addition, **fields: object) -> list[str]:
    made = formula(*additions, **fields)  # type: ignore[arg-type]
    return [found.text for found in called_out(made, ingoing_masses(made, KILO), KILO)]


@pytest.mark.parametrize(
    ("method", "mg", "usual"),
    [("comminuted", "39.99", False), ("comminuted", "40", True), ("comminuted", "200", True),
     ("comminuted", "200.01", False), ("dry", "39.99", False), ("dry", "40", True),
     ("dry", "625", True), ("dry", "625.01", False)],
)  # fmt: skip
def test_far_from_the_usual_amount_of_nitrite_is_called_out(
    method: str, mg: str, usual: bool
) -> None:
    """40 to 200 mg/kg, dry-cured up to 625 (common practice)."""
    pure = thing("nitrite", amount(mg, per="1000000"), contains=NITRITE)
    told = slips(pure, method=method)
    assert told == (
        []
        if usual
        else [
            f"it would bring {mg} mg/kg of sodium nitrite, which is far from what is usual:"
            " is the strength the one on the bag?"
        ]
    )


def test_all_nitrite_counts_together_and_as_sodium_nitrite() -> None:
    """KNO2 / NaNO2 = 1.233472 (computed): 246 mg/kg of potassium nitrite are 199.44 as sodium."""
    half = amount("120", per="1000000")
    assert slips(thing("one", half, contains=NITRITE)) == []
    assert len(slips(thing("one", half, contains=NITRITE), thing("two", half, contains=NITRITE)))
    both = {"sodium nitrite": Decimal("0.5"), "potassium nitrite": Decimal("0.5")}
    assert slips(thing("both", amount("220", per="1000000"), contains=both)) == []
    assert slips(thing("both", amount("222", per="1000000"), contains=both)) != []
    potassium = {"potassium nitrite": Decimal(1)}
    assert slips(thing("k", amount("246", per="1000000"), contains=potassium)) == []
    assert slips(thing("k", amount("247", per="1000000"), contains=potassium)) != []
    nitrate = {"sodium nitrate": Decimal(1)}
    assert slips(thing("saltpetre", "2", contains=nitrate)) == []
    (found,) = called_out(
        formula(thing("one", half, contains=NITRITE), thing("two", half, contains=NITRITE)),
        {"one": Fraction("0.12"), "two": Fraction("0.12")}, KILO,
    )  # fmt: skip
    assert (found.line, found.severity, found.source) == ("one, two", "advice", "common practice")


REACT = "a cure and an accelerator in one vessel: they react"
SPICED = "nitrite and spice held together: nitrite is never mixed with spice or soy"


def cup(name: str, role: str, contains: dict[str, Decimal], **fields: object) -> Addition:
    given: dict[str, object] = {"part_of": "cup", **fields}
    return thing(name, "2", role, contains, **given)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("one", "other", "told"),
    [
        (cup("a", "cure", PREMIX), cup("b", "accelerator", ASCORBATE), [REACT]),
        (cup("a", "other", PREMIX), cup("b", "other", ASCORBATE), [REACT]),
        (cup("a", "other", PREMIX), cup("b", "other", {"erythorbic acid": Decimal(1)}), [REACT]),
        (cup("a", "cure", {}), cup("b", "accelerator", {}), [REACT]),
        (cup("a", "cure", {}), cup("b", "other", ASCORBATE), [REACT]),
        (cup("a", "other", PREMIX), cup("b", "accelerator", {}), [REACT]),
        (cup("a", "cure", PREMIX), cup("b", "seasoning", {}), [SPICED]),
        (cup("a", "cure", PREMIX), cup("b", "salt", {}), []),
        (cup("a", "salt", {}), cup("b", "accelerator", ASCORBATE), []),
        (cup("a", "salt", {}), cup("b", "seasoning", {}), []),
        (cup("a", "cure", {}), cup("b", "seasoning", {}), []),
        (cup("a", "cure", PREMIX), cup("b", "accelerator", ASCORBATE, part_of="other"), []),
        (cup("a", "cure", PREMIX, part_of=None, alone=True),
         cup("b", "accelerator", ASCORBATE, part_of=None, alone=True), []),
        (cup("a", "cure", PREMIX, part_of=None),
         cup("b", "accelerator", ASCORBATE, part_of=None), [REACT]),
        (cup("a", "cure", PREMIX, part_of=None, alone=True),
         cup("b", "accelerator", ASCORBATE, part_of=None), []),
        (cup("a", "cure", PREMIX, part_of=None), cup("b", "seasoning", {}, part_of=None), []),
    ],
)  # fmt: skip
def test_nitrite_beside_what_it_reacts_with_or_spice_in_one_cup_is_called_out(
    one: Addition, other: Addition, told: list[str]
) -> None:
    """21 CFR 170.60 for spice and soy; that nitrite and ascorbate react is common practice."""
    assert slips(one, other) == told


def test_one_pickle_is_one_vessel() -> None:
    """Whatever of it says `alone`."""
    fixed = {"much": amount("2", "fixed", "1"), "in_pickle": True, "alone": True}
    cure = thing("a", role="cure", contains=PREMIX, **fixed)  # type: ignore[arg-type]
    helper = thing("b", role="accelerator", contains=ASCORBATE, **fixed)  # type: ignore[arg-type]
    wet = {"method": "pumped", "pickle_water": grams("98"), "pump": Decimal(1)}
    told = slips(cure, helper, **wet)
    assert f"{REACT}; dissolve the accelerator last and use the pickle at once" in told
    outside = thing("b", role="accelerator", contains=ASCORBATE, alone=True)
    assert REACT not in slips(cure, outside, **wet)


PHOSPHATE = thing("phosphate", "3", "phosphate", {"sodium tripolyphosphate": Decimal(1)})
LATE = "a phosphate after the salt dissolves badly: put it before"


def test_a_phosphate_after_the_salt_is_called_out() -> None:
    """Common practice."""
    assert slips(SALT, PHOSPHATE) == [LATE]
    assert slips(PHOSPHATE, SALT) == []
    assert slips(PEPPER, PHOSPHATE) == []
    assert slips(SALT, thing("p", "3", "phosphate", {})) == [LATE]
    assert slips(SALT, thing("p", "3", "other", {"disodium phosphate": Decimal(1)})) == [LATE]
    assert slips(SALT, PEPPER) == []
    assert slips(SALT, PEPPER, PHOSPHATE) == [LATE]


@pytest.mark.parametrize(("share", "salty"), [("0.9", True), ("0.5", True), ("0.49", False)])
def test_what_is_half_salt_or_more_is_salt_too(share: str, salty: bool) -> None:
    blend = thing("blend", "9", "seasoning", {"salt": Decimal(share)})
    assert slips(blend, PHOSPHATE) == ([LATE] if salty else [])
