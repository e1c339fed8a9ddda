"""What a gram of a leftover stands for in another formula, and what a formula says of such."""

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction

import pytest

from station.formula.leftover import Leftover, Part, Wanted, brings, rework_of
from station.tomlfile import FileMistakes, TomlFile


def part(name: str, share: str, role: str = "seasoning", **contains: str) -> Part:
    held = {key.replace("_", " "): Decimal(value) for key, value in contains.items()}
    return Part(name, role, Decimal(share), held)


def of(*parts: Part) -> Leftover:
    return Leftover("b", "f", 1, parts, {}, {}, Decimal(0))


SALT = Wanted("salt", "salt", {"salt": Decimal(1)})


PREMIX = Wanted("premix", "cure", {"sodium nitrite": Decimal("0.05"), "salt": Decimal("0.95")})


@pytest.mark.parametrize(
    ("parts", "lines", "wanted"),
    [
        ([part("pepper", "0.003")], [Wanted("pepper", "seasoning", {})], {"pepper": "0.003"}),
        ([part("pepper", "0.003")], [Wanted("sage", "seasoning", {})], {}),
        ([part("pepper", "0.003")], [SALT], {}),
        ([part("pepper", "0.003")], [SALT, PREMIX], {}),
        (
            [part("salt", "0.02", "salt", salt="1")],
            [Wanted("seasoned salt", "salt", {"salt": Decimal("0.5")})],
            {"seasoned salt": "0.04"},
        ),
        ([part("crumb", "0.02", "binder")], [Wanted("crumb", "binder", {})], {"crumb": "0.02"}),
        ([part("sea salt", "0.02", "salt", salt="1")], [SALT], {"salt": "0.02"}),
        (
            [part("salt", "0.02", "salt", salt="1")],
            [SALT, Wanted("more salt", "salt", {"salt": Decimal(1)})],
            {"salt": "0.02"},
        ),
        # a premix of another strength stands for as much of the line as it has of the agent
        (
            [part("cure", "0.001", "cure", sodium_nitrite="0.10", salt="0.90")],
            [SALT, PREMIX],
            {"premix": "0.002"},  # whose own salt, 0.0019, is more than there was: none is left
        ),
        (
            [part("cure", "0.002", "cure", sodium_nitrite="0.05", salt="0.95"),
             part("salt", "0.02", "salt", salt="1")],
            [SALT, PREMIX],
            {"premix": "0.002", "salt": "0.02"},
        ),
        # of two lines with the agent the first has it
        (
            [part("cure", "0.001", "cure", sodium_nitrite="0.05")],
            [PREMIX, Wanted("second", "cure", {"sodium nitrite": Decimal("0.05")})],
            {"premix": "0.001"},
        ),
        # what one line took of an agent, the next has no more
        (
            [part("cure", "1", "cure", sodium_nitrite="0.02", sodium_nitrate="0.01")],
            [
                Wanted("both", "cure", {"sodium nitrite": Decimal("0.02"),
                                        "sodium nitrate": Decimal("0.02")}),
                Wanted("one", "cure", {"sodium nitrite": Decimal("0.05")}),
            ],
            {"both": "0.5", "one": "0.2"},
        ),
        # of one line by two revisions there is as much as of both
        (
            [part("pepper", "0.003"), part("pepper", "0.001", salt="0.5")],
            [Wanted("pepper", "seasoning", {})],
            {"pepper": "0.004"},
        ),
        # a mixture of two agents stands for no more than the scarcer of them
        (
            [part("cure", "0.01", "cure", sodium_nitrite="0.02", sodium_nitrate="0.01")],
            [Wanted("both", "cure", {"sodium nitrite": Decimal("0.02"),
                                     "sodium nitrate": Decimal("0.02")})],
            {"both": "0.005"},
        ),
        # a meat that is called as a line is no line
        ([part("pork", "0.9", "meat")], [Wanted("pork", "seasoning", {})], {}),
    ],
)  # fmt: skip
def test_what_a_leftover_brings_of_a_line(
    parts: list[Part], lines: list[Wanted], wanted: dict[str, str]
) -> None:
    found = brings(of(*parts), tuple(lines))
    assert found == {name: Fraction(share) for name, share in wanted.items()}


@pytest.mark.parametrize(
    ("most", "within", "said"),
    [
        ("50 %", "1 h", None),
        ("50.1 %", "1 h", "expected at most 50 %"),
        ("0 %", "1 h", "expected more than nothing"),
        ("10 %", "soon", "a time with its unit"),
    ],
)
def test_the_formula_says_how_much_and_how_old(most: str, within: str, said: str | None) -> None:
    file = TomlFile(f'[rework]\nmost = "{most}"\nwithin = "{within}"\n', "f.toml")
    found = rework_of(file.top)
    wrong: Callable[[], object] = file.finish
    if said is None:
        wrong()
        assert found is not None
        assert (found.most, found.within_s) == (Decimal("0.5"), 3600)
        return
    with pytest.raises(FileMistakes, match=said):
        wrong()


def test_a_key_that_it_does_not_know_is_a_mistake() -> None:
    file = TomlFile('[rework]\nmost = "5 %"\nwithin = "1 h"\nof = "x"\n', "f.toml")
    rework_of(file.top)
    with pytest.raises(FileMistakes, match="of"):
        file.finish()


@pytest.mark.parametrize("text", ['most = "60 %"\nwithin = "1 h"', 'most = "5 %"\nwithin = "x"'])
def test_half_of_it_wrong_lets_none_in(text: str) -> None:
    assert rework_of(TomlFile(f"[rework]\n{text}\n", "f.toml").top) is None
