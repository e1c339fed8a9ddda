"""What is recorded can be read again, whatever it is."""

from decimal import Decimal

import msgspec
import pytest

from station.batch import events as ev
from station.batch.codec import from_body, to_body
from tests.benchside import Bench


@pytest.mark.parametrize("event", ev.Event.__subclasses__(), ids=lambda event: event.__name__)
def test_every_event_is_read_back_by_its_own_kind(event: type[ev.Event]) -> None:
    kind = event.__struct_config__.tag
    assert isinstance(kind, str)
    with pytest.raises(msgspec.ValidationError, match=r"missing required field|uid"):
        from_body(kind, {"uid": "no number"} if not event.__struct_fields__[1:] else {})


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


def test_a_body_that_names_another_kind_is_an_error() -> None:
    with pytest.raises(msgspec.ValidationError):
        from_body("noted", {"text": "x", "who": "Ansel", "kind": "closed"})
