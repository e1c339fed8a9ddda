"""What is said of targets under the law, each verdict by itself and at its edge."""

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from station.formula.curing import check_targets
from station.formula.finding import Finding
from station.formula.ingoing import (
    basis_g,
    basis_of,
    contents,
    counted_g,
    hangs_on_meat,
    lawful_most,
    ppm,
    shown_ppm,
    verdict,
)
from station.formula.limits import LimitRow
from station.formula.model import Addition, Formula
from station.formula.scaling import ingoing_masses
from tests.formula.made import PREMIX, amount, formula, grams, row, thing

KILO = Fraction(1000)
SALT = thing("salt", "18", "salt", {"salt": Decimal(1)})
PEPPER = thing("pepper", "3", "seasoning", {})
ASCORBATE = {"sodium ascorbate": Decimal(1)}


def test_mg_per_kg_are_agent_over_green_weight() -> None:
    """Directive 7620.3, 1995: mass of agent x 10^6 / green weight. 2.5 g/kg of a 6.25 % premix are
    156.25 exactly (computed)."""
    agent = counted_g({"premix": Fraction("2.5"), "salt": Fraction(18)},
                      {"premix": PREMIX, "salt": {"salt": Decimal(1)}}, row())  # fmt: skip
    assert ppm(agent, KILO) == Fraction("156.25")


@pytest.mark.parametrize(
    ("kind", "agent", "found"),
    [
        ("ingoing", "0.149999", "within"), ("ingoing", "0.15", "within"),
        ("ingoing", "0.150001", "over"), ("required", "0.149999", "under"),
        ("required", "0.15", "within"), ("required", "0.150001", "within"),
        ("residual", "0.2", "not judged"), ("as needed", "0.2", "not judged"),
        ("residual", "0.1", "not judged"),
    ],
)  # fmt: skip
def test_at_its_figure_a_row_is_kept_and_a_microgram_beyond_it_is_not(
    kind: str, agent: str, found: str
) -> None:
    assert verdict(row(kind=kind), Fraction(agent), KILO) == found


@pytest.mark.parametrize(
    ("agent", "places", "most", "least"),
    [("0.1562500001", 2, "156.26", "156.25"), ("0.15625", 2, "156.25", "156.25"),
     ("0.15625", 1, "156.3", "156.2")],
)  # fmt: skip
def test_a_figure_is_rounded_to_the_side_on_which_it_does_harm(
    agent: str, places: int, most: str, least: str
) -> None:
    assert shown_ppm(row(), Fraction(agent), KILO, places) == most
    assert shown_ppm(row(kind="required"), Fraction(agent), KILO, places) == least


@pytest.mark.parametrize(
    ("loss", "basis"), [("0", 1000), ("0.001", 1000), ("0.40", Fraction("601.2"))]
)
def test_a_row_on_the_product_is_judged_on_the_smaller_of_meat_and_product(
    loss: str, basis: Fraction
) -> None:
    """1002 g of mix from a kilogram and 2 g of premix, less its loss."""
    made = formula(thing(), loss=Decimal(loss))
    assert basis_g(made, row(basis="product"), KILO) == basis
    assert basis_g(made, row(), KILO) == KILO


@pytest.mark.parametrize(
    ("basis", "on", "loss", "found"),
    [
        ("mix", "meat block", "0.35", ("meat block", 1000)),
        ("mix", "mix", "0.35", ("mix", 1002)),
        ("product", "mix", "0.35", ("product", Fraction("651.3"))),
        ("product", "meat block", "0.001", ("meat block", 1000)),
        ("meat block", "mix", "0.35", ("meat block", 1000)),
    ],
)
def test_what_is_added_never_counts_on_what_drying_leaves(
    basis: str, on: str, loss: str, found: tuple[str, Fraction]
) -> None:
    """The maxima for nitrite are what may be added (Regulation (EC) 1333/2008, Annex II, part E,
    notes; second-hand); phosphate is on the product as sold."""
    made = formula(thing(), loss=Decimal(loss), basis=on)
    assert basis_of(made, row(basis=basis), KILO) == found


def test_a_product_that_weighs_as_much_as_the_meat_is_counted_on_the_meat() -> None:
    """A kilogram and 250 g, less a fifth."""
    made = formula(thing(much="250"), loss=Decimal("0.2"))
    assert basis_of(made, row(basis="product"), KILO) == ("meat block", 1000)


def test_a_finding_names_the_basis_that_was_used() -> None:
    over = row("0.000124", basis="mix")
    assert texts(said(thing(), rows=(over,))) == [
        "125 mg/kg of sodium nitrite is over 0.000124 of it of the meat block"
    ]
    assert texts(said(thing(), rows=(over,), basis="mix")) == [
        "124.76 mg/kg of sodium nitrite is over 0.000124 of it of the mix"
    ]
    assert texts(said(thing(), rows=(row("0.00012476", basis="mix"),), basis="mix")) == []


def test_the_most_of_a_line_is_what_the_law_leaves_beside_the_others() -> None:
    """150 mg/kg of 1 kg are 2.4 g of a 6.25 % premix."""
    alone, second = formula(thing()), formula(thing(), thing("second", "1"))
    assert lawful_most(alone, [row()], "premix", KILO) == Fraction("2.4")
    assert lawful_most(second, [row()], "premix", KILO) == Fraction("1.4")
    assert lawful_most(second, [row()], "second", KILO) == Fraction("0.4")
    rows = [row("0.0002"), row("0.00012"), row()]
    assert lawful_most(alone, rows, "premix", KILO) == Fraction("1.92")
    dried = formula(thing(), loss=Decimal("0.40"))
    assert lawful_most(dried, [row(basis="product")], "premix", KILO) == Fraction("2.4") * Fraction(
        "0.6012"
    )


def test_a_line_that_nothing_limits_has_no_most() -> None:
    made = formula(thing(), SALT)
    assert lawful_most(made, [row()], "salt", KILO) is None
    assert lawful_most(made, [], "premix", KILO) is None
    assert lawful_most(made, [row(seen=False)], "premix", KILO) is None
    inside = thing(much=amount("20", "fixed", "1"), in_pickle=True)
    pickled = formula(inside, pickle_water=grams("980"), method="immersion")
    assert lawful_most(pickled, [row()], "premix", KILO) is None


# the findings of a formula


def said(
    *additions: Addition, rows: tuple[LimitRow, ...] | None = None, **fields: object
) -> list[Finding]:
    made = formula(*additions, **fields)  # type: ignore[arg-type]
    return check_targets(made, (row(),) if rows is None else rows, KILO)


def texts(found: list[Finding], severity: str = "broken") -> list[str]:
    return [finding.text for finding in found if finding.severity == severity]


def test_a_lawful_formula_is_told_nothing() -> None:
    assert said(thing(), SALT, PEPPER) == []
    assert said(thing(much="2.4")) == []


def test_over_a_row_that_was_seen_is_broken_and_of_one_from_memory_advice() -> None:
    text = "150.01 mg/kg of sodium nitrite is over 0.00015 of it of the meat block"
    assert said(thing(much="2.40001")) == [Finding("premix", "broken", text, "a rule")]
    found = said(thing(much="2.40001"), rows=(row(), row(seen=False)))
    assert [finding.severity for finding in found] == ["broken", "advice"]


def test_every_line_with_the_agent_is_named() -> None:
    (found,) = said(thing(), thing("second", "1"))
    assert found.line == "premix, second"


def test_what_is_required_and_not_there_is_under() -> None:
    rule = row("0.00012", kind="required")
    (found,) = said(SALT, rows=(rule,), product="cooked comminuted")
    text = "0 mg/kg of sodium nitrite is under 0.00012 of it of the meat block"
    assert found == Finding("made", "broken", text, "a rule")
    assert said(SALT, rows=(row(),), product="cooked comminuted") == []
    assert said(thing(much="1.92"), rows=(row(), rule)) == []
    assert texts(said(thing(much="1.91"), rows=(row(), rule)))


def test_what_is_left_after_processing_is_told_and_not_judged() -> None:
    left = row("0.00001", kind="residual")
    found = said(thing(), rows=(row(), left))
    assert found == [
        Finding("premix", "advice",
                "what is left of it may be 0.00001 of it at most: no scale can judge that",
                "a rule")
    ]  # fmt: skip
    assert said(SALT, rows=(left,), product="fresh") == []


def test_an_accelerator_wants_one_of_the_agents_it_goes_with() -> None:
    """9 CFR 424.21(c): accelerators only together with a curing agent."""
    alone = row("0.01", agents=("sodium ascorbate",), only_with=("sodium nitrite", "x"))
    line = thing("ascorbate", "0.5", "accelerator", ASCORBATE)
    assert texts(said(line, rows=(alone,), product="fresh")) == [
        "sodium ascorbate only together with a curing agent"
    ]
    assert texts(said(thing(), line, rows=(row(), alone))) == []
    empty = thing(contains={"sodium nitrite": Decimal(0), "salt": Decimal(1)})
    assert len(texts(said(empty, line, rows=(row(), alone)))) == 1  # named, and none of it there


def test_a_regulated_line_must_say_its_agent_and_have_a_row() -> None:
    """Additive law is a positive list: 9 CFR 424.21(a)(1), (b)(2)."""
    assert texts(said(thing(contains={}), rows=())) == [
        "a cure must say which agent it contains and how much of it"
    ]
    assert texts(said(thing(contains={"salt": Decimal(1)}), rows=())) == [
        "a cure must say which agent it contains and how much of it"
    ]
    assert texts(said(thing(), rows=())) == [
        "no limits row allows sodium nitrite in cooked cured comminuted"
    ]
    assert texts(said(thing(), rows=(row(kind="residual"), row("0.0001", kind="required")))) == [
        "no limits row allows sodium nitrite in cooked cured comminuted"
    ]
    assert texts(said(thing(), rows=(row(kind="as needed"),))) == []


def test_every_agent_of_a_line_must_have_a_row() -> None:
    """One that is allowed does not cover the one that stands behind it."""
    both = thing(contains={"sodium nitrite": Decimal("0.05"), "sodium nitrate": Decimal("0.04")})
    assert texts(said(both)) == ["no limits row allows sodium nitrate in cooked cured comminuted"]


def test_an_agent_of_another_line_needs_a_row_only_where_its_name_says_so() -> None:
    blend = thing("blend", "3", "seasoning", {"sodium nitrite": Decimal("0.001")})
    assert texts(said(blend, rows=())) == [
        "no limits row allows sodium nitrite in cooked cured comminuted"
    ]
    mustard = thing("mustard", "3", "seasoning", {"mustard": Decimal(1)})
    found = said(thing(), mustard)
    assert texts(found) == []
    assert texts(found, "advice") == ["no limits row is about mustard: it is not judged"]
    regulated = thing("mustard", "3", "preservative", {"mustard": Decimal(1)})
    assert texts(said(thing(), regulated)) == [
        "no limits row allows mustard in cooked cured comminuted"
    ]


def test_a_name_that_sounds_regulated_must_say_what_it_holds() -> None:
    named = thing("curing salt", "18", "salt", {"salt": Decimal(1)})
    assert texts(said(thing(), named)) == [
        "the name 'curing salt' says that it is a cure: say what it contains;"
        " as the usual premix of 6.25 % it would bring 1125 mg/kg of sodium nitrite"
    ]
    part = thing("grains", "1", "seasoning", {}, part_of="nitrite cup")
    assert texts(said(thing(), part)) == [
        "the name 'nitrite cup' says that it is a cure: say what it contains;"
        " as the usual premix of 6.25 % it would bring 62.5 mg/kg of sodium nitrite"
    ]
    told = thing("curing salt", "0.2", "salt", PREMIX)
    assert texts(said(told)) == []
    assert texts(said(thing(), thing("salt", part_of="salt", role="salt", contains={}))) == []


def test_two_rules_that_say_the_same_are_told_once() -> None:
    assert len(said(thing(much="2.5"), rows=(row(), row()))) == 1


def test_called_cured_without_a_cure_is_told() -> None:
    told = "it is called cured, and no curing agent is in it"
    assert texts(said(SALT), "advice") == [told]
    assert texts(said(SALT, product="cooked"), "advice") == []
    nitrate = thing(contains={"sodium nitrate": Decimal("0.04"), "salt": Decimal("0.96")})
    assert told not in texts(said(nitrate, rows=(row(agents=("sodium nitrate",)),)), "advice")


# what hangs on the meat


def pickled(pump: str | None, method: str) -> Formula:
    inside = thing(much=amount("20", "fixed", "1"), in_pickle=True)
    return formula(
        inside, SALT, method=method, pickle_water=grams("980"),
        pump=None if pump is None else Decimal(pump),
    )  # fmt: skip


def test_a_fixed_amount_hangs_on_the_meat_and_a_share_does_not() -> None:
    fixed = thing("sachet", amount("2", "fixed", "1"))
    made = formula(fixed, SALT)
    assert hangs_on_meat(made, ["sachet"])
    assert hangs_on_meat(made, ["salt", "sachet"])
    assert not hangs_on_meat(made, ["salt"])
    assert not hangs_on_meat(formula(thing()), ["premix"])
    text = "judged for 1000 g of meat; with less it is more: check --meat"
    assert texts(said(fixed), "advice") == [text]
    assert texts(said(thing(), SALT), "advice") == []


def test_a_pickle_hangs_on_the_meat_only_where_its_pick_up_is_not_known() -> None:
    assert hangs_on_meat(pickled(None, "immersion"), ["premix"])
    assert not hangs_on_meat(pickled("0.1", "immersion"), ["premix"])
    assert not hangs_on_meat(pickled("0.1", "pumped"), ["premix"])
    assert not hangs_on_meat(formula(thing(), method="dry"), ["premix"])
    assert not hangs_on_meat(pickled(None, "immersion"), ["salt"])


@pytest.mark.parametrize(
    ("method", "pump", "water", "line", "hangs"),
    [
        ("pumped", "0.1", "meat", "fixed", True),  # less meat is less water, and as much premix
        ("pumped", "0.1", "meat", "pickle", False),
        ("pumped", "0.1", "fixed", "pickle", False),
        ("immersion", "0.1", "meat", "fixed", True),
        ("immersion", None, "meat", "fixed", True),
        ("immersion", None, "meat", "pickle", False),
        ("immersion", None, "fixed", "pickle", True),
    ],
)
def test_a_pickle_by_the_meat_hangs_on_it_where_a_line_of_it_does_not(
    method: str, pump: str | None, water: Any, line: Any, hangs: bool
) -> None:
    """The same as worked out: 1 kg of meat or 2 bring as many mg/kg of nitrite, or others."""
    inside = thing(much=amount("20", line), in_pickle=True)
    made = formula(
        inside, SALT, method=method, pickle_water=amount("98", water, "100"),
        pump=None if pump is None else Decimal(pump),
    )  # fmt: skip
    assert hangs_on_meat(made, ["premix"]) is hangs
    assert hangs_on_meat(made, ["salt", "premix"]) is hangs
    assert not hangs_on_meat(made, ["salt"])
    one, two = (
        counted_g(ingoing_masses(made, meat), contents(made), row()) / meat
        for meat in (KILO, 2 * KILO)
    )
    assert (one != two) is hangs


def test_a_required_agent_that_no_line_brings_hangs_on_nothing() -> None:
    rule = row("0.00012", kind="required", seen=False)
    wet = formula(SALT, method="immersion", pickle_water=grams("980"), product="cooked")
    assert [found.text for found in check_targets(wet, (rule,), KILO)] == [
        "0 mg/kg of sodium nitrite is under 0.00012 of it of the meat block"
    ]
