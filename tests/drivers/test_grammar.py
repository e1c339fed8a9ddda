"""Grammar files: what they may say, and what is wrong with those that may not."""

import re

import pytest

from drivers.grammar import _MEANINGS, Grammar, GrammarError, _File, compile_grammar
from drivers.parser import Parser
from drivers.reading import Fault, Reading
from station.resources import packaged


def grammar(name: str) -> Grammar:
    path = packaged() / "scales" / f"{name}.toml"
    return compile_grammar(path.read_text(encoding="utf-8"), path.name)


def test_bytes_without_an_end_become_faults_and_never_pile_up() -> None:
    parser = Parser(grammar("sma-scp-0499"))
    faults = [item for _ in range(100) for item in parser.feed(b"x" * 100, 1.0)]
    faults += parser.feed(b"x" * 10_000, 1.0)
    assert len(faults) > 50
    assert all(isinstance(fault, Fault) and len(fault.raw) <= 128 for fault in faults)


def test_a_decimal_comma_is_read_as_one_and_a_point_then_is_no_number() -> None:
    text = 'name = "c"\nabout = "x"\nend = "\\n"\nunit = "g"\ndecimal = ","\n'
    text += "regex = '(?P<value>[-+0-9.,]+)'\n"
    parser = Parser(compile_grammar(text, "c.toml"))
    first, second = parser.feed(b"1,5\n1.5\n", 0.0)
    assert isinstance(first, Reading) and str(first.value) == "1.5"
    assert isinstance(second, Fault)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("end = ", "ende = "), "ende"),
        (("(?P<value>", "(?P<wert>"), "value"),
        (('"O" = "overload"', '"O" = "overlaod"'), "overlaod"),
        (("(?P<status>", "(?P<state>"), "status"),
        (("[ZOUEIT ]", "[ZOUEIT "), "regex"),
        (('end = "\\r"', 'end = ""\nlength = 1'), "length"),
        (('bits = "8N1"', 'bits = "9N1"'), "9N1"),
    ],
)
def test_a_wrong_grammar_says_what_is_wrong(change: tuple[str, str], says: str) -> None:
    text = (packaged() / "scales" / "sma-scp-0499.toml").read_text(encoding="utf-8")
    assert change[0] in text
    with pytest.raises(GrammarError, match=r"sma\.toml: ") as caught:
        compile_grammar(text.replace(*change), "sma.toml")
    assert says in str(caught.value)


@pytest.mark.parametrize(
    ("regex", "slow"),
    [
        ("(?P<value>([0-9]+)+)", True),
        ("(?P<value>([0-9]*|x)*)", True),
        ("(?P<value>( *[0-9]{1,4})+)", True),
        ("(?P<value>([0-9]{3})+)", False),
        ("(?P<value>[-+ ]*[0-9]+[.][0-9]+)", False),
        ("(?P<value>[0-9])" + "x*" * 13, True),
    ],
)
def test_a_regex_that_hostile_bytes_could_hold_up_is_refused(regex: str, slow: bool) -> None:
    text = f'name = "x"\nabout = "x"\nend = "\\n"\nunit = "g"\nregex = \'{regex}\'\n'
    if not slow:
        compile_grammar(text, "x.toml")
        return
    with pytest.raises(GrammarError, match="repeat"):
        compile_grammar(text, "x.toml")


@pytest.mark.parametrize(
    ("extra", "says"),
    [
        ("[checksum]\nkind = 'xor'", "go together"),
        ("[bits.value]\n9 = 'stable'", "a bit is 0 to 7"),
        ("[bits.value]\n1 = 'upside down'", "upside down"),
        ("[status.mode]\nG = 'gross'", "no group of that name"),
        ("[decimals]\ngroup = 'dp'", "no group of that name"),
        ("[poll]\nsend = 'W'\nperiod_ms = 1", "20 to 10000"),
        ("[orders.tare]\nsend = 'T'\nack = 'x'", "tare"),
        ("[orders.zero]\nsend = 'Z'\nack = '('", "orders.zero"),
        ("unit_absent = 'moving'", "unit_absent"),
    ],
)
def test_a_table_that_fits_nothing_is_named(extra: str, says: str) -> None:
    head = "name = 'x'\nabout = 'x'\nend = '\\n'\nunit = 'g'\nregex = '(?P<value>[0-9]+)'\n"
    with pytest.raises(GrammarError, match=r"x\.toml: ") as caught:
        compile_grammar(head.replace("'\\n'", '"\\n"') + extra + "\n", "x.toml")
    assert says in str(caught.value)


def test_digits_alone_without_any_mark_are_never_believed() -> None:
    text = "name = 'x'\nabout = 'x'\nlength = 6\nunit = 'g'\nregex = '(?P<value>[0-9]{6})'\n"
    items = list(Parser(compile_grammar(text, "x.toml")).feed(b"001230012300123", 0.0))
    assert not [item for item in items if isinstance(item, Reading)]


def test_two_signs_that_disagree_are_no_number() -> None:
    text = (
        "name = 'x'\nabout = 'x'\nend = \"\\n\"\nunit = 'g'\n"
        "regex = '(?P<s>[0-9])(?P<value>[-0-9]+)'\n[bits.s]\ncode = 'hex'\n0 = 'negative'\n"
    )
    parser = Parser(compile_grammar(text, "x.toml"))
    both, one, none = parser.feed(b"1-5\n15\n05\n", 0.0)
    assert isinstance(both, Fault)
    assert isinstance(one, Reading) and isinstance(none, Reading)
    assert (one.value, none.value) == (-5, 5)


def test_the_worked_example_of_the_page_is_one() -> None:
    """The page's own bytes, read by the page's own file."""
    page = (packaged() / "scales" / "GRAMMARS.md").read_text(encoding="utf-8")
    text = page.split("```toml\n")[1].split("```")[0]
    dumps = re.findall(r"^    ((?:[0-9a-f]{2} ){16}) ?\|", page, re.MULTILINE)
    assert len(dumps) == 4
    data = b"".join(bytes.fromhex(dump) for dump in dumps)
    items = list(Parser(compile_grammar(text, "my-scale.toml")).feed(data, 0.0))
    assert [str(item.value) for item in items if isinstance(item, Reading)] == [
        "216.40", "118.35", "-1.20", "None",
    ]  # fmt: skip


def test_every_key_and_every_file_is_on_the_page() -> None:
    page = (packaged() / "scales" / "GRAMMARS.md").read_text(encoding="utf-8")
    for key in _File.__struct_fields__:
        assert f"`{key}`" in page or f"[{key}" in page, key
    for path in (packaged() / "scales").glob("*.toml"):
        assert f"`{path.stem}`" in page, path.stem
    for meaning in _MEANINGS - {""}:
        assert f"`{meaning}`" in page, meaning
