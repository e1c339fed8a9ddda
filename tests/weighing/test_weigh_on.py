"""A coarser scale that is still fit may be chosen where the vessel goes only there."""

from station.weighing import commands as do
from tests.benchside import RING, Bench

CRUMB = RING.replace(
    '[[addition]]\nname = "pepper"',
    '[[addition]]\nname = "crumb"\namount = "3 %"\nrole = "binder"\n[[addition]]\nname = "pepper"',
)


def at_crumb() -> Bench:
    bench = Bench(CRUMB).begin()
    bench.add("salt", "cup 3", "216")
    bench.add("premix", "cup 2", "24")
    assert (bench.told.line, bench.told.scale) == ("crumb", "fine")
    return bench


def offered(bench: Bench) -> list[str]:
    return [str(offer.params["scale"]) for offer in bench.told.offers if offer.verb == "weigh-on"]


def test_the_other_scale_that_is_fit_is_offered_and_then_used() -> None:
    bench = at_crumb()
    assert offered(bench) == ["bench"]
    bench.say(do.WeighOn("crumb", "bench"))
    assert (bench.told.scale, offered(bench)) == ("bench", ["fine"])
    bench.show("bench", "1200")
    bench.show("bench", "1560")
    bench.show("bench", "0")
    assert bench.line("crumb").loads[0].scale == "bench"


def test_a_scale_that_is_not_fit_is_neither_offered_nor_taken() -> None:
    bench = Bench(CRUMB).begin()
    bench.add("salt", "cup 3", "216")
    assert (bench.told.line, offered(bench)) == ("premix", [])
    refusal = bench.refused(do.WeighOn("premix", "bench"))
    assert refusal.code == "unfit"
    assert bench.refused(do.WeighOn("premix", "attic")).code == "unknown-scale"


def test_the_scale_is_not_changed_under_a_vessel() -> None:
    bench = at_crumb()
    bench.pour("cup 3", "100")
    assert bench.refused(do.WeighOn("crumb", "bench")).code == "one-tare"


def test_the_finer_one_can_be_chosen_again() -> None:
    bench = at_crumb()
    bench.say(do.WeighOn("crumb", "bench"))
    bench.say(do.WeighOn("crumb", "fine"))
    assert bench.told.scale == "fine"
