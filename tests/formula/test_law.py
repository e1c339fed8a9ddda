"""Additive law is a positive list: what no row names is refused, other lines pass."""

from fractions import Fraction

import msgspec
import pytest

from station.formula.curing import check_targets
from station.formula.law import Law, findings
from station.formula.limits import parse_limits, rows_for
from station.formula.sheet import parse_formula
from station.resources import Config
from station.tomlfile import FileMistakes
from tests.formula.made import COMMON
from tests.formula.test_sheet import GOOD

US = parse_limits(*Config().read("limits/us.toml"))


def broken(extra: str, product: str = "cooked cured comminuted") -> list[str]:
    text = GOOD.replace("cooked cured comminuted", product) + extra
    found = check_targets(parse_formula(text, "t.toml"), US, Fraction(10_000))
    return [finding.text for finding in found if finding.severity == "broken"]


def line(role: str, contains: str) -> str:
    return f'\n[[addition]]\nname = "more"\namount = "0.05 %"\nrole = "{role}"\n{contains}\n'


def test_a_lawful_cure_passes() -> None:
    assert broken("") == []


@pytest.mark.parametrize(
    ("role", "contains", "says"),
    [
        ("accelerator", 'contains = { "sorbic acid" = "100 %" }', "no limits row allows"),
        ("accelerator", "", "must say which agent"),
        ("phosphate", 'contains = { "calcium phosphate" = "100 %" }', "no limits row allows"),
        ("cure", 'contains = { "potassium sorbate" = "4 %" }', "no limits row allows"),
    ],
)
def test_a_regulated_line_that_no_row_covers_is_refused(
    role: str, contains: str, says: str
) -> None:
    assert any(says in text for text in broken(line(role, contains)))


def test_a_cure_in_a_product_that_no_row_covers_is_refused() -> None:
    assert any("no limits row allows" in text for text in broken("", "fresh comminuted"))


def test_nitrite_hidden_in_a_seasoning_counts() -> None:
    hidden = line("seasoning", 'contains = { "sodium nitrite" = "7 %" }')
    assert any("160 mg/kg" in text for text in broken(hidden))


def test_a_seasoning_needs_no_row() -> None:
    assert broken(line("seasoning", 'contains = { "salt" = "10 %" }')) == []


def test_a_row_from_memory_advises_and_never_becomes_a_limit() -> None:
    """The policy minimum of 120 mg/kg is known second-hand: it advises."""
    weak = parse_formula(GOOD.replace('amount = "0.20 %"', 'amount = "0.15 %"'), "t.toml")
    found = check_targets(weak, US, Fraction(10_000))
    advice = [finding for finding in found if "under 120 mg/kg" in finding.text]
    assert [finding.severity for finding in advice] == ["advice"]
    enforced = rows_for(weak, US)
    assert enforced and all(row.seen and row.kind == "ingoing" for row in enforced)


@pytest.mark.parametrize(
    ("amount", "says"),
    [("0.0546875 %", None), ("0.054688 %", "over 546.875 mg/kg")],
)
def test_an_accelerator_at_its_limit_passes_and_over_it_does_not(
    amount: str, says: str | None
) -> None:
    """9 CFR 424.21(c), 2015 edition: sodium ascorbate or erythorbate, 7/8 oz to 100 lb."""
    text = line("accelerator", 'contains = { "sodium erythorbate" = "100 %" }')
    found = broken(text.replace("0.05 %", amount))
    assert found == [] if says is None else any(says in told for told in found)


def test_an_accelerator_without_a_cure_is_refused() -> None:
    """9 CFR 424.21(c): only together with a curing agent."""
    text = GOOD.replace('role = "cure"', 'role = "seasoning"').replace(
        '"sodium nitrite" = "6.25 %", ', ""
    )
    text += line("accelerator", 'contains = { "ascorbic acid" = "100 %" }').replace("0.05", "0.04")
    found = check_targets(parse_formula(text, "t.toml"), US, Fraction(10_000))
    told = [finding for finding in found if "only together with a curing agent" in finding.text]
    assert [finding.severity for finding in told] == ["broken"]


@pytest.mark.parametrize("amount", ["0.02 %", "2 %"])
def test_a_tenth_or_ten_times_the_usual_cure_is_called_out(amount: str) -> None:
    text = GOOD.replace('amount = "0.20 %"', f'amount = "{amount}"')
    found = check_targets(parse_formula(text, "t.toml"), US, Fraction(10_000))
    assert any("far from what is usual" in finding.text for finding in found)


def test_a_cure_and_an_accelerator_in_one_cup_are_called_out() -> None:
    """21 CFR 170.60 for nitrite with other things; that they react is common practice."""
    parts = (
        '\n[[addition]]\nname = "cup"\nrole = "cure"\nparts = ['
        '{ name = "a", amount = "0.1 %", role = "cure",'
        ' contains = { "sodium nitrite" = "6.25 %" } },'
        '{ name = "b", amount = "0.05 %", role = "accelerator",'
        ' contains = { "sodium ascorbate" = "100 %" } } ]\n'
    )
    found = check_targets(parse_formula(GOOD + parts, "t.toml"), US, Fraction(10_000))
    assert any("one vessel" in finding.text for finding in found)


def test_a_phosphate_after_the_salt_is_called_out() -> None:
    salt = '\n[[addition]]\nname = "salt itself"\namount = "1 %"\nrole = "salt"\n'
    late = line("phosphate", 'contains = { "sodium tripolyphosphate" = "100 %" }')
    found = check_targets(parse_formula(GOOD + salt + late, "t.toml"), US, Fraction(10_000))
    assert any("after the salt" in finding.text for finding in found)


def test_what_is_left_after_processing_is_never_compared_with_what_goes_in() -> None:
    """200 mg/kg of nitrite and nitrate may be left: 9 CFR 424.21(c), 2015 edition."""
    much = 'amount = "0.24 %"\nrole = "cure"\ncontains = { "sodium nitrate" = "50 %" }'
    nitrate = GOOD + f'\n[[addition]]\nname = "second"\n{much}\n'  # 1200 mg/kg of nitrate
    found = check_targets(parse_formula(nitrate, "t.toml"), US, Fraction(10_000))
    assert [f.severity for f in found if "no scale can judge" in f.text] == ["advice"]
    assert not [f for f in found if f.severity == "broken"]


@pytest.mark.parametrize("authority", ["eu", "gb"])
def test_no_residual_amount_is_named_where_its_text_was_not_read(authority: str) -> None:
    """25 to 50 mg/kg as NO2 by category, seen second-hand; the 80 of Codex binds nobody there."""
    lean = GOOD.replace('amount = "0.20 %"', 'amount = "0.19 %"')
    assert not [text for _, text in said(lean, authority) if "no scale can judge" in text]
    assert not [text for severity, text in said(lean, authority) if severity == "broken"]


def test_a_product_that_no_row_covers_is_told_so() -> None:
    text = 'name = "x"\nrevision = 1\nproduct = "fresh burger"\n[[meat]]\nname = "beef"\n'
    burger = parse_formula(text + 'share = "100 %"\n', "x.toml")
    (finding,) = findings(burger, Law(US, (), False, "2026-11-26", COMMON), Fraction(10_000))
    assert finding.severity == "advice"
    assert "no limits row is about fresh burger" in finding.text


def said(text: str, authority: str = "us", meat_g: int = 10_000) -> list[tuple[str, str]]:
    rows = parse_limits(*Config().read(f"limits/{authority}.toml"))
    found = check_targets(parse_formula(text, "t.toml"), rows, Fraction(meat_g))
    return [(finding.severity, finding.text) for finding in found]


NO_CURE = GOOD[: GOOD.index("[[addition]]")]


def test_a_required_amount_that_is_not_there_at_all_is_under() -> None:
    rows = tuple(msgspec.structs.replace(r, seen=True) for r in US if r.kind == "required")
    found = check_targets(parse_formula(NO_CURE, "t.toml"), rows, Fraction(1000))
    assert [f.severity for f in found if "0 mg/kg" in f.text and "under 120" in f.text] == [
        "broken"
    ]
    at = GOOD.replace('amount = "0.20 %"', 'amount = "1.92 g/kg"')  # 120 mg/kg exactly
    found = check_targets(parse_formula(at, "t.toml"), rows, Fraction(1000))
    assert not [f for f in found if "under" in f.text]
    less = GOOD.replace('amount = "0.20 %"', 'amount = "1.9199 g/kg"')
    found = check_targets(parse_formula(less, "t.toml"), rows, Fraction(1000))
    assert [f.severity for f in found if "119.99 mg/kg" in f.text] == ["broken"]


def test_a_product_called_cured_without_a_cure_is_told_so() -> None:
    assert any("no curing agent is in it" in text for _, text in said(NO_CURE))


@pytest.mark.parametrize("agent", ["NaNO2", "E250", "e 250", "Sodium  Nitrite", "sodium nıtrite"])
def test_an_agent_is_the_same_by_any_of_its_names(agent: str) -> None:
    text = GOOD.replace('"sodium nitrite"', f'"{agent}"').replace("0.20 %", "0.26 %")
    assert any("162.5 mg/kg" in told and severity == "broken" for severity, told in said(text))


@pytest.mark.parametrize(
    ("agent", "offer"),
    [
        ("sodum nitrite", "; did you mean 'sodium nitrite'?"),
        ("sodium nitrte", "; did you mean 'sodium nitrate' or 'sodium nitrite'?"),  # as near
        ("nitrite", "; did you mean 'potassium nitrite' or 'sodium nitrite'?"),
        ("erythorbate", "; did you mean 'sodium erythorbate'?"),
        ("sodium phosphate", "; did you mean 'disodium phosphate' or 'trisodium phosphate'?"),
    ],
)
def test_a_near_agent_is_offered_and_never_taken(agent: str, offer: str) -> None:
    told = said(GOOD.replace("sodium nitrite", agent))
    assert ("broken", f"no limits row allows {agent} in cooked cured comminuted{offer}") in told


@pytest.mark.parametrize("agent", ["iodine", "potassium chloride", "pepper extract"])
def test_what_is_another_thing_gets_no_agent_offered(agent: str) -> None:
    told = said(GOOD + line("other", f'contains = {{ "{agent}" = "1 %" }}'))
    assert ("advice", f"no limits row is about {agent}: it is not judged") in told


def test_a_near_carrier_is_offered() -> None:
    told = said(GOOD.replace('"salt" =', '"slat" ='))
    assert (
        "broken",
        "no limits row allows slat in cooked cured comminuted; did you mean 'salt'?",
    ) in told


CURED_BELLY = (
    GOOD.replace("cooked cured comminuted", "bacon")
    .replace("revision = 1", 'revision = 1\nmethod = "dry"')
)  # fmt: skip


@pytest.mark.parametrize("authority", ["us", "eu", "gb"])
def test_bacon_with_a_cure_is_offered_the_word_that_the_limits_know(authority: str) -> None:
    told = [text for severity, text in said(CURED_BELLY, authority) if severity == "broken"]
    assert len(told) == 1
    assert told[0].endswith("the product is cured, too: did you mean 'cured bacon'?")


def test_no_word_is_offered_where_the_law_has_none_that_allows_the_agent() -> None:
    """9 CFR 424.21(c): nitrate, not in bacon; what may be left of it after processing allows none.
    Sulphite asks for cereal, not for another product."""
    nitrate = CURED_BELLY.replace("sodium nitrite", "sodium nitrate")
    assert ("broken", "no limits row allows sodium nitrate in bacon") in said(nitrate)
    fresh = NO_CURE.replace("cooked cured comminuted", "fresh comminuted sausage")
    sulphite = fresh + line("preservative", 'contains = { "E223" = "100 %" }')
    lacking = "no limits row allows sodium metabisulphite in fresh comminuted sausage"
    lacking += "; a row allows it beside 6 % of what says cereal = true"
    assert ("broken", lacking) in said(sulphite, "gb")


def test_no_word_is_offered_that_contradicts_the_product() -> None:
    """A fresh sausage is no cured one, and no other word makes nitrite lawful in it."""
    told = said(GOOD.replace("cooked cured comminuted", "fresh comminuted sausage"))
    assert ("broken", "no limits row allows sodium nitrite in fresh comminuted sausage") in told


def test_the_same_agent_twice_is_a_mistake() -> None:
    twice = GOOD.replace('"sodium nitrite" =', '"Sodium Nitrite" = "0.6 %", "sodium nitrite" =')
    with pytest.raises(FileMistakes, match="sodium nitrite is there twice"):
        parse_formula(twice, "t.toml")


def test_sulphite_wants_its_cereal() -> None:
    """Regulation (EC) 1333/2008, Annex II: breakfast sausage with 6 % cereal or more."""
    fresh = NO_CURE.replace("cooked cured comminuted", "fresh comminuted sausage")
    sulphite = line("preservative", 'contains = { "E223" = "100 %" }').replace("0.05", "0.06")
    rusk = '\n[[addition]]\nname = "rusk"\namount = "8 %"\nrole = "binder"\ncereal = true\n'
    told = said(fresh + sulphite, "gb")
    assert any("no limits row allows sodium metabisulphite" in text for _, text in told)
    told = said(fresh + rusk + sulphite, "gb")
    assert not [text for severity, text in told if severity == "broken"]
    much = rusk + sulphite.replace("0.06", "0.07")  # 472 mg/kg as SO2
    assert any("over 450 mg/kg" in text for _, text in said(fresh + much, "gb"))


@pytest.mark.parametrize("authority", ["eu", "gb"])
@pytest.mark.parametrize(
    ("word", "rusk_g", "more", "meat_g", "lawful"),
    [
        ("sausage", "638.7", "cereal = true", 10_000, True),  # 6 % of 10 645 g
        ("sausage", "638.5", "cereal = true", 10_000, False),
        ("sausage", "638.7", "cereal = true", 10_010, False),  # the same of more meat
        ("sausage", "2000", "", 10_000, False),  # milk powder binds, and is no cereal
        ("burger", "417", "cereal = true", 10_000, True),  # 4 % of 10 423 g
        ("burger", "416", "cereal = true", 10_000, False),
    ],
)
def test_sulphite_is_opened_by_the_cereal_of_the_batch_alone(
    word: str, rusk_g: str, more: str, meat_g: int, lawful: bool, authority: str
) -> None:
    """Regulation (EC) 1333/2008, Annex II: breakfast sausage with 6 % of cereal, burger meat with
    4 % of vegetable or cereal."""
    fresh = NO_CURE.replace("cooked cured comminuted", f"fresh comminuted {word}")
    sulphite = line("preservative", 'contains = { "E223" = "100 %" }')
    rusk = f'\n[[addition]]\nname = "rusk"\namount = "{rusk_g} g"\nrole = "binder"\n{more}\n'
    told = said(fresh + rusk + sulphite, authority, meat_g=meat_g)
    refused = [text for _, text in told if "no limits row allows sodium metab" in text]
    assert bool(refused) is not lawful
    least = {"sausage": "6", "burger": "4"}[word]
    assert all(f"beside {least} % of what says cereal = true" in text for text in refused)


def test_what_hangs_on_the_meat_is_said_and_judged_for_the_meat_given() -> None:
    """Fixed 25 g of a 6.25 % premix are 156.25 mg/kg of 10 kg, and more of less."""
    fixed = GOOD.replace('amount = "0.20 %"', 'amount = "25 g"')
    assert not [text for severity, text in said(fixed) if severity == "broken"]
    assert any("with less it is more" in text for _, text in said(fixed))
    assert any("156.27 mg/kg" in text for _, text in said(fixed, meat_g=9_999))


def test_a_figure_beside_its_limit_is_rounded_away_from_it() -> None:
    text = GOOD.replace('amount = "0.20 %"', 'amount = "2.50000001 g/kg"')
    assert any("156.26 mg/kg" in told and "over 156.25" in told for _, told in said(text))


def test_what_dries_away_counts_on_what_is_left() -> None:
    """0.49 % of phosphate on meat is over 0.5 % of a product that is 0.6 of its mix."""
    poly = line("phosphate", 'contains = { "sodium tripolyphosphate" = "100 %" }')
    poly = poly.replace("0.05 %", "0.49 %")
    whole = NO_CURE.replace("cooked cured", "raw")
    assert not [text for severity, text in said(whole + poly) if severity == "broken"]
    dried = whole.replace("raw comminuted", "raw dried comminuted")
    dried = dried.replace("revision = 1\n", 'revision = 1\nloss = "40 %"\n')
    assert any("over 5000 mg/kg" in text for _, text in said(dried + poly))


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ('role = "cure"', 'role = "accelerator"'),
        ('role = "seasoning"', 'role = "seasoning"'),
    ],
)
def test_nitrite_beside_ascorbate_in_one_cup_is_called_out_by_what_they_contain(
    first: str, second: str
) -> None:
    parts = (
        '\n[[addition]]\nname = "cup"\nrole = "other"\nparts = ['
        f'{{ name = "a", amount = "0.1 %", {first},'
        ' contains = { "sodium nitrite" = "6.25 %" } },'
        f'{{ name = "b", amount = "0.01 %", {second},'
        ' contains = { "sodium ascorbate" = "100 %" } } ]\n'
    )
    assert any("they react" in text for _, text in said(NO_CURE + parts))


@pytest.mark.parametrize("amount", ["0.02 % of mix", "2 g", "0.012 %"])
def test_a_tenth_of_the_usual_is_called_out_however_the_amount_is_given(amount: str) -> None:
    text = GOOD.replace('amount = "0.20 %"', f'amount = "{amount}"')
    assert any("far from what is usual" in told for _, told in said(text))


def test_two_cures_that_are_usual_together_are_not_called_out() -> None:
    half = GOOD.replace('amount = "0.20 %"', 'amount = "0.10 %"')
    second = half[half.index("[[addition]]") : half.index("[[step]]")]
    second = second.replace("premix", "premix of the second bag")
    assert not any("usual" in told for _, told in said(half + "\n" + second))


def test_signs_that_cannot_be_seen_hide_no_agent() -> None:
    hidden = GOOD.replace('"sodium nitrite"', '"sodium ni\u00adtrite"').replace("0.20", "0.26")
    assert any("162.5 mg/kg" in text for _, text in said(hidden))


@pytest.mark.parametrize(
    ("product", "allowed"),
    [
        ("cooked comminuted sausage", True), ("fresh comminuted sausage", False),
        ("raw dried comminuted sausage", False), ("fresh comminuted burger", True),
        ("fresh ground comminuted", False),
    ],
)  # fmt: skip
def test_phosphate_is_for_cooked_sausage_and_patties(product: str, allowed: bool) -> None:
    """9 CFR 319.140, 319.15 and 424.21(c), 2015 edition: sausage holds none except cooked sausage,
    ground beef none, beef patties may."""
    poly = line("phosphate", 'contains = { "sodium tripolyphosphate" = "100 %" }')
    told = said(NO_CURE.replace("cooked cured comminuted", product) + poly.replace("0.05", "0.5"))
    refused = [text for severity, text in told if severity == "broken"]
    assert refused == ([] if allowed else [
        f"no limits row allows sodium tripolyphosphate in {product}"
    ])  # fmt: skip
    over = said(NO_CURE.replace("cooked cured comminuted", product) + poly.replace("0.05", "0.51"))
    assert any("over 5000 mg/kg" in text for _, text in over) is allowed
