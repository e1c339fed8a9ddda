"""The running station and its ledger: what goes under it is told on the display within a second."""

import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from station.client import Client, ClientError
from station.ledger.book import LOCK_S, read_events
from station.ledger.mark import read_mark
from station.ledger.reading import open_reader
from station.service.desk import HANGS_S
from tests.ledger.ledgers import checked, tamper
from tests.service.daemons import Daemon, station


@pytest.fixture
def daemon(tmp_path: Path) -> Iterator[Daemon]:
    daemon = Daemon(tmp_path).start()
    yield daemon
    daemon.stop()


def until(daemon: Daemon, wanted: Callable[[dict[str, Any]], bool], most_s: float) -> float:
    """Seconds until the station shows `wanted`."""
    began = time.monotonic()
    while not wanted(daemon.call("state")):
        assert time.monotonic() - began < most_s, daemon.call("state")
        time.sleep(0.02)
    return time.monotonic() - began


def blocked(shown: dict[str, Any]) -> bool:
    return bool(shown["blocked"][:1] == ["ledger"])


def kinds(ledger: Path) -> list[str]:
    with open_reader(ledger) as db:
        return [row[0] for row in db.execute("SELECT kind FROM event ORDER BY seq")]


def test_a_deleted_ledger_blocks_within_a_second_and_is_well_once_its_copy_is_put_back(
    daemon: Daemon,
) -> None:
    daemon.call("note", text="must not be lost")
    daemon.ledger.unlink()  # and nothing is recorded any more that would meet it
    until(daemon, blocked, 1.5)
    shown = daemon.call("state")
    assert "is no longer there; a whole copy is saved as" in shown["sentence"]
    with pytest.raises(ClientError) as caught:
        daemon.call("note", text="into nothing")
    assert caught.value.reason == "blocked-ledger"
    (copy,) = daemon.ledger.parent.glob("*.rescued-*")
    time.sleep(1.2)  # it tries to mend meanwhile, and makes no new ledger
    assert not daemon.ledger.exists()
    copy.rename(daemon.ledger)
    until(daemon, lambda shown: not blocked(shown), 5)
    daemon.call("note", text="it goes on")
    found = kinds(daemon.ledger)
    assert (found.count("noted"), found.count("ledger-recovered")) == (2, 1)
    assert checked(daemon.ledger).ok


def test_a_break_that_is_found_behind_the_start_blocks_the_bench(tmp_path: Path) -> None:
    daemon = Daemon(tmp_path).start()
    daemon.call("note", text="once")
    assert daemon.stop() == 0
    tamper(daemon.ledger, "UPDATE event SET at = '2020-01-01T10:00:00.000Z' WHERE seq = 1")
    daemon.start()
    until(daemon, blocked, 10)
    with pytest.raises(ClientError) as caught:
        daemon.call("note", text="on sand")
    assert caught.value.reason == "blocked-ledger"
    assert "event 1 was changed" in daemon.call("state")["sentence"]
    daemon.stop()
    refused = station(*daemon.words)
    assert (refused.returncode, "event 1 was changed" in refused.stderr) == (3, True)


def test_a_station_whose_ledger_is_gone_at_the_start_says_so_until_it_is_confirmed(
    tmp_path: Path,
) -> None:
    daemon = Daemon(tmp_path).start()
    daemon.call("note", text="once")
    assert daemon.stop() == 0
    mark = read_mark(daemon.ledger)
    assert mark is not None
    daemon.ledger.unlink()
    refused = station(*daemon.words)
    assert (refused.returncode, "it is not there" in refused.stderr) == (3, True)
    assert f"station run --accept-loss {mark.seq}" in refused.stderr
    assert not daemon.ledger.exists()
    wrong = station(*daemon.words, "--accept-loss", str(mark.seq + 1))
    assert (wrong.returncode, daemon.ledger.exists()) == (3, False)
    daemon.words += ["--accept-loss", str(mark.seq)]
    daemon.start()
    assert daemon.stop() == 0
    assert kinds(daemon.ledger) == ["ledger-born", "loss-accepted"]
    again = station(*daemon.words)  # left in the command: there is nothing to accept any more
    assert (again.returncode, "nothing is missing" in again.stderr) == (3, True)


def test_a_held_ledger_stops_nothing_else_and_shows_nothing_as_recorded(daemon: Daemon) -> None:
    daemon.call("open", formula="garlic-ring", meat="12 kg", who="Ansel")
    said: list[str] = []

    def note() -> None:
        try:
            daemon.call("note", text="while it is held")
        except ClientError as error:
            said.append(error.reason)

    shown: list[dict[str, Any]] = []
    with (
        closing(sqlite3.connect(daemon.ledger, isolation_level=None)) as other,
        Client(daemon.socket, timeout_s=10) as follower,
    ):
        changes = follower.changes()
        first = next(changes)
        other.execute("BEGIN IMMEDIATE")
        asking = threading.Thread(target=note)
        asking.start()
        began = time.monotonic()
        daemon.call("state")
        assert time.monotonic() - began < LOCK_S
        while not shown or "another program holds the ledger" not in shown[-1]["sentence"]:
            shown.append(next(changes))
        assert time.monotonic() - began < HANGS_S  # bounded: the watchdog takes it for no hang
        asking.join(timeout=5)
    assert said == ["blocked-ledger"]
    assert any("nothing is recorded yet: the ledger waits" in c["sentence"] for c in shown)
    assert all(change["ledger"] == first["ledger"] and not change["events"] for change in shown)
    until(daemon, lambda shown: not blocked(shown), 8)
    daemon.call("note", text="afterwards")
    with open_reader(daemon.ledger) as db:
        texts = [r.body["text"] for r in read_events(db) if r.kind == "noted"]
    assert texts == ["afterwards"]
