"""What the daemon would show at one moment or another, by the real watches and the real decider."""

from collections.abc import Callable
from decimal import Decimal

from msgspec.structs import replace

from station.service.snapshot import snapshot
from station.weighing import commands as do
from station.wire import Backup, Change, Ledger, changed
from tests.benchside import CUPS, Bench
from tests.weighing.test_drying import hanging, weighed_again
from tests.weighing.test_tallying import PACKS, mixed, put, set_down


def shown(bench: Bench) -> Change:
    """What the daemon would send for a bench."""
    return changed(snapshot(bench.floor.sight(), bench.told, bytes(32), 1, True))


def pouring(net: str) -> Change:
    bench = Bench().begin()
    bench.pour("cup 3", net)
    return shown(bench)


def slowing() -> Change:
    """Ten grams a second are more than the band bears: the watch asks for less some 3 s ahead."""
    bench = Bench().begin()
    bench.show("fine", CUPS["cup 3"])
    for net in range(1, 191):
        bench.move("fine", str(Decimal(CUPS["cup 3"]) + net))
    return shown(bench)


def stopping() -> Change:
    bench = Bench().begin()
    bench.pour("cup 3", "200")
    bench.move("fine", str(Decimal(CUPS["cup 3"]) + 217))
    return shown(bench)


def unplugged() -> Change:
    bench = Bench().begin()
    bench.pour("cup 3", "100")
    bench.floor.link("fine", False, "its cable is out", "plug it in")
    return shown(bench)


def put_back() -> Change:
    bench = Bench().begin()
    bench.pour("cup 3", "120")
    bench.lift()
    return shown(bench)


def cure_standing() -> Change:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    bench.lift()
    return shown(bench)


def cure_missing() -> Change:
    """The cup of the cure comes back lighter."""
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.pour("cup 2", "24")
    bench.lift()
    bench.show("fine", CUPS["cup 2"])
    return shown(bench)


def all_in() -> Change:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.add("premix", "cup 2", "24")
    bench.add("pepper", "cup 1", "36")
    bench.add("garlic", "cup 1", "60")
    return shown(bench)


def lifted() -> Change:
    bench = Bench().begin()
    bench.pour("cup 3", "120")
    bench.move("fine", "20")
    return shown(bench)


def held() -> Change:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.say(do.Tip("premix", more=True))
    return shown(bench)


WORDS: dict[str, Callable[[], Change]] = {
    "POUR": lambda: pouring("132"),
    "SLOWER": slowing,
    "STOP": stopping,
    "IN BAND": lambda: pouring("216"),
    "TAKE OUT": lambda: pouring("231"),
    "READY": lambda: shown(Bench()),
    "SET DOWN": lambda: shown(Bench().begin()),
    "PUT BACK": put_back,
    "TIP": cure_standing,
    "ANSWER": cure_missing,
    "DO": all_in,
    "WAIT": lifted,
    "BLOCKED": unplugged,
    "ON HOLD": held,
}


def aged(change: Change) -> Change:
    """The same with a backup that is too old."""
    backup = Backup(
        "2026-11-21T10:00:00.000Z", 9, "the last backup is 9 days old", "station ledger backup FILE"
    )
    return replace(change, ledger=Ledger(7, "aa", 0, backup))


def standing() -> Change:
    bench = Bench().begin()
    bench.pour("cup 3", "216")
    bench.lift()
    return shown(bench)


def cure_in_band() -> Change:
    bench = Bench().begin()
    bench.add("salt", "cup 3", "216")
    bench.pour("cup 2", "24")
    return shown(bench)


def packing() -> Change:
    """Three packs are counted, one of them too light."""
    bench = mixed()
    bench.say(PACKS)
    for grams in ("402", "401", "380"):
        put(bench, grams)
    return shown(bench)


def light_pack() -> Change:
    bench = mixed()
    bench.say(PACKS)
    set_down(bench, "381.5")
    return shown(bench)


def not_counted() -> Change:
    """A link was snatched off before it was still."""
    bench = mixed()
    bench.say(do.CountPieces("links", "fine"))
    put(bench, "60")
    for grams in ("40", "62", "58"):
        bench.move("fine", grams)
    bench.show("fine", "0")
    return shown(bench)


def hung() -> Change:
    """Links that hung for a week are weighed again."""
    return shown(weighed_again(hanging("200", "200"), "164", "164"))


def tasting() -> Change:
    bench = mixed()
    advice = (
        "cook it through to 160 degF (71.1 degC) inside, taste it warm; a fresh mix tastes saltier"
    )
    bench.say(do.TakeSample(None, None, Decimal(180), f"{advice} than after a night's rest"))
    return shown(bench)


AFTER_THE_MIX: dict[str, Callable[[], Change]] = {
    "packing": packing,
    "light-pack": light_pack,
    "not-counted": not_counted,
    "hung": hung,
    "tasting": tasting,
}
