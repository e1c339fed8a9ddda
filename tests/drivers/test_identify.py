"""Of grammars that read the same bytes the one that checks them comes first."""

from dataclasses import replace

from drivers.identify import fits, shown, unread_in
from tests.drivers.formats import END, START, bodies, checked, grammar

CHECKED = replace(grammar("(?P<checksum>.{2})", "[checksum]\nkind = 'sum'"), name="z-that-checks")
PASSES = replace(grammar(".*"), name="a-that-passes-over")
SENT = [START + checked(body, "sum") + END for body in bodies(1, 8)]


def test_the_grammar_that_checks_comes_before_the_one_that_passes_over_the_checksum() -> None:
    first, second = fits(b"".join(SENT), [PASSES, CHECKED])
    assert (first.grammar, first.unread) == ("z-that-checks", None)
    assert second.share == first.share and second.unread is not None
    assert second.unread.known is not None and second.unread.known.kind == "sum"


def test_what_was_heard_in_several_loads_counts_together() -> None:
    assert unread_in(SENT[:3], PASSES) is None
    assert unread_in([SENT[0] * 4, *SENT[1:4]], PASSES) is not None


def test_bytes_whose_parity_is_left_on_are_read_by_the_grammar_that_takes_it_off() -> None:
    data = b"".join(START + body + END for body in bodies(1, 8))
    sent = bytes(byte if byte.bit_count() % 2 else byte | 0x80 for byte in data)
    left_on = grammar(".*", "parity = 'odd'")
    (fit,) = fits(sent, [left_on])
    assert (fit.readings, fit.share, fit.bits) == (8, 1, "8N1")
    plain = grammar()
    (other,) = fits(sent, [plain])
    assert (other.readings, other.bits) == (8, "7O1")
    assert shown(sent, left_on) == shown(sent, plain) != ""
