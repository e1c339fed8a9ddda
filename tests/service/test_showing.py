"""What is shown while the ledger waits, and how often."""

import asyncio
import time
from decimal import Decimal
from pathlib import Path

import pytest

from drivers.reading import Condition, Kind, Reading
from station.batch.events import LedgerBorn
from station.ledger.book import Book
from station.service.clock import Clock
from station.service.desk import Desk
from station.service.showing import OTHERS_S, WAITS_S, Showing, waiting
from station.service.writer import Writer
from station.weighing import commands as do
from station.weighing.floor import Floor
from station.weighing.words import Guide
from tests.benchside import BENCH, FINE


@pytest.mark.parametrize(("seconds", "said"), [(WAITS_S - 0.01, False), (WAITS_S, True)])
def test_that_the_ledger_waits_is_said_after_half_a_second(seconds: float, said: bool) -> None:
    told = waiting(Guide("additions", "STOP", "salt: stop pouring", "let it settle"), seconds)
    assert told.word == "STOP", "what the hand does is never covered"
    assert "salt: stop pouring" in told.sentence
    assert ("nothing is recorded yet" in told.sentence) is said


def a_reading(grams: str, time_s: float) -> Reading:
    return Reading(Decimal(grams), "g", Kind.GROSS, False, Condition.OK, time_s, grams.encode())


async def a_desk(folder: Path, clock: Clock) -> tuple[Desk, Writer]:
    writer = Writer(folder / "a.ledger", LedgerBorn("test", True, "0"))
    await writer.open("2026-11-30T10:00:00.000Z")
    desk = Desk(writer, clock, (FINE, BENCH), ("Ansel",))
    for scale in ("fine", "bench"):
        desk.link(scale, True, "", "")
    return desk, writer


async def test_readings_go_on_while_the_ledger_waits_and_nothing_is_shown_as_recorded(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The disk takes a second and a half for one event."""
    desk, writer = await a_desk(tmp_path, Clock())
    append = Book.append

    def slow(self: Book, *args: object) -> object:
        time.sleep(1.5)
        return append(self, *args)  # type: ignore[arg-type]

    shown: list[tuple[str | None, int, str]] = []
    desk.listen(lambda now, events: shown.append(
        (now.scales["fine"].gross_g, now.ledger.seq if now.ledger else 0, now.sentence)
    ))  # fmt: skip
    running = asyncio.create_task(desk.run())
    monkeypatch.setattr(Book, "append", slow)
    before = writer.seq
    noting = asyncio.create_task(desk.submit(do.Note("slow")))
    for n in range(12):
        await asyncio.sleep(0.1)
        desk.reading("fine", a_reading(f"{n}.00", desk.clock.monotonic()))
    assert not noting.done()
    late = {gross for gross, _, _ in shown} & {str(n) for n in range(4, 12)}
    assert len(late) >= 3, "weights are still shown, several times a second"
    assert {seq for _, seq, _ in shown} == {before}, "nothing is shown before it is recorded"
    assert "nothing is recorded yet" in shown[-1][2]
    await noting
    await asyncio.sleep(0.3)
    assert shown[-1][1] == before + 1 and "nothing is recorded yet" not in shown[-1][2]
    running.cancel()
    await asyncio.gather(running, return_exceptions=True)
    await writer.close()


async def test_a_scale_nobody_looks_at_is_shown_ten_times_a_second(tmp_path: Path) -> None:
    class Still(Clock):
        now = 1000.0

        def monotonic(self) -> float:
            return self.now

    clock = Still()
    _, writer = await a_desk(tmp_path, clock)
    showing = Showing(Floor((FINE, BENCH)), writer, clock)
    showing.show(None)
    assert not showing.due("fine")
    clock.now += OTHERS_S - 0.001
    assert not showing.due("fine")
    clock.now += 0.002
    assert showing.due("fine")
    await writer.close()
