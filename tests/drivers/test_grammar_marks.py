"""A byte that was meant and is written as signs is told: such a mark would never be found."""

import pytest

from drivers.grammar import GrammarError, compile_grammar
from drivers.kinds import load_kind

BARE = """
name = "x"
about = "x"
end = "\\r\\n"
unit = "g"
regex = '(?P<value>[0-9]+)'
"""


def mistake(text: str) -> str:
    with pytest.raises(GrammarError) as caught:
        compile_grammar(text, "x.toml")
    return str(caught.value)


@pytest.mark.parametrize(
    ("line", "says"),
    [
        (r"start = '\x02'", r'start: \x02 between single quotes is 4 signs and no byte; write it'
         r' between double quotes, as "\u0002"'),
        (r"start = '\u0002'", r'as "\u0002"'),
        (r"start = 'a\r'", r'start: \r between single quotes is 2 signs and no byte'),
    ],
)  # fmt: skip
def test_a_byte_between_single_quotes_is_told_with_the_right_form(line: str, says: str) -> None:
    assert says in mistake(BARE + line)


def test_so_are_the_end_and_what_is_asked() -> None:
    assert "end: \\r between" in mistake(BARE.replace('"\\r\\n"', "'\\r\\n'"))
    assert "poll.send: \\r between" in mistake(BARE + "[poll]\nsend = 'W\\r'\n")


def test_a_mark_that_is_a_backslash_is_a_mark() -> None:
    assert compile_grammar(BARE + "start = '\\'", "x").start == b"\\"


@pytest.mark.parametrize("load", [compile_grammar, load_kind])
def test_what_is_no_escape_in_toml_is_told_with_one_that_is(load) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(GrammarError, match="u0002") as caught:
        load(BARE + 'start = "\\x02"', "x.toml")
    assert "is none in TOML" in str(caught.value)
