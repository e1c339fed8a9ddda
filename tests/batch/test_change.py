"""A state with some fields changed: quicker than the standard library, and the same."""

import dataclasses
from fractions import Fraction

import pytest

from station.batch.change import replace
from station.batch.evolve import evolve
from station.batch.state import Station
from tests.ledger.ledgers import AT, a_batch


def test_it_makes_what_the_standard_library_makes() -> None:
    station = Station()
    for batch, event in a_batch():
        station = evolve(station, event, AT, batch)
    batch = station.batch
    assert batch is not None
    kept = dataclasses.replace(batch)
    changes = {"who": "Brida", "hold": ("a reason",)}
    assert replace(batch, **changes) == dataclasses.replace(batch, **changes)
    assert replace(batch) == batch == kept and replace(batch) is not batch
    for line in batch.lines.values():
        assert replace(line, tare=None) == dataclasses.replace(line, tare=None)


def test_a_name_that_is_no_field_is_refused() -> None:
    with pytest.raises(TypeError, match="no field"):
        replace(Station(), nobody=Fraction(1))
