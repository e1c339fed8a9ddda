"""Clients beyond what the station bears, and refusals and log lines without end."""

import json
import logging
import resource
import socket
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from station.batch import events as ev
from station.client import Client, ClientError
from station.ledger.reading import open_reader
from station.service.quiet import MINUTE_S, MOST, Quiet
from station.service.refusals import FIRST_WAIT_S, LONGEST_WAIT_S, Refusals
from station.service.socket import MOST_CLIENTS
from tests.screen.stand_in import Display
from tests.service.daemons import Daemon, station


@pytest.fixture
def daemon(tmp_path: Path) -> Iterator[Daemon]:
    daemon = Daemon(tmp_path).start()
    yield daemon
    daemon.stop()


def idle(daemon: Daemon) -> socket.socket:
    """A client that says nothing."""
    client = socket.socket(socket.AF_UNIX)
    client.settimeout(10)
    client.connect(str(daemon.socket))
    return client


def log_of(daemon: Daemon) -> str:
    return (daemon.folder / "log").read_text()


def answers(daemon: Daemon) -> bool:
    try:
        daemon.call("state")
    except ClientError:
        return False
    return True


def test_one_client_too_many_is_told_so_in_words_and_the_others_go_on(daemon: Daemon) -> None:
    with ExitStack() as stack:
        last = stack.enter_context(Client(daemon.socket))
        for _ in range(3):  # those who only looked whether it runs have gone
            last.call("state")
        clients = [stack.enter_context(idle(daemon)) for _ in range(MOST_CLIENTS - 1)]
        assert last.call("state")["phase"] is None
        with pytest.raises(ClientError) as caught:
            daemon.call("state")
        assert (caught.value.code, caught.value.reason) == (1, "too-many")
        assert "64 clients" in caught.value.sentence and caught.value.next
        with idle(daemon) as silent, silent.makefile("rb") as lines:
            said = json.loads(lines.readline())
            assert (said["id"], said["error"]["data"]["reason"]) == (None, "too-many")
            assert lines.read() == b""  # and it is closed
        told = station("state", "--socket", str(daemon.socket))
        assert told.returncode == 3
        assert "64 clients" in told.stderr and "next: close" in told.stderr
        display = Display(daemon.socket, 80, 24)
        try:
            shown = display.until(lambda text: "64 clients" in text)
            assert "> close a display" in shown
            assert last.call("state")["phase"] is None
            clients[0].close()
            display.until(lambda text: "64 clients" not in text and "no batch" in text)
        finally:
            display.child.close(force=True)


def test_without_descriptors_it_is_said_once_and_goes_on_when_there_are_some(
    daemon: Daemon,
) -> None:
    assert daemon.process is not None
    pid = daemon.process.pid
    used = len(list(Path(f"/proc/{pid}/fd").iterdir()))
    _, most = resource.prlimit(pid, resource.RLIMIT_NOFILE)
    with ExitStack() as stack:
        first = stack.enter_context(Client(daemon.socket))
        assert first.call("state")["phase"] is None
        resource.prlimit(pid, resource.RLIMIT_NOFILE, (used + 6, most))
        for _ in range(30):
            stack.enter_context(idle(daemon))
        time.sleep(3)  # the loop tries again each second
        assert first.call("state")["phase"] is None
    for _ in range(100):
        if answers(daemon):
            break
        time.sleep(0.1)
    daemon.call("note", text="there is room again")
    log = log_of(daemon)
    assert log.count("no more clients can connect") == 1
    assert log.count("clients can connect again") == 1
    assert "Traceback" not in log


def refused(code: str = "over", reason: str = "too much") -> ev.Refused:
    return ev.Refused("salt", "Accept", code, reason)


def test_equal_refusals_are_one_event_and_then_a_count_more_and_more_seldom() -> None:
    refusals = Refusals()
    assert refusals.first("b", refused(), 0.0)
    assert not refusals.first("b", refused(reason="24 g"), 1.0)
    assert not refusals.first("b", refused(reason="25 g"), 2.0)
    assert refusals.due(FIRST_WAIT_S - 0.1) == []
    ((batch, event),) = refusals.due(FIRST_WAIT_S)
    assert (batch, event.times, event.reason) == ("b", 2, "25 g")
    assert not refusals.first("b", refused(), 61.0)
    assert refusals.due(3 * FIRST_WAIT_S - 0.1) == []
    assert [event.times for _, event in refusals.due(3 * FIRST_WAIT_S)] == [1]
    now = 3 * FIRST_WAIT_S
    told = 0
    for _ in range(10 * 24 * 60):
        now += FIRST_WAIT_S
        refusals.first("b", refused(), now)
        told += len(refusals.due(now))
    assert told <= 10 * 24 * 3600 / LONGEST_WAIT_S + 10


def test_another_code_line_or_batch_is_another_refusal_and_a_rare_one_is_told_anew() -> None:
    refusals = Refusals()
    assert refusals.first("b", refused(), 0.0)
    assert refusals.first("b", refused(code="lot"), 0.0)
    assert refusals.first("c", refused(), 0.0)
    assert refusals.first("b", ev.Refused("pepper", "Accept", "over", "too much"), 0.0)
    assert refusals.due(FIRST_WAIT_S) == []
    assert refusals.first("b", refused(), FIRST_WAIT_S)


def test_a_client_that_is_refused_a_thousand_times_does_not_fill_the_ledger(
    daemon: Daemon,
) -> None:
    daemon.call("open", formula="garlic-ring", meat="12 kg", who="Ansel")
    with Client(daemon.socket) as client:
        for number in range(500):
            for line in ("salt", f"salt {number}"):
                with pytest.raises(ClientError):
                    client.call("accept", {"line": line})
    with open_reader(daemon.ledger) as db:
        (count,) = db.execute("SELECT count(*) FROM event WHERE kind = 'refused'").fetchone()
    assert 1 <= count <= 3


def test_a_line_that_repeats_does_not_fill_the_log_and_what_was_left_out_is_counted() -> None:
    now = [0.0]
    quiet = Quiet(lambda: now[0])

    def passes(text: str, *args: object) -> logging.LogRecord | None:
        record = logging.LogRecord("station", logging.WARNING, "", 0, text, args, None)
        return record if quiet.filter(record) else None

    written = [passes("%s: %d", "fine", number) for number in range(1000)]
    assert sum(record is not None for record in written) == MOST
    assert passes("another line") is not None
    now[0] = MINUTE_S
    last = passes("%s: %d", "fine", 7)
    assert last is not None
    assert last.getMessage() == f"fine: 7 (and {1000 - MOST} more like it)"
