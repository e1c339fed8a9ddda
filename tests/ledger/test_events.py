"""What is recorded can be read again, whatever it is."""

from decimal import Decimal
from typing import get_args

import msgspec
import pytest

from station.batch import events as ev
from station.batch.codec import AnyEvent, from_body, to_body
from tests.benchside import Bench


def test_every_event_can_be_read_back() -> None:
    assert set(ev.Event.__subclasses__()) == set(get_args(AnyEvent))


def test_the_events_of_a_batch_come_back_as_they_were() -> None:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    assert len({type(event) for event in bench.events}) > 8
    for event in bench.events:
        kind, body = to_body(event)
        assert from_body(kind, body) == event


def test_a_decimal_is_plain_text_whatever_its_exponent() -> None:
    _, body = to_body(ev.Spilt("salt", Decimal("1E+3")))
    assert body["spilt_g"] == "1000"


def test_an_unknown_kind_is_an_error() -> None:
    with pytest.raises(msgspec.ValidationError):
        from_body("salted", {})
