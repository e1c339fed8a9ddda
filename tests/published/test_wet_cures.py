"""Pumped, immersed and dry-cured products against published figures."""

from fractions import Fraction

import pytest

from station.formula.curing import check_targets, contents, counted_g, ppm
from station.formula.limits import parse_limits
from station.formula.model import Formula
from station.formula.scaling import ingoing_masses
from station.formula.sheet import parse_formula
from station.resources import Config
from station.units import mass

US = parse_limits(*Config().read("limits/us.toml"))
NITRITE = next(row for row in US if row.agents[0] == "sodium nitrite")


def wet(method: str, product: str, line_text: str, pump: str | None = "10 %") -> Formula:
    text = f'name = "x"\nrevision = 1\nproduct = "{product}"\nmethod = "{method}"\n'
    text += f'pump = "{pump}"\n' if pump else ""
    if method in ("pumped", "immersion"):
        text += '[pickle]\nwater = "980 lb"\n'
    text += '[[meat]]\nname = "belly"\nshare = "100 %"\n[[addition]]\n' + line_text
    return parse_formula(text, "x.toml")


def nitrite(amount: str, pickle: bool = True) -> str:
    inside = 'in = "pickle"\n' if pickle else ""
    return (
        f'name = "nitrite"\namount = "{amount}"\nrole = "cure"\n{inside}'
        'contains = { "sodium nitrite" = "10 %", "salt" = "90 %" }\n'
    )


def brings(batch: Formula, meat: str = "100 lb") -> Fraction:
    meat_g = Fraction(mass(meat))
    row = NITRITE
    return ppm(counted_g(ingoing_masses(batch, meat_g), contents(batch), row), meat_g)


def test_a_pumped_pickle_of_two_pounds_to_a_hundred_gallons_is_two_hundred_ppm() -> None:
    """9 CFR 424.21(c) with the handbook's formula, agent x pump / pickle (Directive 7620.3, 1995),
    100 gal of pickle taken as 1000 lb: 2 lb of nitrite, here in 20 lb of premix and 980 lb of
    water, at 10 % pump are 200 ppm, whatever the meat."""
    batch = wet("pumped", "cured whole", nitrite("20 lb"))
    assert brings(batch) == brings(batch, "3 kg") == 200
    findings = [f.text for f in check_targets(batch, US, Fraction(1000)) if f.severity == "broken"]
    assert findings == []
    more = wet("pumped", "cured whole", nitrite("20.1 lb"))
    assert any("over 200 mg/kg" in f.text for f in check_targets(more, US, Fraction(1000)))


def test_pumped_bacon_has_limits_of_its_own_and_no_nitrate() -> None:
    """9 CFR 424.22(b): 120 ppm of sodium nitrite; nitrate not in bacon (424.21(c))."""
    at = wet("pumped", "cured whole bacon", nitrite("11.9028 lb"))  # 1.19028 lb in 991.9028 lb
    assert Fraction("119.99") < brings(at) <= 120
    assert not [f for f in check_targets(at, US, Fraction(1000)) if f.severity == "broken"]
    over = wet("pumped", "cured whole bacon", nitrite("13 lb"))
    assert any("over 120 mg/kg" in f.text for f in check_targets(over, US, Fraction(1000)))
    nitrate = nitrite("1 lb").replace('"sodium nitrite"', '"sodium nitrate"')
    told = check_targets(wet("pumped", "cured whole bacon", nitrate), US, Fraction(1000))
    assert any("no limits row allows sodium nitrate" in f.text for f in told)


def test_immersion_by_method_two_counts_on_meat_and_pickle_together() -> None:
    """Directive 7620.3: agent x 10^6 / (green weight + pickle). 2 lb in 1000 lb of pickle with
    1000 lb of meat are 1000 ppm."""
    batch = wet("immersion", "cured whole", nitrite("20 lb"), pump=None)
    assert brings(batch, "1000 lb") == 1000


def test_immersion_with_a_known_pick_up_counts_like_a_pump() -> None:
    """Directive 7620.3, method one."""
    assert brings(wet("immersion", "cured whole", nitrite("20 lb"), pump="5 %")) == 100


@pytest.mark.parametrize(
    ("product", "amount", "lawful"),
    [
        ("cured whole", "6.25 g/kg", True),  # 1 oz to 100 lb is 625 ppm
        ("cured whole", "6.26 g/kg", False),
        ("cured whole bacon", "2 g/kg", True),  # 9 CFR 424.22(b): 200 ppm
        ("cured whole bacon", "2.01 g/kg", False),
    ],
)
def test_dry_cure_counts_on_the_green_weight(product: str, amount: str, lawful: bool) -> None:
    """9 CFR 424.21(c) and 424.22(b), 2015 edition, dry cure."""
    batch = wet("dry", product, nitrite(amount, pickle=False), pump=None)
    broken = [f for f in check_targets(batch, US, Fraction(1000)) if f.severity == "broken"]
    assert (not broken) is lawful
