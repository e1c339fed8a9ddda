"""Salt outside what is published gets a word; too little in what is eaten raw a loud one."""

from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest

from station.formula.finding import Finding
from station.formula.model import Addition, Amount
from station.formula.salting import check_salt, eaten_raw, parse_salt
from station.opening import opening
from station.resources import Config, packaged
from station.settings import load_settings
from station.tomlfile import FileMistakes
from tests.formula.made import amount, formula, thing

ROWS = parse_salt(*Config().read("limits/salt.toml"))
KILO = Fraction(1000)


def salt(much: str | Amount) -> Addition:
    return thing("salt", much, "salt", {"salt": Decimal(1)})


def said(*lines: Addition, product: str) -> list[Finding]:
    return check_salt(formula(*lines, product=product), ROWS, KILO)


@pytest.mark.parametrize("product", ["fresh comminuted sausage", "cooked cured sausage"])
@pytest.mark.parametrize(
    ("g_per_kg", "says"),
    [
        ("14.999", "1.49 % of the meat, under the usual 1.5 % to 3 %"),
        ("15", None),
        ("30", None),
        ("30.001", "3.01 % of the meat, over the usual 1.5 % to 3 %"),
    ],
)
def test_salt_outside_the_published_range_gets_a_word_with_the_range(
    product: str, g_per_kg: str, says: str | None
) -> None:
    """Fresh and cooked sausage 1.5 to 3 % (published range, second-hand; of what is not said)."""
    found = said(salt(g_per_kg), product=product)
    if says is None:
        assert found == []
    else:
        source = "published range for fresh and cooked sausage, taken second-hand; not seen"
        assert found == [Finding("made", "advice", f"salt is {says}", source)]


@pytest.mark.parametrize(
    "product", ["fresh comminuted burger", "raw comminuted sausage", "cured whole", "cured bacon"]
)
def test_nothing_is_said_of_salt_where_no_figure_is_published(product: str) -> None:
    assert said(salt("1"), product=product) == []


def test_the_salt_of_a_premix_counts() -> None:
    """2 g/kg of a 6.25 % premix hold 1.875 g of salt."""
    assert said(salt("13.125"), thing("premix", "2"), product="cooked cured sausage") == []
    assert len(said(salt("13.124"), thing("premix", "2"), product="cooked cured sausage")) == 1


@pytest.mark.parametrize(("per", "enough"), [("30", True), ("30.0001", False)])
def test_too_little_salt_in_what_is_eaten_raw_is_said_loudly(per: str, enough: bool) -> None:
    """9 CFR 318.10, 2015 edition, withdrawn since: 3 1/3 lb to each hundredweight of unstuffed
    sausage, exactly a thirtieth."""
    found = said(salt(amount("1", "mix", per)), product="raw cured dried comminuted sausage")
    if enough:
        assert found == []
    else:
        (finding,) = found
        assert finding.severity == "warning"
        assert finding.text == (
            "TOO LITTLE SALT FOR WHAT IS EATEN RAW: 3.33 % of the mix, where 3.34 % was once the"
            " least; have the process judged before anybody eats it"
        )
        assert finding.source.startswith("9 CFR 318.10, 2015 edition, withdrawn since: 3 1/3 lb")
        assert finding.source.endswith("; seen")


@pytest.mark.parametrize(
    ("product", "raw"),
    [
        ("dried sausage", True), ("fermented sausage", True), ("raw cured comminuted", True),
        ("raw sausage", False), ("cured sausage", False), ("fresh sausage", False),
        ("cooked dried sausage", False), ("cooked fermented cured sausage", False),
    ],
)  # fmt: skip
def test_what_is_eaten_raw_is_dried_fermented_or_raw_and_cured(product: str, raw: bool) -> None:
    assert eaten_raw(formula(product=product)) == raw


def test_too_much_salt_is_never_called_too_little() -> None:
    text = Config().read("limits/salt.toml")[0]
    rows = parse_salt(text.replace("eaten_raw = true", 'eaten_raw = true\nmost = "5 %"'), "s.toml")
    made = formula(salt("60"), product="raw dried sausage")
    (finding,) = check_salt(made, rows, KILO)
    assert (finding.severity, "over the usual 3.34 % to 5 %" in finding.text) == ("advice", True)


def test_a_least_alone_is_told_as_one() -> None:
    text = Config().read("limits/salt.toml")[0].replace('most = "3 %"\n', "")
    (finding,) = check_salt(formula(product="fresh sausage"), parse_salt(text, "s.toml"), KILO)
    assert finding.text == "salt is 0 % of the meat, under the usual 1.5 % or more"


def test_whole_pieces_are_not_judged_by_the_figure_for_sausage() -> None:
    for product in ("raw cured dried whole", "raw cured dried bacon"):
        assert said(salt("10"), product=product) == []


def test_little_salt_is_enforced_nowhere(tmp_path: Path) -> None:
    """It opens at the bench, with the word for the record."""
    (tmp_path / "formulas").mkdir()
    ring = (packaged() / "formulas" / "garlic-ring.toml").read_text("utf-8")
    raw = ring.replace("cooked cured comminuted", "raw cured dried comminuted")
    (tmp_path / "formulas" / "raw.toml").write_text(raw, "utf-8")
    config = Config(tmp_path)
    plan = {"meat": "12 kg"}
    _, words = opening(config, load_settings(config), False, "raw", plan, "Ansel")
    assert [line for line, text in words if text.startswith("TOO LITTLE SALT")] == [
        "Fenwether garlic ring"
    ]


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('["fresh",', '["frsh",', "did you mean 'fresh'?"),
        ('["whole",', '["hole",', "did you mean 'whole'?"),
        ('"1.5 %"', '"15 g"', "expected a share"),
        ('"1.5 %"', '"0 %"', "more than nothing"),
        ('"mix"', '"product"', "allowed meat block, mix"),
        ("least =", "lest =", "did you mean 'least'?"),
        ("[[salt]]", "[[slat]]", "did you mean 'salt'?"),
    ],
)
def test_a_slip_in_the_file_of_salt_is_named(old: str, new: str, says: str) -> None:
    text, name = Config().read("limits/salt.toml")
    with pytest.raises(FileMistakes, match=r"salt\.toml") as told:
        parse_salt(text.replace(old, new, 1), name)
    assert says in str(told.value)
