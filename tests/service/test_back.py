"""The way back as the socket and the command line tell it: a preview, nothing is done."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from station.cli.verbs import way_back_lines
from station.service.back import told
from station.weighing import commands as do
from station.weighing.commands import Refusal
from tests.batch.test_way_back import COLD, in_the_mix, over_salted
from tests.benchside import RING, Bench
from tests.service.daemons import Daemon, station
from tests.weighing.test_second_dose import salted

TEN = datetime(2026, 11, 30, 10, tzinfo=UTC)


def around(bench: Bench, now: datetime = TEN) -> Any:
    clock = SimpleNamespace(utc=lambda: now)
    return SimpleNamespace(desk=SimpleNamespace(station=bench.station, clock=clock))


def test_it_knows_how_late_it_is() -> None:
    bench = Bench(RING + COLD.format("first meat")).begin()
    in_the_mix(bench, "salt", "cup 3", "231")
    assert told(around(bench, TEN + timedelta(minutes=90)), {}).possible
    late = told(around(bench, TEN + timedelta(minutes=90, seconds=1)), {})
    assert (late.possible, late.meat_g) == (False, None)
    assert late.why_not == "into the cold: 90 min, 90 min at most: too long out of the cold"


def test_it_tells_what_is_over_how_much_meat_it_takes_and_what_lacks_then() -> None:
    bench = salted()
    in_the_mix(bench, "premix", "cup 2", "27")
    found = told(around(bench), {})
    assert (found.batch, found.possible, found.why_not) == ("b-1", True, None)
    assert [(o.line, o.actual_g, o.upper_g) for o in found.over] == [("premix", "27.00", "24.45")]
    assert (found.meat_g, found.add_meat_g) == ("13236", "1236")
    assert [(t.line, t.add_g, t.target_g) for t in found.top_up] == [("salt", "22.35", "238.25")]
    assert list(way_back_lines(found)) == [
        "premix: 27.00 g is in the mix, 24.45 g at most",
        "weigh 1236 g more meat, 13236 g in all; after that",
        "  salt: 22.35 g more, to 238.25 g",
    ]


@pytest.mark.parametrize(
    ("meat", "stays"),
    [
        ("580 g", "with that meat salt stays over: 231.30 of 230.95 g"),
        ("0.6 kg", "with that meat nothing is over"),
    ],
)
def test_with_less_meat_at_hand_it_says_what_stays_over(meat: str, stays: str) -> None:
    bench = over_salted("231.30")
    assert list(way_back_lines(told(around(bench), {"meat": meat})))[1] == stays


def test_what_no_meat_makes_right_is_said() -> None:
    bench = salted()
    bench.say(do.Tip("premix", more=True))
    found = told(around(bench), {"batch": "b-1"})
    assert list(way_back_lines(found)) == [
        "no way back by meat: nobody knows how much premix is in the mix"
    ]


def test_nothing_over_is_said() -> None:
    assert list(way_back_lines(told(around(salted()), {}))) == [
        "nothing is over; 12000 g of meat are enough"
    ]


@pytest.mark.parametrize(
    ("params", "code"),
    [({"batch": "b-9"}, "no-batch"), ({"meat": "some"}, "bad-params"), ({"to": 1}, "bad-params")],
)
def test_what_is_asked_wrongly_is_refused(params: dict[str, Any], code: str) -> None:
    with pytest.raises(Refusal) as refused:
        told(around(salted()), params)
    assert refused.value.code == code and refused.value.next


def test_without_a_batch_the_command_says_so(tmp_path: Path) -> None:
    daemon = Daemon(tmp_path).start()
    try:
        ended = station("way-back", "--socket", str(daemon.socket))
        assert (ended.returncode, ended.stderr) == (
            3, "station: no batch is at the bench\n  next: name one that is open\n"
        )  # fmt: skip
        ended = station("way-back", "--meat", "some", "--socket", str(daemon.socket))
        assert ended.returncode == 3
    finally:
        daemon.stop()
