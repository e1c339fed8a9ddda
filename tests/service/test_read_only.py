"""The ledger's disk turns read-only in the middle of a batch, and writable again."""

import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from station.client import ClientError
from station.ledger.reading import open_reader
from station.ledger.verify import verify
from tests.service.daemons import Daemon


def mount(*words: str) -> bool:
    return subprocess.run(["mount", *words], capture_output=True, check=False).returncode == 0


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    """A small disk of its own in memory, where a mount is to be had."""
    place = tmp_path / "disk"
    place.mkdir()
    own = mount("-t", "tmpfs", "-o", "size=8m", "none", str(place))
    yield place
    if own:
        subprocess.run(["umount", "-l", str(place)], check=True)


def until(daemon: Daemon, wanted: Callable[[dict[str, Any]], bool]) -> dict[str, Any]:
    for _ in range(200):
        shown = daemon.call("state")
        if wanted(shown):
            return shown
        time.sleep(0.05)
    raise AssertionError(daemon.call("state"))


def blocked(shown: dict[str, Any]) -> bool:
    return bool(shown["blocked"][:1] == ["ledger"])


def test_a_disk_that_turns_read_only_blocks_with_its_cause_and_goes_on_when_it_is_writable(
    tmp_path: Path, disk: Path
) -> None:
    daemon = Daemon(tmp_path)
    daemon.ledger, flag = disk / "t.ledger", tmp_path / "read-only"
    daemon.words[4] = str(daemon.ledger)
    daemon.command = [sys.executable, str(Path(__file__).with_name("read_only_disk.py")), str(flag)]
    daemon.start()
    try:
        batch = daemon.call("open", formula="garlic-ring", meat="12 kg", who="Ansel")["batch"]
        flag.touch()
        with pytest.raises(ClientError) as caught:
            daemon.call("note", text="into nothing")
        assert caught.value.reason == "blocked-ledger"
        shown = until(daemon, lambda shown: "is read-only" in shown["sentence"])
        time.sleep(1.5)  # it closes the ledger, and cannot open it
        assert (shown["word"], shown["batch"], blocked(shown)) == ("BLOCKED", batch, True)
        really = mount("-o", "remount,ro", str(disk))
        if really:
            flag.unlink()
        time.sleep(2.5)  # it tries meanwhile, by itself
        assert blocked(daemon.call("state"))
        if really:
            assert mount("-o", "remount,rw", str(disk))
        flag.unlink(missing_ok=True)
        until(daemon, lambda shown: not blocked(shown))
        daemon.call("note", text="it goes on")
        assert daemon.call("state")["batch"] == batch
        assert daemon.stop() == 0
        with open_reader(daemon.ledger) as db:
            assert verify(db).ok
            kinds = [row[0] for row in db.execute("SELECT kind FROM event")]
        assert (kinds.count("noted"), kinds.count("ledger-recovered")) == (1, 1)
    finally:
        daemon.stop()
