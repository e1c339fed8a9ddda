"""Molar masses and ions against published figures; the source stands beside each check."""

from fractions import Fraction

import molmass
import pytest

from station.formula.masses import factor, molar_g


@pytest.mark.parametrize(
    ("agent", "formula_text", "grams"),
    [
        ("sodium nitrite", "NaNO2", "68.9953"),
        ("potassium nitrite", "KNO2", "85.1038"),
        ("nitrite ion", "NO2", "46.0055"),
        ("sodium nitrate", "NaNO3", "84.9947"),
        ("potassium nitrate", "KNO3", "101.1032"),
        ("salt", "NaCl", "58.4427"),
        ("sodium ascorbate", "C6H7O6Na", "198.1062"),
        ("ascorbic acid", "C6H8O6", "176.1244"),
        ("sodium tripolyphosphate", "Na5P3O10", None),
        ("phosphorus pentoxide", "P2O5", None),
        ("sodium metabisulphite", "Na2S2O5", None),
        ("potassium metabisulphite", "K2S2O5", None),
        ("sodium sulphite", "Na2SO3", None),
        ("sodium hydrogen sulphite", "NaHSO3", None),
        ("sodium erythorbate", "C6H7O6Na", None),
        ("erythorbic acid", "C6H8O6", None),
        ("tetrasodium pyrophosphate", "Na4P2O7", None),
        ("sodium acid pyrophosphate", "Na2H2P2O7", None),
        ("disodium phosphate", "Na2HPO4", None),
        ("trisodium phosphate", "Na3PO4", None),
        ("sulphur dioxide", "SO2", None),
    ],
)
def test_molar_masses(agent: str, formula_text: str, grams: str | None) -> None:
    """Against molmass, an independent library, and its figures as printed."""
    ours = float(molar_g(agent))
    assert ours == pytest.approx(molmass.Formula(formula_text).mass, abs=1e-3)
    if grams is not None:
        assert ours == pytest.approx(float(grams), abs=1e-3)


@pytest.mark.parametrize(
    ("sodium_ppm", "potassium_ppm"), [(120, 148), (100, 123), (40, 49), (80, 99), (200, 246)]
)
def test_potassium_nitrite_as_printed_for_bacon(sodium_ppm: int, potassium_ppm: int) -> None:
    """9 CFR 424.22(b): NaNO2 and the KNO2 printed beside it, within 1 mg/kg (200 is truncated)."""
    exact = sodium_ppm / factor("potassium nitrite", "sodium nitrite")
    assert abs(exact - potassium_ppm) < 1


@pytest.mark.parametrize(
    ("agent", "ion", "printed", "exact"),
    [
        ("sodium nitrite", "nitrite ion", "0.67", "0.666792"),
        ("sodium nitrate", "nitrate ion", "0.73", "0.729515"),
        ("potassium nitrate", "nitrate ion", "0.61", "0.613283"),
    ],
)
def test_salts_as_their_ions(agent: str, ion: str, printed: str, exact: str) -> None:
    """Factors printed with Regulation (EU) 2023/2108, and exact ones computed with molmass."""
    found = float(factor(agent, ion))
    assert round(found, 2) == float(printed)
    assert found == pytest.approx(float(exact), abs=2e-6)


def test_phosphate_as_its_pentoxide() -> None:
    """5 000 mg/kg as P2O5 are 8 639 mg/kg of pentasodium triphosphate (computed)."""
    exact = 5000 / factor("sodium tripolyphosphate", "phosphorus pentoxide")
    assert round(exact) == 8639


@pytest.mark.parametrize(("ion_ppm", "as_sodium"), [("80", "119.98"), ("55", "82.48")])
def test_the_european_maxima_as_sodium_nitrite(ion_ppm: str, as_sodium: str) -> None:
    """Regulation (EU) 2023/2108, from 9 October 2025: 80 and 55 mg/kg as NO2 (summary)."""
    exact = Fraction(ion_ppm) / factor("sodium nitrite", "nitrite ion")
    assert abs(exact - Fraction(as_sodium)) < Fraction("0.005")
