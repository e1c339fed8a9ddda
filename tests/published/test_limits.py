"""Every row of the limits files against what was published, written out once more by hand.

US: 9 CFR 424.21(c) and 424.22(b), 2015 edition; pickle figures with 100 gal taken as 1000 lb and
10 % pump. EU: Regulation (EU) 2023/2108 amending 1333/2008 (summary), Annex II. GB: what Great
Britain kept of it (trade press). Residual: 9 CFR 424.21(c), of the US alone.
"""

from decimal import Decimal
from fractions import Fraction

import pytest

from station.formula.composition import parse_rules
from station.formula.limits import parse_limits
from station.resources import Config
from station.tomlfile import FileMistakes
from station.units import mass

NITRITE, NITRATE = "sodium nitrite+potassium nitrite", "sodium nitrate+potassium nitrate"
ACIDS, SALTS = "ascorbic acid+erythorbic acid", "sodium ascorbate+sodium erythorbate"
POLY = (
    "sodium tripolyphosphate+tetrasodium pyrophosphate+sodium acid pyrophosphate+disodium phosphate"
)
GDL = "glucono delta lactone"
PHOSPHATES, P2O5 = f"{POLY}+trisodium phosphate", "phosphorus pentoxide"
ANY, UNHEATED = "dried/fermented/cooked/whole/bacon/sterilised", "dried/fermented/whole/bacon"
SULPHITES = (
    "sulphur dioxide+sodium metabisulphite+potassium metabisulphite+sodium sulphite"
    "+sodium hydrogen sulphite"
)


def per_100_lb(ounces: str) -> str:
    """Ounces to 100 lb as mg/kg."""
    return str(Fraction(mass(f"{ounces} oz")) / Fraction(mass("100 lb")) * 1_000_000)


# words -words | methods | agents | as | kind | mg/kg | seen
US = [
    ("cured comminuted", "", "", NITRITE, None, "ingoing", per_100_lb("0.25"), True),
    ("cured comminuted -bacon", "", "", NITRATE, None, "ingoing", per_100_lb("2.75"), True),
    ("cured comminuted", "", "", ACIDS, None, "ingoing", per_100_lb("0.75"), True),
    ("cured comminuted", "", "", SALTS, None, "ingoing", per_100_lb("0.875"), True),
    (
        "cured comminuted",
        "",
        "",
        "citric acid+sodium citrate",
        None,
        "ingoing",
        per_100_lb("0.375"),
        True,
    ),
    ("", "", "", "sodium lactate+potassium lactate", None, "ingoing", "48000", False),
    ("", "", "", "sodium diacetate", None, "ingoing", "2500", False),
    ("cured comminuted genoa", "", "", GDL, None, "ingoing", per_100_lb("16"), True),
    ("cured comminuted -genoa", "", "", GDL, None, "ingoing", per_100_lb("8"), True),
    ("comminuted -sausage -ground", "", "", POLY, None, "ingoing", "5000", True),
    ("cooked comminuted sausage", "", "", POLY, None, "ingoing", "5000", True),
    ("cured -bacon", "", "", NITRITE, None, "required", "120", False),
    ("cured", "pumped immersion", "", NITRITE, None, "ingoing", "200", True),
    ("cured -bacon", "pumped immersion", "", NITRATE, None, "ingoing", "7000", True),
    ("cured", "pumped immersion", "", ACIDS, None, "ingoing", "468.75", True),
    ("cured -bacon", "pumped immersion", "", SALTS, None, "ingoing", "546.875", True),
    ("cured", "pumped immersion", "", POLY, None, "ingoing", "5000", True),
    ("cured -comminuted", "dry", "", NITRITE, None, "ingoing", per_100_lb("1"), True),
    ("cured -comminuted -bacon", "dry", "", NITRATE, None, "ingoing", per_100_lb("3.5"), True),
    ("cured -comminuted", "dry", "", SALTS, None, "ingoing", per_100_lb("0.875"), True),
    ("cured bacon", "pumped immersion", "", "sodium nitrite", None, "ingoing", "120", True),
    ("cured bacon", "pumped immersion", "", "potassium nitrite", None, "ingoing", "148", True),
    ("cured bacon", "pumped immersion", "", NITRITE, "sodium nitrite", "ingoing", "120", True),
    ("cured bacon", "pumped", "", SALTS, None, "ingoing", "550", True),
    ("cured bacon", "immersion", "", SALTS, None, "ingoing", "546.875", True),
    ("cured bacon", "pumped", "", SALTS, None, "required", "539", True),  # 550 less 2 %
    ("cured bacon", "pumped", "", NITRITE, "sodium nitrite", "required", "98", True),
    ("cured bacon", "pumped", "", NITRITE, "sodium nitrite", "required", "40", True),
    ("cured", "", "", f"{NITRITE}+{NITRATE}", "sodium nitrite", "residual", "200", True),
    ("cured bacon", "dry", "", "sodium nitrite", None, "ingoing", "200", True),
    ("cured bacon", "dry", "", "potassium nitrite", None, "ingoing", "246", True),
    ("cured bacon", "dry", "", NITRITE, "sodium nitrite", "ingoing", "200", True),
]


def europe(
    nitrite_as: str, added: str, sterilised: str, nitrate_seen: bool
) -> list[tuple[object, ...]]:
    return [
        (f"cured {ANY} -traditional", "", "", NITRITE, nitrite_as, "ingoing", added, True),
        (f"cured traditional {ANY}", "comminuted pumped", "", NITRITE, nitrite_as, "ingoing", added,
         True),
        ("cured traditional -comminuted", "immersion dry", "", f"{NITRITE}+{NITRATE}", None,
         "as needed", "0", True),
        ("cured sterilised", "", "", NITRITE, nitrite_as, "ingoing", sterilised, True),
        (f"cured raw {UNHEATED} -traditional -sterilised", "", "", NITRATE, "sodium nitrate",
         "ingoing", "150", nitrate_seen),
        (f"cured raw traditional {UNHEATED} -sterilised", "comminuted pumped", "", NITRATE,
         "sodium nitrate", "ingoing", "150", nitrate_seen),
        ("cured", "", "", "erythorbic acid+sodium erythorbate", "erythorbic acid", "ingoing", "500",
         True),
        ("cured", "", "", "ascorbic acid+sodium ascorbate", None, "as needed", "0", False),
        ("cured/cooked/dried/fermented/sterilised -fresh", "", "", PHOSPHATES, P2O5, "ingoing",
         "5000", True),
        ("fresh sausage breakfast", "", "", PHOSPHATES, P2O5, "ingoing", "5000", True),
        ("fresh burger", "", "0.04", PHOSPHATES, P2O5, "ingoing", "5000", True),
        ("fresh sausage breakfast", "", "0.06", SULPHITES, "sulphur dioxide", "ingoing", "450",
         True),
        ("fresh burger", "", "0.04", SULPHITES, "sulphur dioxide", "ingoing", "450", True),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("authority", "rows"),
    [
        ("us", US),
        ("eu", europe("nitrite ion", "80", "55", nitrate_seen=False)),
        ("gb", europe("sodium nitrite", "150", "100", nitrate_seen=True)),
    ],
)
def test_every_row_is_as_published(authority: str, rows: list[tuple[object, ...]]) -> None:
    found = [
        (
            " ".join(
                [
                    *row.words,
                    *filter(None, ["/".join(row.any_words)]),
                    *(f"-{word}" for word in row.not_words),
                ]
            ),
            " ".join(row.methods),
            str(row.cereal or ""),
            "+".join(row.agents),
            row.expressed_as,
            row.kind,
            Fraction(row.maximum) * 1_000_000,
            row.seen,
        )
        for row in parse_limits(*Config().read(f"limits/{authority}.toml"))
    ]
    assert found == [(*row[:6], Fraction(str(row[6])), row[7]) for row in rows]


def test_accelerators_go_with_a_cure_in_the_us_only() -> None:
    for authority, wanted in (("us", True), ("eu", False), ("gb", False)):
        rows = parse_limits(*Config().read(f"limits/{authority}.toml"))
        speeding = [row for row in rows if row.agents[0] in (*ACIDS.split("+"), *SALTS.split("+"))]
        ingoing = [row for row in speeding if row.kind == "ingoing"]
        assert ingoing
        assert {bool(row.only_with) for row in ingoing} == {wanted}


@pytest.mark.parametrize(
    ("authority", "rules"),
    [
        ("us", [("fresh sausage", "fat", "50", None, True),
                ("fresh sausage", "fat", "30", None, True),
                ("italian sausage", "meat block", None, "85", True),
                ("italian sausage", "fat", "35", None, True),
                ("ground", "added water", "0", None, True),
                ("ground", "binders", "0", None, True),
                ("fresh sausage", "added water", "3", None, True),
                ("raw sausage", "added water", "3", None, True),
                ("cooked cured comminuted sausage", "fat", "30", None, False),
                ("cooked cured comminuted sausage", "fat and added water", "40", None, False),
                ("frankfurter", "fat", "30", None, True),
                ("frankfurter", "fat and added water", "40", None, True),
                ("cooked sausage", "added water", "10", None, True),
                ("sausage", "binders", "3.5", None, True),
                ("sausage", "isolated soy protein", "2", None, True)]),
        ("gb", [("sausage", "meat", None, "32", True), ("sausage", "meat", None, "26", True),
                ("sausage", "meat", None, "30", True), ("burger", "meat", None, "67", True),
                ("burger economy", "meat", None, "50", True), ("burger", "meat", None, "55", True),
                ("burger economy", "meat", None, "41", True), ("burger", "meat", None, "62", True),
                ("burger economy", "meat", None, "47", True),
                ("sausage", "meat", None, "42", False)]),
    ],
)  # fmt: skip
def test_every_composition_rule_is_as_published(
    authority: str, rules: list[tuple[object, ...]]
) -> None:
    """US: 9 CFR 319, 2015 edition. GB: SI 2014/3001, Sch. 1."""
    found = [
        (" ".join(rule.words), rule.what, rule.most, rule.least, rule.seen)
        for rule in parse_rules(*Config().read(f"limits/{authority}.toml"))
    ]
    assert found == [
        (words, what, _share(most), _share(least), seen) for words, what, most, least, seen in rules
    ]


def _share(percent: object) -> Fraction | None:
    return None if percent is None else Fraction(Decimal(str(percent))) / 100


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('words = ["cured", "sterilised"]', 'words = ["cured", "sterilized"]', "'sterilised'"),
        ('agents = ["sodium nitrite"', 'agents = ["sodium nitrit"', "'sodium nitrite'"),
        ('maximum = "55 mg/kg"', 'maximum = "-55 mg/kg"', "more than nothing"),
        ('since = "2025-10-09"', 'since = "banana"', "since"),
        ('authority = "eu"', 'authority = "us"', "in a file named eu"),
        ('basis = "product"', 'basis = "product"\nmethods = ["comminutd"]', "'comminuted'"),
    ],
)
def test_a_misspelling_never_makes_the_law_kinder(old: str, new: str, says: str) -> None:
    text, _ = Config().read("limits/eu.toml")
    assert old in text
    with pytest.raises(FileMistakes, match=says):
        parse_limits(text.replace(old, new, 1), "somewhere/eu.toml")
