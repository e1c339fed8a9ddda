"""The rows of the law: which hold for a formula, what they count, and how a file says them."""

from decimal import Decimal
from fractions import Fraction

import pytest

from station.formula.limits import (
    AUTHORITIES,
    LimitRow,
    about,
    agent_hint,
    agents_of,
    in_force,
    parse_limits,
    required_for,
    rows_for,
)
from station.tomlfile import FileMistakes
from tests.formula.made import formula, row, thing

ROW = """authority = "us"
[[row]]
words = ["cured", "comminuted"]
agents = ["sodium nitrite", "potassium nitrite"]
basis = "meat block"
maximum = "156.25 mg/kg"
source = "9 CFR 424.21(c)"
seen = true
since = "1999-12-23"
"""


@pytest.mark.parametrize(
    ("seen", "kind", "enforced"),
    [(True, "ingoing", True), (False, "ingoing", False), (True, "required", False),
     (True, "as needed", False), (True, "residual", False)],
)  # fmt: skip
def test_only_a_most_that_was_seen_is_enforced(seen: bool, kind: str, enforced: bool) -> None:
    assert row(seen=seen, kind=kind).enforced is enforced


def test_a_row_counts_its_agents_and_no_others() -> None:
    both = row(agents=("sodium nitrite", "potassium nitrite"))
    contains = {
        "sodium nitrite": Decimal("0.05"), "potassium nitrite": Decimal("0.01"),
        "sodium nitrate": Decimal("0.04"), "salt": Decimal("0.9"),
    }  # fmt: skip
    assert both.counted(contains) == Fraction("0.06")
    assert both.counted({"salt": Decimal(1)}) == 0
    assert both.unit == "mg/kg"


def test_agents_are_counted_as_what_the_row_expresses() -> None:
    """NaNO2 as its ion: 0.666792 (Regulation (EU) 2023/2108 prints 0.67; computed)."""
    ion = row(expressed_as="nitrite ion")
    assert round(ion.counted({"sodium nitrite": Decimal("0.5")}), 6) == Fraction("0.333396")
    assert ion.unit == "mg/kg as nitrite ion"


@pytest.mark.parametrize(
    ("fields", "holds"),
    [
        ({}, True),
        ({"words": ("cured",)}, True),
        ({"words": ("cured", "comminuted", "cooked")}, True),
        ({"words": ("cured", "bacon")}, False),
        ({"not_words": ("bacon",)}, True),
        ({"not_words": ("bacon", "cured")}, False),
        ({"methods": ("comminuted", "dry")}, True),
        ({"methods": ("pumped",)}, False),
        ({"binder": Decimal("0.06")}, True),  # 90 g of rusk in 1500 g of mix are 6 % exactly
        ({"binder": Decimal("0.0601")}, False),
        ({"binder": Decimal("0.05")}, True),
        ({"cereal": Decimal("0.06")}, True),
        ({"cereal": Decimal("0.0601")}, False),
        ({"cereal": Decimal("0.05")}, True),
    ],
)
def test_a_row_holds_by_its_words_its_methods_its_binder_and_its_cereal(
    fields: dict[str, object], holds: bool
) -> None:
    rusk, water = thing("rusk", "90", "binder", {}, cereal=True), thing("water", "410", "water", {})
    made = formula(rusk, water)
    assert bool(about(made, [row(**fields)])) is holds


def test_the_rows_that_bind_and_those_that_require_are_told_apart() -> None:
    rows = [
        row("0.0001"), row("0.0002", seen=False), row("0.0003", kind="required"),
        row("0.0004", kind="required", seen=False), row("0.0005", kind="residual"),
        row("0.0006", kind="as needed"), row("0.0007", words=("bacon",)),
        row("0.0008", kind="required", words=("bacon",)),
    ]  # fmt: skip
    made = formula(thing())
    assert rows_for(made, rows) == (rows[0],)
    assert required_for(made, rows) == (rows[2],)
    assert about(made, rows) == tuple(rows[:6])


@pytest.mark.parametrize(
    ("day", "holds"), [("2025-10-08", False), ("2025-10-09", True), ("2026-01-01", True)]
)
def test_a_row_is_in_force_from_its_day_on(day: str, holds: bool) -> None:
    """Regulation (EU) 2023/2108 applies from 9 October 2025."""
    assert bool(in_force([row(since="2025-10-09")], day)) is holds


def test_a_carrier_is_no_agent() -> None:
    contains = ["sodium nitrite", "salt", "sugar", "dextrose", "water", "citric acid"]
    assert agents_of(contains) == ["sodium nitrite", "citric acid"]


@pytest.mark.parametrize(
    ("product", "fields", "hint"),
    [
        ("cured", {"any_words": ("dried", "cooked")}, "dried"),
        ("raw cured", {"any_words": ("cooked", "dried")}, "dried"),  # raw is never cooked
        ("whole", {"words": ("cured",), "any_words": ("bacon", "dried")}, "bacon cured"),
        ("whole bacon", {"words": ("cured",), "any_words": ("bacon",)}, "cured"),
        ("fresh", {"words": ("cured",)}, None),
        ("raw", {"words": ("cooked", "sausage")}, None),
    ],
)
def test_the_words_that_a_row_wants_are_offered_where_the_product_bears_them(
    product: str, fields: dict[str, object], hint: str | None
) -> None:
    made = formula(thing(), product=product)
    told = agent_hint(made, [row(**fields)], "sodium nitrite")
    whole = f"; a row allows it where the product is {hint}, too: did you mean '{hint} {product}'?"
    assert told == (whole if hint else "")


# the file


def read(*changes: tuple[str, str], name: str = "us.toml") -> tuple[LimitRow, ...]:
    text = ROW
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return parse_limits(text, name)


def test_a_row_is_read_as_it_is_written() -> None:
    assert read() == (
        LimitRow(
            authority="us", words=("cured", "comminuted"),
            agents=("sodium nitrite", "potassium nitrite"), basis="meat block",
            maximum=Decimal("0.00015625"), text="156.25 mg/kg", source="9 CFR 424.21(c)",
            seen=True, since="1999-12-23",
        ),
    )  # fmt: skip


def test_what_a_row_does_not_say_binds_nobody() -> None:
    (found,) = read(("seen = true\n", ""))
    assert found.seen is False and not found.enforced
    assert found.kind == "ingoing" and found.binder is None and found.expressed_as is None
    for authority in ("eu", "gb"):
        named = ('authority = "us"', f'authority = "{authority}"')
        (found,) = read(("seen = true\n", ""), named, name=f"{authority}.toml")
        assert found.seen is False


def test_what_spares_a_row_is_read_with_its_share_and_any_amount_is_nothing() -> None:
    (found,) = read(("seen = true", 'unless = { culture = "0 %", sweetener = "0.7 %" }'))
    assert found.unless == (("culture", Decimal(0)), ("sweetener", Decimal("0.007")))


def test_a_row_names_its_figure_by_its_kind() -> None:
    (required,) = read(('maximum = "156.25', 'kind = "required"\nminimum = "120'))
    assert (required.kind, required.maximum, required.text) == (
        "required", Decimal("0.00012"), "120 mg/kg",
    )  # fmt: skip
    (needed,) = read(('maximum = "156.25 mg/kg"', 'kind = "as needed"'))
    assert (needed.kind, needed.maximum, needed.text) == ("as needed", 0, "as needed")
    (residual,) = read(("maximum", 'kind = "residual"\nmaximum'))
    assert (residual.kind, residual.maximum) == ("residual", Decimal("0.00015625"))


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('"156.25 mg/kg"', '"0 mg/kg"', "expected more than nothing"),
        ('"156.25 mg/kg"', '"156.25"', "expected a share"),
        ('maximum = "156.25 mg/kg"\n', "", "missing"),
        ("maximum", 'kind = "required"\nmaximum', "minimum"),
        ('["sodium nitrite", "potassium nitrite"]', "[]", "expected the agents"),
        ('"potassium nitrite"', '"potasium nitrite"', "did you mean 'potassium nitrite'"),
        ('"comminuted"]', '"comminutd"]', "did you mean 'comminuted'"),
        ("seen = true", 'not_words = ["bacn"]', "did you mean 'bacon'"),
        ("seen = true", 'any_words = ["bacn"]', "did you mean 'bacon'"),
        ("seen = true", 'unless = { cultur = "0 %" }', "did you mean 'culture'"),
        ("seen = true", 'unless = { culture = "some" }', "expected a share"),
        ("seen = true", 'methods = ["pumpd"]', "did you mean 'pumped'"),
        ("seen = true", 'only_with = ["sodium nitrit"]', "did you mean 'sodium nitrite'"),
        ("seen = true", 'expressed_as = "ascorbic acid"', "sodium nitrite cannot be expressed as"),
        ("seen = true", 'expressed_as = "nitrit"', "sodium nitrite cannot be expressed as nitrit"),
        ("seen = true", 'binder = "some"', "expected a share"),
        ('"meat block"', '"meat"', "found 'meat'"),
        ('"1999-12-23"', '"1999-13-23"', "month must be in 1..12"),
        ("seen = true", "sen = true", "did you mean 'seen'"),
        ('authority = "us"', 'authority = "eu"', "found 'eu' in a file named us"),
        ('authority = "us"', 'authority = "us"\nrows = 1', "did you mean 'row'"),
    ],
)
def test_a_wrong_row_is_told_with_what_was_found(old: str, new: str, says: str) -> None:
    with pytest.raises(FileMistakes) as told:
        read((old, new))
    assert says in str(told.value)


def test_a_file_without_a_row_is_wrong_and_one_of_another_name_is_not() -> None:
    with pytest.raises(FileMistakes, match=r"at least one \[\[row\]\]"):
        parse_limits('authority = "us"\n', "us.toml")
    assert len(read(name="config/limits/mine.toml")) == 1
    assert AUTHORITIES == ("us", "eu", "gb")
    with pytest.raises(FileMistakes, match="in a file named gb"):
        read(name="config/limits/gb.toml")


def test_the_rest_of_a_limits_file_is_no_mistake_of_its_rows() -> None:
    text = 'authority = "us"\nlabel_salt = true\n' + ROW.partition("\n")[2] + "[[composition]]\n"
    assert len(parse_limits(text, "us.toml")) == 1
