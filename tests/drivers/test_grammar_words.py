"""What is said of a value of the wrong kind in a grammar file: its place, in no library's terms."""

import pytest

from drivers.grammar import GrammarError, compile_grammar

BARE = "name = 'x'\nabout = 'x'\nend = \"\\n\"\nunit = 'g'\nregex = '(?P<value>[0-9]+)'\n"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (BARE + "length = 'x'\n", "length: found text, expected a whole number"),
        (BARE + "[line]\nbaud = 9600.5\n", "line.baud: found a number with a point, expected a"),
        (BARE + "[line]\ndtr = 1\n", "line.dtr: found a whole number, expected true or false"),
        (BARE + "line = 3\n", "line: found a whole number, expected a table"),
        (BARE + "[number]\nthousands = []\n", "number.thousands: found a list, expected text"),
        (BARE + "[status.s]\nA = 3\n", "status: found a whole number, expected text or a table"),
        (BARE + "[poll]\nperiod_ms = 100\n", "poll.send: this key is missing"),
        (BARE.replace("regex", "#"), "x.toml: columns: this key is missing, or regex in its place"),
        (BARE + "[line]\nbits = '9N1'\n", "line: bits is '9N1', expected a word like 8N1"),
    ],
)
def test_a_wrong_value_is_told_by_its_place_and_kind(text: str, says: str) -> None:
    with pytest.raises(GrammarError) as caught:
        compile_grammar(text, "x.toml")
    assert says in str(caught.value)
    assert "`" not in str(caught.value) and "$" not in str(caught.value)
