"""Make the ledger of a busy bench of ten years by the real `append`, for measuring:

    python tests/bench/years.py --additions N --out FILE [--seed S]

Whole batches are weighed first by the real decider on a bench without ports: as the formula says,
with a line voided and weighed again, with figures read by hand, and on hold for too much cure, then
abandoned. Two formulas in two revisions each, several amounts of meat. The ledger then has them
again and again, in an order that the seed chooses, with new batches, lots and days, over ten years.
Every addition is one append, but nothing waits for the disk: a file that a power cut spoils is made
again. The same seed makes the same events; the ledger's own id is random, and so are the hashes.
"""

import argparse
import json
import random
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from functools import cache
from pathlib import Path

from msgspec.structs import replace

sys.path.insert(0, str(Path(__file__).parents[2]))

from station.batch import events as ev
from station.ledger.book import Book
from station.weighing import commands as do
from tests.benchside import RING, Bench

FIRST = datetime(2026, 11, 30, 6, tzinfo=UTC)
YEARS = timedelta(days=3652)
BORN = ev.LedgerBorn("Fenwether Yard, bench 1", True, "0")
LINK = (
    RING.replace("test ring", "test link")
    .replace("cooked cured comminuted", "fresh comminuted sausage")
    .split("[[addition]]")
)
FRESH = "[[addition]]".join(part for part in LINK if '"premix"' not in part)
PLAIN = (("salt", "cup 3", "0.018"), ("pepper", "cup 1", "0.003"), ("garlic", "cup 1", "0.005"))
MEATS = ("9000", "12000")

Weighed = list[list[ev.Event]]
"""The events of a batch, one list an append."""


@dataclass(frozen=True)
class Story:
    """A batch as the decider recorded it, and how many additions it accepted."""

    appends: Weighed
    additions: int


class Told(Bench):
    """A bench whose events are kept as they are to be appended."""

    def __init__(self, formula: str) -> None:
        super().__init__(formula)
        self._from = 0
        self.appends: Weighed = []

    def cut(self) -> None:
        """What was recorded since the last cut is one append."""
        if new := self.events[self._from :]:
            self.appends.append(list(new))
        self._from = len(self.events)

    def weigh(self, meat_g: str, skip: tuple[str, ...] = ()) -> None:
        lines = [(n, cup, Decimal(f) * Decimal(meat_g)) for n, cup, f in PLAIN]
        if "premix" in self.batch.lines:
            lines.insert(1, ("premix", "cup 2", Decimal(meat_g) / 500))
        for name, cup, net in lines:
            if name not in skip:
                self.add(name, cup, str(net))
                self.cut()


def _begun(formula: str, meat_g: str) -> Told:
    bench = Told(formula)
    bench.vessels()
    bench.events.clear()  # the vessels stand in the ledger once
    bench.open(meat_g)
    bench.weigh_meat(meat_g)
    if "premix" in bench.batch.lines:
        strength = {"sodium nitrite": Decimal("0.0625")}
        bench.say(do.OpenLot("premix", "LOT", strength, None, "2026-11-30"))
    bench.cut()
    return bench


def _typed(bench: Told, line: str, net: Decimal, in_mix: bool = False) -> None:
    """A figure read off a scale whose cable is out."""
    bench.floor.link("fine", False, "its cable is out", "plug it in")
    torn = "the cable is torn"
    bench.say(do.ByHand(line, net, "fine", torn, second="Brida", in_mix=in_mix))
    if not in_mix:
        bench.say(do.Tip(line))
    bench.cut()
    bench.floor.link("fine", True)
    bench.show("fine", "0")


def _ended(bench: Told, command: do.Command) -> Story:
    bench.say(command)
    bench.cut()
    additions = sum(isinstance(event, ev.Accepted) for part in bench.appends for event in part)
    return Story(bench.appends, additions)


def plain(formula: str, meat_g: str) -> Story:
    """As the formula says."""
    bench = _begun(formula, meat_g)
    bench.weigh(meat_g)
    return _ended(bench, do.Close())


def voided(formula: str, meat_g: str) -> Story:
    """The salt is wet, thrown away and weighed again."""
    bench = _begun(formula, meat_g)
    bench.pour("cup 3", str(Decimal(meat_g) * Decimal("0.018")))
    bench.lift()
    bench.say(do.Void("salt", "wet"))
    bench.show("fine", "131.20")
    bench.show("fine", "0")
    bench.cut()
    bench.weigh(meat_g)
    return _ended(bench, do.Close())


def by_hand(formula: str, meat_g: str) -> Story:
    """The garlic is read and typed."""
    bench = _begun(formula, meat_g)
    bench.weigh(meat_g, skip=("garlic",))
    _typed(bench, "garlic", Decimal(meat_g) * Decimal("0.005"))
    return _ended(bench, do.Close())


def on_hold(formula: str, meat_g: str) -> Story:
    """Too much salt or cure is in the mix: on hold where a law says so, then abandoned."""
    bench = _begun(formula, meat_g)
    if "premix" in bench.batch.lines:
        bench.weigh(meat_g, skip=("premix", "pepper", "garlic"))
        _typed(bench, "premix", Decimal(meat_g) / 500 + 9, in_mix=True)
        assert bench.batch.hold
    return _ended(bench, do.Abandon("too much went in"))


TELLERS = ((plain, 90), (voided, 4), (by_hand, 4), (on_hold, 2))
"""The ways a batch goes, and how many of a hundred go so: guessed, not counted anywhere."""


@cache
def stories() -> tuple[list[Story], list[int]]:
    """Every way with every formula, revision and amount of meat, and how often each is taken."""
    found, often = [], []
    for formula in (RING, FRESH):
        for meat_g in MEATS:
            for tell, share in TELLERS:
                first = tell(formula, meat_g)
                found += [first, _revised(first)]
                often += [share, share]
    return found, often


def _revised(story: Story) -> Story:
    """The same by the next revision of the formula, which says nothing else."""
    appends = [[_next_revision(event) for event in part] for part in story.appends]
    return Story(appends, story.additions)


def _next_revision(event: ev.Event) -> ev.Event:
    if isinstance(event, ev.BatchOpened):
        return replace(event, formula=replace(event.formula, revision=2))
    return event


def _with_lot(event: ev.Event, lot: str) -> ev.Event:
    return replace(event, lot=lot) if getattr(event, "lot", None) == "LOT" else event


def _batches(additions: int, seed: int) -> Iterator[tuple[datetime, str, Story]]:
    """When each begins, its id, and how it goes, until there are so many additions."""
    chance = random.Random(seed)
    told, often = stories()
    mean = sum(s.additions * n for s, n in zip(told, often, strict=True)) / sum(often)
    apart = YEARS / max(additions / mean, 1)
    made, number, last = 0, 0, ""
    while made < additions:
        at = FIRST + apart * (made / mean)
        number = number + 1 if f"{at:%y%m%d}" == last else 1
        last = f"{at:%y%m%d}"
        (story,) = chance.choices(told, often)
        yield at, f"{last}-{number}", story
        made += story.additions


def years(book: Book, additions: int, seed: int) -> int:
    """Append them to a new book; how many additions there are, which may be a few more."""
    vessels = Bench()
    vessels.vessels()
    book.append([(None, event) for event in vessels.events], _stamp(FIRST))
    made = 0
    for at, batch, story in _batches(additions, seed):
        for number, events in enumerate(story.appends):
            stamp = _stamp(at + timedelta(minutes=number))
            lot = f"P-{at:%y%W}"
            book.append([(batch, _with_lot(event, lot)) for event in events], stamp)
        made += story.additions
    return made


def _stamp(at: datetime) -> str:
    return f"{at:%Y-%m-%dT%H:%M:%S}.{at.microsecond // 1000:03}Z"


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--additions", type=int, required=True)
    options.add_argument("--out", type=Path, required=True)
    options.add_argument("--seed", type=int, default=1)
    asked = options.parse_args()
    if asked.additions < 1:
        options.error("--additions: at least one")
    if asked.out.exists():
        options.error(f"{asked.out} exists: it is not written over")
    begin = time.perf_counter()
    book = Book.open(asked.out, BORN, _stamp(FIRST))
    book._db.execute("PRAGMA synchronous = OFF")  # a file that a power cut spoils is made again
    made = years(book, asked.additions, asked.seed)
    events = book.seq
    book.close()
    seconds = time.perf_counter() - begin
    size = asked.out.stat().st_size
    figures = {
        "additions": made,
        "events": events,
        "seconds": round(seconds, 1),
        "bytes": size,
        "bytes_per_addition": round(size / made),
    }
    print(json.dumps(figures))


if __name__ == "__main__":
    main()
