"""A ledger for an auditor's questions, weighed by the real decider and made by the real append: a
void, a figure by hand, an unknown amount, an abandoned batch, an open one, two strengths of a lot,
a revised formula, a bag past its date, one code on the bags of two lines."""

from collections.abc import Callable
from contextlib import suppress
from decimal import Decimal
from pathlib import Path

from station.ledger.book import Book
from station.weighing import commands as do
from station.weighing.commands import Refusal
from tests.benchside import CUPS, NITRITE, RING, Bench
from tests.ledger.ledgers import BORN

REVISED = RING.replace("revision = 1", "revision = 2").replace("1.8 %", "1.9 %")
Story = Callable[[Bench], None]


def begun(bench: Bench, premix: str = "P-41") -> None:
    """Open, the meat weighed, the premix's bag open."""
    bench.open()
    bench.weigh_meat()
    bench.say(do.OpenLot("premix", premix, NITRITE, "2027-03-31", "2026-11-30"))


def seasoned(bench: Bench) -> None:
    bench.add("pepper", "cup 1", "36")
    bench.add("garlic", "cup 1", "60")


def whole(bench: Bench, premix_g: str = "24", salt_g: str = "216") -> None:
    bench.add("salt", "cup 3", salt_g)
    bench.add("premix", "cup 2", premix_g)
    seasoned(bench)
    bench.say(do.Close())


def voided(bench: Bench) -> None:
    """The salt is wet, thrown away and weighed again; pepper and garlic have one code."""
    begun(bench)
    bench.say(do.OpenLot("pepper", "G-118", {}, None, "2026-11-30"))
    bench.say(do.OpenLot("garlic", "G-118", {}, "2027-01-15", "2026-11-30"))
    bench.pour("cup 3", "216")
    bench.lift()
    bench.say(do.Void("salt", "wet"))
    bench.show("fine", CUPS["cup 3"])
    bench.show("fine", "0")
    whole(bench)


def by_hand(bench: Bench) -> None:
    """The garlic is read and typed; the pepper's bag is never used."""
    begun(bench)
    bench.say(do.OpenLot("pepper", "B-7", {}, None, "2026-11-30"))
    bench.add("salt", "cup 3", "217")
    bench.add("premix", "cup 2", "24")
    bench.say(do.Skip("pepper", "not delivered"))
    bench.floor.link("fine", False, "its cable is out", "plug it in")
    bench.say(do.ByHand("garlic", Decimal("61"), "fine", "the cable is torn", second="Brida"))
    bench.say(do.Tip("garlic"))
    bench.floor.link("fine", True)
    bench.show("fine", "0")
    bench.say(do.Close(("pepper",)))


def unknown(bench: Bench) -> None:
    """More salt and more premix went in than was weighed."""
    begun(bench, "P-42")
    bench.add("salt", "cup 3", "216")
    bench.add("premix", "cup 2", "24")
    bench.say(do.Tip("salt", more=True))
    bench.say(do.Tip("premix", more=True))
    bench.say(do.Abandon("nobody knows what is in it"))


def abandoned(bench: Bench) -> None:
    """A bag past its date is refused; the one that is opened instead is never used."""
    bench.open()
    bench.weigh_meat()
    with suppress(Refusal):
        bench.say(do.OpenLot("premix", "P-30", NITRITE, "2026-10-31", "2026-11-30"))
    bench.say(do.OpenLot("premix", "P-44", NITRITE, None, "2026-11-30"))
    bench.say(do.Abandon("the power is out"))


def two_strengths(bench: Bench) -> None:
    """The bag is read again once it is in the mix, and says less."""
    begun(bench, "P-43")
    bench.add("salt", "cup 3", "216")
    bench.add("premix", "cup 2", "24")
    weaker = {"sodium nitrite": Decimal("0.062")}
    bench.say(do.OpenLot("premix", "P-43", weaker, None, "2026-11-30", second="Brida"))
    seasoned(bench)
    bench.say(do.Close())


def revised(bench: Bench) -> None:
    """By the next revision, which has more salt."""
    begun(bench)
    whole(bench, "23.95", salt_g="228")


def open_still(bench: Bench) -> None:
    """The salt is in the mix, the premix stands in its cup."""
    begun(bench)
    bench.add("salt", "cup 3", "228")
    bench.pour("cup 2", "24")
    bench.say(do.Accept("premix"))
    bench.lift()


BATCHES: tuple[tuple[str, str, str, Story], ...] = (
    ("261130-1", "2026-11-30T08", RING, voided),
    ("261130-2", "2026-11-30T12", RING, by_hand),
    ("261201-3", "2026-12-01T08", RING, unknown),
    ("261201-4", "2026-12-01T12", RING, abandoned),
    ("261202-5", "2026-12-02T08", RING, two_strengths),
    ("261203-6", "2026-12-03T23", REVISED, revised),
    ("261204-7", "2026-12-04T08", REVISED, open_still),
)
"""Id, hour in which it begins (UTC), formula, how it goes."""


def append_batch(book: Book, batch: str, hour: str, formula: str, story: Story) -> None:
    """One append for each event, seconds apart."""
    bench = Bench(formula)
    if not book.station.vessels:
        bench.vessels()
        book.append([(None, event) for event in bench.events], f"{hour}:00:00.000Z")
    bench.station = book.station
    bench.events.clear()
    bench.at = f"{hour}:00:01.000Z"
    opened = bench.open
    bench.open = lambda: opened(batch=batch)  # type: ignore[method-assign]
    story(bench)
    for second, event in enumerate(bench.events, 1):
        at = f"{hour}:{second // 60:02}:{second % 60:02}.000Z"
        book.append([(batch, event)], at)


def record(path: Path) -> None:
    """The ledger of all of them at `path`."""
    book = Book.open(path, BORN, "2026-11-30T06:00:00.000Z")
    for batch in BATCHES:
        append_batch(book, *batch)
    book.close()
