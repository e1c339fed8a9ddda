"""Each state has a word that says what the hands do now; what is wrong is an alarm."""

from decimal import Decimal

import pytest

from station.weighing import commands as do
from tests.benchside import CUPS, Bench
from tests.weighing.test_gone import fill, gross
from tests.weighing.test_second_dose import salted


def word(bench: Bench) -> tuple[str, bool]:
    return bench.told.word, bench.told.alarm


def test_without_a_batch_the_bench_is_ready() -> None:
    assert word(Bench()) == ("READY", False)


def test_a_batch_wants_its_tub_set_down_and_filled() -> None:
    bench = Bench()
    bench.vessels()
    bench.open()
    assert word(bench) == ("SET DOWN", False)
    bench.show("bench", "1200")
    assert word(bench) == ("POUR", False)
    bench.show("bench", "13200")
    bench.say(do.Accept("pork"))
    assert word(bench) == ("DO", False)


def test_a_tub_that_came_full_is_to_be_named() -> None:
    bench = Bench()
    bench.vessels()
    bench.open()
    bench.show("bench", "9000")
    assert word(bench) == ("ANSWER", False)
    bench.say(do.Use("tub"))
    assert word(bench) == ("POUR", False)


def test_a_vessel_wanted_moving_and_lifted_empty() -> None:
    bench = Bench().begin()
    assert word(bench) == ("SET DOWN", False)
    bench.show("fine", CUPS["cup 3"])
    assert word(bench) == ("POUR", False)
    bench.show("fine", "0")
    assert word(bench) == ("SET DOWN", False), "an empty cup lifted to be filled is no alarm"


@pytest.mark.parametrize(
    ("net", "said"),
    [
        ("120", "salt: 91.70 g too little in it"),
        ("231", "salt: 10.75 g too much in it"),
    ],
)
def test_lifted_with_too_much_or_too_little_it_is_put_back_with_the_grams(
    net: str, said: str
) -> None:
    bench = Bench().begin()
    bench.pour("cup 3", net)
    bench.lift()
    assert word(bench) == ("PUT BACK", True)
    assert bench.told.sentence == said
    assert bench.told.next == "put cup 3 back on fine"


def test_a_cure_that_stands_is_to_be_tipped_and_salt_waits() -> None:
    bench = salted()
    bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    bench.lift()
    assert word(bench) == ("TIP", False)
    assert "or go on with pepper" in bench.told.next
    other = Bench().begin()
    other.pour("cup 3", "216")
    other.lift()
    assert word(other) == ("SET DOWN", False)


def test_the_next_vessel_on_the_scale_goes_on_while_a_cure_stands() -> None:
    bench = salted()
    bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    bench.lift()
    bench.show("fine", CUPS["cup 1"])
    assert word(bench) == ("POUR", False)


def test_a_batch_on_hold_says_so() -> None:
    bench = salted()
    bench.say(do.Tip("premix", more=True))
    assert word(bench) == ("ON HOLD", True)


def test_taking_out_is_never_told_to_stop_pouring() -> None:
    """Spooned out of a cup that was over: unsettled and above the aim, and getting less."""
    bench = Bench().begin()
    bench.pour("cup 3", "260")
    said = set()
    for part in range(1, 30):
        bench.move("fine", str(Decimal(gross("cup 3", "260")) - part))
        said.add(bench.told.word)
    assert said == {"TAKE OUT"}
    for part in range(30, 44):
        bench.move("fine", str(Decimal(gross("cup 3", "260")) - part))
    assert bench.told.word == "WAIT"


def test_one_press_never_says_that_it_went_back() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.add("premix", "cup 2", "24")
    bench.show("fine", CUPS["cup 1"])
    fill(bench, "cup 1", "0", "20")
    bench.lift()
    bench.show("fine", CUPS["cup 1"])
    ask = bench.told.asks
    assert word(bench) == ("ANSWER", True)
    assert [(a.means, a.danger) for a in ask.answers] == [
        ("in the mix", True),
        ("it went back", True),
    ]
    assert ask.otherwise == "put back what was in it"


def test_an_emptied_cup_of_salt_is_no_alarm_before_a_cure() -> None:
    """0.2 g cling to it: too much for an empty vessel of a cure, and it only has to go."""
    bench = Bench().begin()
    bench.pour("cup 3", "216")
    bench.lift()
    bench.show("fine", str(Decimal(CUPS["cup 3"]) + Decimal("0.20")))
    told = bench.told
    assert (told.line, told.word, told.alarm) == ("premix", "SET DOWN", False)
    assert (told.sentence, told.next) == ("this vessel held salt", "lift it off, take a clean one")
    assert bench.line("premix").tare is None
    bench.show("fine", "0")
    bench.show("fine", str(Decimal(CUPS["cup 3"]) + Decimal("0.20")))
    assert bench.told.word == "BLOCKED", "set down again it is asked about"
