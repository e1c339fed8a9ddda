"""Nothing flickers: a word stays long enough to be read, unless it gets more urgent."""

import pytest

from station.bench.steady import STAYS_S, STOPPED_S, Steady
from station.wire import Snapshot


def said(word: str, net: str = "1", line: str = "salt") -> Snapshot:
    return Snapshot(
        blocked=(word,),
        word=word,
        alarm=word in ("PUT BACK", "BLOCKED", "ON HOLD"),
        sentence=f"about {word}",
        next="do",
        net_g=net,
        line=line,
    )


def test_a_calmer_word_waits_while_the_figures_go_on() -> None:
    steady = Steady()
    steady.show(said("SLOWER", "1"), 10.0)
    shown = steady.show(said("POUR", "2"), 10.0 + STAYS_S / 2)
    assert (shown.word, shown.sentence, shown.net_g) == ("SLOWER", "about SLOWER", "2")
    assert not steady.due(10.0 + STAYS_S / 2)
    assert steady.due(10.0 + STAYS_S)
    assert steady.show(said("POUR", "3"), 10.0 + STAYS_S).word == "POUR"


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("POUR", "SLOWER"),
        ("SLOWER", "STOP"),
        ("STOP", "TAKE OUT"),
        ("TAKE OUT", "BLOCKED"),
        ("IN BAND", "PUT BACK"),
        ("DO", "ON HOLD"),
    ],
)
def test_a_more_urgent_word_comes_at_once(first: str, second: str) -> None:
    steady = Steady()
    steady.show(said(first), 1.0)
    assert steady.show(said(second), 1.01).word == second
    assert steady.show(said(first), 1.02).word == second


def test_another_line_is_shown_at_once() -> None:
    steady = Steady()
    steady.show(said("STOP"), 1.0)
    assert steady.show(said("WAIT", line="pepper"), 1.01).word == "WAIT"


@pytest.mark.parametrize("word", ["POUR", "SLOWER"])
def test_after_stop_nobody_is_told_to_pour_at_once(word: str) -> None:
    """The last grains still fall: STOP, POUR, STOP within two seconds would be no help."""
    steady = Steady()
    steady.show(said("STOP"), 1.0)
    assert steady.show(said(word), 1.0 + STOPPED_S - 0.01).word == "STOP"
    assert steady.show(said(word), 1.0 + STOPPED_S).word == word


def test_after_stop_any_other_word_comes_as_ever() -> None:
    steady = Steady()
    steady.show(said("STOP"), 1.0)
    assert steady.show(said("IN BAND"), 1.0 + STAYS_S).word == "IN BAND"
