"""Packs of a stated weight, against published rows and printed cases."""

from decimal import Decimal

import pytest

from station.formula.packs import Shortfall, fit_to_check, judge, parse_shortfalls
from station.resources import Config
from station.tomlfile import FileMistakes


@pytest.fixture(name="gb")
def _gb() -> Shortfall:
    return parse_shortfalls(*Config().read("packs.toml"))["gb"]


@pytest.mark.parametrize(
    ("nominal", "lacks"),
    [
        ("33", "3.0"), ("113", "5.1"), ("125", "5.7"), ("400", "12.0"), ("454", "13.7"),
        ("5", "0.5"), ("50", "4.5"), ("50.1", "4.5"), ("100", "4.5"), ("200", "9.0"), ("300", "9"),
        ("500", "15.0"), ("501", "15"), ("1000", "15"), ("1001", "15.1"), ("10000", "150.0"),
        ("15000", "150"), ("15001", "150.1"),
    ],
)  # fmt: skip
def test_what_a_pack_may_lack_is_the_published_figure(
    gb: Shortfall, nominal: str, lacks: str
) -> None:
    """SI 2006/659 = Directive 76/211/EEC: the rows, percent results rounded up to
    0.1 g; 33, 113, 125, 400 and 454 g as printed, the ends of the rows computed."""
    assert gb.of(Decimal(nominal)) == Decimal(lacks)


def test_nothing_is_said_of_a_pack_under_five_grams(gb: Shortfall) -> None:
    assert gb.of(Decimal("4.9")) is None


def test_the_thresholds_of_a_pound_are_the_printed_ones(gb: Shortfall) -> None:
    """454 g: T1 440.3 g and T2 426.6 g (printed with the row)."""
    lacks = gb.of(Decimal(454))
    assert lacks is not None
    assert (454 - lacks, 454 - 2 * lacks) == (Decimal("440.3"), Decimal("426.6"))


CASES = [
    ("butter", "500", 125, "501", 2, 0, 7, "in"),
    ("wine", "750", 50, "752", 0, 1, 3, "out"),
    ("sugar", "1500", 125, "1600", 4, 0, 7, "in"),
    ("potatoes", "3000", 50, "3100", 0, 1, 3, "out"),
]
"""Average quantity system, printed in the Australian guide, table 3. How many of a sample may be
short (7 of 125, 3 of 50) is OIML R 87's, from memory."""


@pytest.mark.parametrize(("_what", "nominal", "n", "mean", "t1", "t2", "few", "verdict"), CASES)
def test_the_printed_cases_come_out_as_printed(
    gb: Shortfall, _what: str, nominal: str, n: int, mean: str, t1: int, t2: int, few: int,
    verdict: str,
) -> None:  # fmt: skip
    lacks = gb.of(Decimal(nominal))
    assert lacks is not None
    low = [Decimal(nominal) - lacks * Decimal("1.5")] * t1
    low += [Decimal(nominal) - lacks * Decimal("2.5")] * t2
    rest = (Decimal(mean) * n - sum(low)) / (n - len(low))
    found = judge([*low, *[rest] * (n - len(low))], Decimal(nominal), lacks, few)
    assert (found.count, round(found.mean_g, 6), found.short, found.far_short, found.verdict) == (
        n, int(mean), t1, t2, verdict,
    )  # fmt: skip


def of(*nets: str, few: int = 0) -> tuple[int, int, str | None, tuple[str, ...]]:
    found = judge([Decimal(net) for net in nets], Decimal(400), Decimal(12), few)
    return found.short, found.far_short, found.verdict, found.misses


def test_each_rule_at_its_edge() -> None:
    """Just what is stated on average, just what may lack, just twice that: all of it is allowed."""
    assert of("400") == (0, 0, "in", ())
    assert of("399.99") == (0, 0, "out", ("the average lacks 0.1 g",))
    assert of("388", "412") == (0, 0, "in", ())
    assert of("387.98", "420") == (1, 0, "out", ("1 lack more than is tolerated, 0 may",))
    assert of("387.98", "420", few=1) == (1, 0, "in", ())
    assert of("376", "440", few=1) == (1, 0, "in", ())
    far = "1 lack more than twice what is tolerated, none may"
    assert of("375.98", "440", few=1) == (0, 1, "out", (far,))


def test_where_no_law_was_read_nothing_is_judged() -> None:
    found = judge([Decimal(300)], Decimal(400), None, 0)
    assert (found.mean_g, found.short, found.far_short, found.verdict) == (300, 0, 0, None)


def test_a_scale_is_fine_enough_by_the_handbook() -> None:
    """NIST Handbook 133, chapter 2: MAV 7.2 g for a pack of 113 g, so 1.2 g, and 1 g is allowed."""
    assert fit_to_check(Decimal(1), Decimal("7.2"))
    assert fit_to_check(Decimal("1.2"), Decimal("7.2"))
    assert not fit_to_check(Decimal("1.3"), Decimal("7.2"))


GOOD = """
[[shortfall]]
authorities = ["eu"]
source = "a test"
seen = true
few = "2.5 %"
from = "5 g"
steps = [ { upto = "50 g", lacks = "9 %" }, { lacks = "1 %" } ]
"""


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('["eu"]', '["eu", "ue"]', "found 'ue'"),
        ('["eu"]', '["eu", "eu"]', "eu is there twice"),
        ("seen = true", "seen = false", "only what was read judges a pack"),
        ("seen = true\n", "", "only what was read judges a pack"),
        ("seen = true", "seem = true", "did you mean 'seen'?"),
        ("[[shortfall]]", "[[short]]", "unknown key"),
        ('{ lacks = "1 %" }', '{ lacks = "1 %", until = "1 g" }', "unknown key"),
        ('"9 %" }, ', '"9 %" }, { lacks = "2 %" }, ', "they rise"),
        ('"9 %" }, ', '"9 %" }, { upto = "40 g", lacks = "2 %" }, ', "they rise"),
        ('[ { upto = "50 g", ', "[ { ", "they rise"),
        (
            '"9 %" }, ',
            '"9 %" }, { upto = "60 g", lacks = "2 %" }, { upto = "55 g", lacks = "2 %" }, ',
            "they rise",
        ),
        ('"9 %" }, ', '"9 %" }, { upto = "50 g", lacks = "2 %" }, ', "they rise"),
        ('[ { upto = "50 g", lacks = "9 %" }, { lacks = "1 %" } ]', "[]", "they rise"),
        (', { lacks = "1 %" }', "", "they rise, and the last has no upto"),
        ('{ lacks = "1 %" }', '{ upto = "50 g", lacks = "1 %" }, { lacks = "1 g" }', "they rise"),
        ('"9 %"', '"9"', "found '9'"),
    ],
)
def test_a_wrong_file_says_what_is_wrong(old: str, new: str, told: str) -> None:
    with pytest.raises(FileMistakes) as caught:
        parse_shortfalls(GOOD.replace(old, new), "packs.toml")
    assert told in str(caught.value)


def test_a_row_holds_up_to_its_end() -> None:
    found = parse_shortfalls(GOOD.replace("[ {", '[ { upto = "40 g", lacks = "2 g" }, {'), "p")
    row = found["eu"]
    assert row.few == Decimal("0.025")
    assert [row.of(Decimal(grams)) for grams in ("40", "40.1", "50", "50.1")] == [
        Decimal(2), Decimal("3.7"), Decimal("4.5"), Decimal("0.6"),
    ]  # fmt: skip
