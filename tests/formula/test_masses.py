"""Molar masses and one agent expressed as another, against published figures."""

from fractions import Fraction

import pytest

from station.formula.masses import AGENTS, ATOMS, agent_name, factor, molar_g


@pytest.mark.parametrize(
    ("agent", "grams"),
    [("sodium nitrite", "68.9953"), ("potassium nitrite", "85.1038"), ("nitrite ion", "46.0055"),
     ("sodium nitrate", "84.9947"), ("potassium nitrate", "101.1032"), ("salt", "58.4427"),
     ("sodium ascorbate", "198.1062"), ("ascorbic acid", "176.1244"),
     ("sodium erythorbate", "198.1062"), ("erythorbic acid", "176.1244")],
)  # fmt: skip
def test_molar_masses(agent: str, grams: str) -> None:
    """g/mol by the IUPAC abridged atomic weights (molmass)."""
    assert round(molar_g(agent), 4) == Fraction(grams)


@pytest.mark.parametrize(
    ("agent", "formula"),
    [
        ("nitrate ion", "N O3"), ("phosphorus pentoxide", "P2 O5"),
        ("trisodium phosphate", "Na3 P O4"), ("disodium phosphate", "Na2 H P O4"),
        ("sodium acid pyrophosphate", "Na2 H2 P2 O7"),
        ("tetrasodium pyrophosphate", "Na4 P2 O7"), ("sodium tripolyphosphate", "Na5 P3 O10"),
        ("sulphur dioxide", "S O2"), ("sodium metabisulphite", "Na2 S2 O5"),
        ("sodium sulphite", "Na2 S O3"), ("sodium hydrogen sulphite", "Na H S O3"),
        ("potassium metabisulphite", "K2 S2 O5"),
    ],
)  # fmt: skip
def test_what_an_agent_is_made_of(agent: str, formula: str) -> None:
    """The formulas of chemistry, written out once more by hand."""
    atoms = {}
    for word in formula.split():
        letters = word.rstrip("0123456789")
        atoms[letters] = int(word[len(letters) :] or 1)
    assert dict(AGENTS[agent]) == atoms


@pytest.mark.parametrize(
    ("atom", "grams"),
    [("H", "1.008"), ("C", "12.011"), ("N", "14.007"), ("O", "15.999"), ("Na", "22.990"),
     ("P", "30.974"), ("S", "32.06"), ("Cl", "35.45"), ("K", "39.098")],
)  # fmt: skip
def test_atomic_weights_are_the_published_ones(atom: str, grams: str) -> None:
    """IUPAC abridged standard atomic weights, 2021 (from memory)."""
    assert abs(ATOMS[atom] - Fraction(grams)) < Fraction("0.006")


@pytest.mark.parametrize(
    ("agent", "as_what", "figure"),
    [("sodium nitrite", "nitrite ion", "0.666792"),
     ("sodium nitrate", "nitrate ion", "0.729515"),
     ("potassium nitrate", "nitrate ion", "0.613283")],
)  # fmt: skip
def test_nitrite_and_nitrate_as_their_ions(agent: str, as_what: str, figure: str) -> None:
    """Regulation (EU) 2023/2108 prints 0.67, 0.73 and 0.61; exact figures computed."""
    assert round(factor(agent, as_what), 6) == Fraction(figure)


@pytest.mark.parametrize(("sodium", "potassium"), [("120", "148"), ("100", "123"), ("200", "247")])
def test_potassium_nitrite_weighs_more_for_as_much_nitrite(sodium: str, potassium: str) -> None:
    """9 CFR 424.22(b) prints 148 and 123 beside 120 and 100; of 200 exact 246.69, there cut to 246.
    KNO2/NaNO2 = 1.233472 (computed)."""
    exact = Fraction(sodium) * factor("sodium nitrite", "potassium nitrite")
    assert round(exact) == int(potassium)
    assert (
        factor("sodium nitrite", "potassium nitrite")
        * factor("potassium nitrite", "sodium nitrite")
        == 1
    )


def test_moles_of_the_shared_atom_are_counted() -> None:
    """Three phosphorus in a tripolyphosphate, two in P2O5; two sulphur in a metabisulphite.
    5000 mg/kg of P2O5 are 8639 as pentasodium triphosphate (Regulation (EU) 1333/2008, computed).
    """
    assert round(5000 / factor("sodium tripolyphosphate", "phosphorus pentoxide")) == 8639
    assert factor("sodium metabisulphite", "sulphur dioxide") == (
        2 * molar_g("sulphur dioxide") / molar_g("sodium metabisulphite")
    )


def test_an_agent_counts_as_itself_even_where_it_is_in_no_table() -> None:
    assert factor("natamycin", "natamycin") == 1
    assert factor("salt", "salt") == 1


def test_what_shares_no_atom_that_counts_cannot_be_expressed() -> None:
    with pytest.raises(ValueError, match="salt cannot be expressed as sodium nitrite"):
        factor("salt", "sodium nitrite")  # the sodium they share is not what acts
    with pytest.raises(ValueError, match="cannot be expressed"):
        factor("sodium nitrite", "ascorbic acid")
    with pytest.raises(KeyError):
        factor("natamycin", "salt")
    with pytest.raises(KeyError):
        factor("salt", "natamycin")


def test_vitamin_c_counts_by_its_carbon() -> None:
    assert factor("sodium ascorbate", "ascorbic acid") == (
        molar_g("ascorbic acid") / molar_g("sodium ascorbate")
    )


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("Sodium  Nitrite", "sodium nitrite"), ("E 250", "sodium nitrite"),
        ("e-250", "sodium nitrite"), ("NaNO2", "sodium nitrite"), ("KNO3", "potassium nitrate"),
        ("E249", "potassium nitrite"), ("sodium chloride", "salt"),
        ("Gdl", "glucono delta lactone"),
        ("erythorbic acid", "erythorbic acid"), ("egg white", "egg white"),
        ("sodium nitr\u0131te", "sodium nitrite"), ("sodium ni\u00adtrite", "sodium nitrite"),
        ("n a n o 2", "n a n o 2"), ("rock-salt", "rock-salt"),
    ],
)  # fmt: skip
def test_an_agent_has_one_name_however_it_is_written(text: str, name: str) -> None:
    assert agent_name(text) == name
