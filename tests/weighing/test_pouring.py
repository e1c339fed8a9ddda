"""The pour watch at the bench: its words, where the pour would end, and what the record keeps."""

from decimal import Decimal

from station.weighing import events as ev
from tests.benchside import Bench


def salt(bench: Bench, flow: float, until_g: float, window: int = 10) -> list[str]:
    """Pour salt into cup 3 at 10 Hz as a scale shows it that averages over a second; the words."""
    cup, seen, words = 131.2, [0.0] * window, []
    bench.show("fine", "131.20")
    poured = 0.0
    while seen[0] < until_g:
        poured = min(poured + flow / 10, until_g)
        seen = [*seen[1:], poured]
        bench.move("fine", f"{round((cup + sum(seen) / window) * 20) / 20:.2f}")
        words.append(bench.told.word)
    bench.show("fine", f"{round((cup + until_g) * 20) / 20:.2f}")
    return words


def test_slower_and_stop_come_before_the_limit_is_shown() -> None:
    bench = Bench().begin()
    bench.show("fine", "131.20")
    assert bench.told.next.startswith("pour, at most ")
    words = salt(bench, 18.0, 260.0)
    order = list(dict.fromkeys(words))
    assert order[:3] == ["POUR", "SLOWER", "STOP"]
    first = words.index("STOP")
    # 216 g +2 % less the guard: 220.25 g; at 18 g/s the scale shows it half a second too late
    assert first / 10 * 18.0 < 220


def test_the_ghost_is_ahead_of_the_pointer_and_gone_at_rest() -> None:
    bench = Bench().begin()
    bench.show("fine", "131.20")
    for n in range(1, 60):
        bench.move("fine", f"{131.2 + n:.2f}")
    told = bench.told
    assert told.final_g is not None and told.net_g is not None
    assert told.final_g > told.net_g + 3
    bench.show("fine", "190.20")
    at_rest = bench.told
    assert at_rest.word == "POUR" and at_rest.final_g is None


def test_how_a_pour_went_is_recorded_with_its_acceptance() -> None:
    bench = Bench().begin()
    salt(bench, 8.0, 216.0)
    bench.lift()
    event = bench.last(ev.PourEnded)
    assert isinstance(event, ev.PourEnded)
    assert (event.line, event.who, event.ended_g) == ("salt", "Ansel", Decimal("216.00"))
    assert event.slower and event.said_g is not None
    assert Decimal(150) < event.said_g < Decimal(221)


def test_what_is_taken_out_afterwards_does_not_change_how_it_went() -> None:
    bench = Bench().begin()
    salt(bench, 30.0, 240.0)
    assert bench.told.word == "TAKE OUT"
    for n in range(1, 25):
        bench.move("fine", f"{131.2 + 240 - n:.2f}")
    bench.show("fine", "347.20")
    bench.lift()
    event = bench.last(ev.PourEnded)
    assert isinstance(event, ev.PourEnded)
    assert event.ended_g == 240 and event.accept_upper_g < 240


def test_advice_is_never_a_decision() -> None:
    """Whatever the watch says, an unsettled weight accepts nothing."""
    bench = Bench().begin()
    bench.show("fine", "131.20")
    for n in range(1, 109):
        bench.move("fine", f"{131.2 + 2 * n:.2f}")
    assert bench.told.word == "STOP"
    bench.lift()
    assert bench.line("salt").accepted is None
