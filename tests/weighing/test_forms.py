"""What wants a value that only a person can read: asked for where no scale can send it."""

import pytest

from drivers.reading import Condition
from station.batch.state import Vessel
from station.weighing.vessels import new_name
from tests.benchside import BENCH, FINE, RING, Bench

STEP = '[[step]]\nname = "knead"\nafter = "salt"\ntemperature = "<= 10 degC"\n'


def params(bench: Bench) -> list[dict[str, str]]:
    return [dict(form.params) for form in bench.told.forms]


def dead(bench: Bench, scale: str = "fine") -> Bench:
    bench.floor.link(scale, False, "its cable is out", "plug it in")
    return bench


def test_a_scale_that_can_be_read_is_read() -> None:
    assert not Bench().begin().told.forms


def test_salt_is_typed_by_one_person() -> None:
    bench = Bench().begin()
    bench.pour("cup 3", "100")
    (form,) = dead(bench).told.forms
    assert (form.verb, form.param, form.unit, form.danger) == ("by-hand", "net", "g", True)
    assert dict(form.params) == {"line": "salt", "scale": "fine", "reason": "said at the bench"}


def test_a_cure_and_the_meat_that_its_limit_hangs_on_want_a_second_person() -> None:
    bench = Bench()
    bench.vessels()
    bench.open()
    assert [found["second"] for found in params(dead(bench, "bench"))] == ["Brida"]
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    assert [found["second"] for found in params(dead(bench))] == ["Brida"]
    assert all(form.danger for form in bench.told.forms)


def test_an_error_flag_is_dead_and_an_overload_is_mended_at_the_scale() -> None:
    bench = Bench().begin()
    bench.show("fine", "0", condition=Condition.OVERLOAD)
    assert not bench.told.forms
    bench.show("fine", "0", condition=Condition.ERROR)
    assert bench.told.forms


def test_a_step_with_a_temperature_asks_for_it_and_one_without_does_not() -> None:
    for step, wanted in ((STEP, [("step", "value", "degC")]), (STEP.replace("temp", "#"), [])):
        bench = Bench(
            RING.replace('[[addition]]\nname = "pepper"', step + '[[addition]]\nname = "pepper"')
        )
        bench.begin().add("salt", "cup 3", "216")
        assert bench.told.line == "knead"
        assert [(f.verb, f.param, f.unit) for f in bench.told.forms] == wanted


def vessel(name: str, scale=FINE) -> Vessel:  # type: ignore[no-untyped-def]
    return Vessel(name, scale.max_g / 5, scale.division_g)


@pytest.mark.parametrize(
    ("known", "name"),
    [
        ((), "vessel 1"),
        (("cup 1", "cup 2"), "cup 3"),
        (("cup 2",), "cup 3"),
        (("cup 1", "cup 2", "jar 7"), "cup 3"),
        (("blue bowl",), "vessel 1"),
        (("cup 9999",), "cup 10000"),
    ],
)
def test_the_next_name_goes_on_from_those_of_its_scale(known: tuple[str, ...], name: str) -> None:
    found = [vessel(text) for text in known] + [vessel("tub 4", BENCH)]
    assert new_name(found, FINE) == name


def test_a_name_that_another_scales_vessel_has_is_passed_over() -> None:
    assert new_name([vessel("cup 1"), vessel("cup 2", BENCH)], FINE) == "cup 3"


def test_what_stands_on_a_pan_can_be_put_on_record_but_not_while_it_is_weighed() -> None:
    bench = Bench()
    bench.vessels()
    assert not [o for o in bench.told.offers if o.verb == "vessel"]
    bench.show("fine", "140")
    (offer,) = [o for o in bench.told.offers if o.verb == "vessel"]
    assert (dict(offer.params), offer.danger) == ({"name": "cup 4", "scale": "fine"}, True)
    bench = Bench().begin()
    bench.pour("cup 3", "100")
    assert not [o for o in bench.told.offers if o.verb == "vessel"]
