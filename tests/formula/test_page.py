"""FORMULAS.md: every key is on the page, nothing else is, and all that it shows works."""

import re
from fractions import Fraction

import pytest

from station.formula.law import findings
from station.formula.model import METHODS, PRODUCT_WORDS, ROLES, SPECIES, Formula
from station.formula.quantities import parse_amount
from station.formula.scaling import planned_masses
from station.formula.sheet import parse_formula
from station.resources import packaged
from station.tomlfile import FileMistakes, Table
from tests.formula.made import law_of

PAGE = (packaged() / "formulas" / "FORMULAS.md").read_text(encoding="utf-8")
WORKED = PAGE.split("```toml\n")[1].split("```")[0]
PLACES = {
    "At the top": "", "`[pickle]`": "pickle", "`[[meat]]`": "meat", "`[[addition]]`": "addition",
    "`parts`": "addition.parts", "`stand`": "addition.stand", "`[[step]]`": "step",
    "`[[pack]]`": "pack", "`[casing]`": "casing",
    "`[rework]`": "rework",
}  # fmt: skip
"""Heading of the page -> path of the table it is about."""

MINCED = """name = "made"
revision = 1
product = "fresh"
piece = "60 g"
[[meat]]
name = "pork"
share = "60 %"
[[meat]]
name = "belly"
share = "40 %"
[[addition]]
name = "made of parts"
role = "binder"
parts = [{ name = "part", amount = "1 %" }]
stand = { time = "1 h" }
[[addition]]
name = "made"
role = "seasoning"
amount = "1 %"
[[addition]]
name = "salt"
role = "salt"
amount = "1 %"
[[step]]
name = "do"
after = "salt"
time = "9 min"
[casing]
name = "made casing"
[rework]
most = "5 %"
within = "1 h"
[[pack]]
nominal = "1 kg"
store = "fridge"
keeps = "1 d"
"""
PUMPED = """name = "made"
revision = 1
product = "whole"
method = "pumped"
pump = "12 %"
pickle = { water = "5 kg" }
[[meat]]
name = "pork"
share = "100 %"
"""


def sections() -> dict[str, list[list[str]]]:
    """Path of a table -> its rows on the page, as cells."""
    every = PAGE.split("## Every key\n")[1].split("\n## ")[0]
    found = {}
    for section in every.split("\n### ")[1:]:
        heading, _, text = section.partition("\n")
        rows = text.partition("| key | says | example |\n")[2].split("\n\n")[0].splitlines()[1:]
        found[PLACES[heading]] = [
            [cell.strip() for cell in row.strip("|").split("|")] for row in rows
        ]
    return found


ROWS = [(path, *row) for path, rows in sections().items() for row in rows]


def keys_of(cell: str) -> set[str]:
    return set(re.findall(r"`([a-z_]+)`", cell))


def with_example(text: str, path: str, example: str) -> str:
    """A formula in which the example stands in the first table that it is about."""
    key = example.partition(" = ")[0]
    heads = {"meat": "[[meat]]", "addition": 'name = "made"\nrole', "step": "[[step]]"}
    heads |= {"pack": "[[pack]]", "casing": "[casing]", "rework": "[rework]"}
    if path == "pickle":
        return text.replace('pickle = { water = "5 kg" }', f"pickle = {{ {example} }}")
    if key in ("parts", "stand"):
        return re.sub(rf"^{key} = .*", example, text, flags=re.MULTILINE)
    head = heads.get(path)
    start = text.index(head) if head else 0
    before, table = text[:start], text[start:]
    end = table.find("\n[", 1)
    table, behind = (table, "") if end < 0 else (table[: end + 1], table[end + 1 :])
    table = re.sub(rf"^{key} = .*\n", "", table, flags=re.MULTILINE)
    if key == "before":
        table = re.sub(r"^after = .*\n", "", table, flags=re.MULTILINE)
    first = table.index("]\n") + 2 if table.startswith("[") else 0
    return f"{before}{table[:first]}{example}\n{table[first:]}{behind}"


def read(path: str, example: str) -> Formula:
    """The example in the first formula that it fits into."""
    told = []
    for text in (MINCED, PUMPED):
        if path in ("", "pickle") or text is MINCED:
            try:
                return parse_formula(with_example(text, path, example), "made.toml")
            except FileMistakes as error:
                told.append(str(error))
    raise AssertionError("\n".join(told))


@pytest.mark.parametrize(("path", "keys", "says", "example"), ROWS)
def test_every_key_has_an_example_that_works(path: str, keys: str, says: str, example: str) -> None:
    assert keys and says
    line = re.fullmatch(r"`(.+)`", example)
    assert line, example
    assert any(re.search(rf"\b{key} = ", line[1]) for key in keys_of(keys)), example
    assert read(path, line[1])


def test_the_page_has_every_key_that_is_read_and_no_other(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the parser asks of each table, against the first column of the page."""
    asked: dict[str, set[str]] = {}
    finish = Table.finish

    def noting(table: Table) -> None:
        asked.setdefault(re.sub(r"\[\d+\]", "", table.path), set()).update(table._known)
        finish(table)

    monkeypatch.setattr(Table, "finish", noting)
    parse_formula(MINCED, "made.toml")
    parse_formula(PUMPED, "made.toml")
    told = {
        path: {key for row in rows for key in keys_of(row[0])} for path, rows in sections().items()
    }
    told[""] |= {path for path in told if path and "." not in path}  # a heading of its own
    assert told == asked


@pytest.mark.parametrize("words", [PRODUCT_WORDS, METHODS, SPECIES, ROLES])
def test_every_word_that_is_allowed_is_on_the_page(words: tuple[str, ...]) -> None:
    assert not [word for word in words if f"`{word}`" not in PAGE]


def test_every_amount_on_the_page_is_one() -> None:
    table = PAGE.split("| amount | means |\n")[1].split("\n\n")[0]
    amounts = re.findall(r'`"([^"]+)"`', table)
    assert len(amounts) == 7
    assert {parse_amount(text).on for text in amounts} == {
        "meat", "mix", "fixed", "count", "pickle",
    }  # fmt: skip
    assert {parse_amount(text).share for text in amounts[:3]} == {Fraction(18, 1000)}


def test_the_worked_sausage_gives_the_grams_beside_it() -> None:
    """Common practice, no source: to 1 kg of meat crumb 100 g in twice its weight of water, salt
    20 g, pepper 10 g, each herb 2 g."""
    table = PAGE.split("| line | grams |\n")[1].split("\n\n")[0].splitlines()[1:]
    cells = [row.strip("| ").split("|") for row in table]
    told = {name.strip(): Fraction(grams) for name, grams in cells}
    formula = parse_formula(WORKED, "meadow-link.toml")
    meats = {meat.name: Fraction(meat.share) * 1000 for meat in formula.meats}
    assert told == meats | planned_masses(formula, Fraction(1000))
    assert {name: told[name] for name in ("dried crumb", "cold water", "salt")} == {
        "dried crumb": 100, "cold water": 200, "salt": 20,
    }  # fmt: skip
    assert [item.name for item in formula.sequence] == [
        "dried crumb", "cold water", "soaked crumb stands", "salt", "black pepper", "dried sage",
        "knead until sticky", "sheep casing 24/26 soaks", "links into the cold",
    ]  # fmt: skip


@pytest.mark.parametrize(("authority", "broken"), [("gb", []), ("us", ["added water", "binders"])])
def test_the_worked_sausage_is_judged_as_the_page_says(authority: str, broken: list[str]) -> None:
    """9 CFR 319, 2015 edition: added water 3 % in fresh sausage, binders 3.5 %; Great Britain asks
    for meat alone (SI 2014/3001)."""
    law = law_of(authority)
    found = findings(parse_formula(WORKED, "meadow-link.toml"), law, Fraction(10_000))
    told = [finding.text for finding in found if finding.severity == "broken"]
    assert [what for what in ("added water", "binders") if any(what in t for t in told)] == broken
    assert len(told) == len(broken)
