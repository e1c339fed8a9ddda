"""A thermometer at a port, through the whole daemon."""

import os
import pty
import threading
import time
import tty
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.service.daemons import Daemon, station

BESIDE = """simulated = true
[[thermometer]]
name = "probe"
port = "{port}"
grammar = "temperature-in-columns"
[[thermometer]]
name = "dial"
"""


class Sender:
    """A thermometer on a pty."""

    def __init__(self, link: Path) -> None:
        self._master, self._slave = pty.openpty()
        tty.setraw(self._slave)
        link.symlink_to(os.ttyname(self._slave))

    def send(self, frame: bytes) -> None:
        os.write(self._master, frame)

    def close(self) -> None:
        os.close(self._slave)
        os.close(self._master)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[tuple[Daemon, Sender]]:
    sender = Sender(tmp_path / "probe")
    daemon = Daemon(tmp_path, BESIDE.format(port=tmp_path / "probe")).start()
    try:
        yield daemon, sender
    finally:
        daemon.stop()
        sender.close()


def until(daemon: Daemon, says: str) -> None:
    """Wait until it says that."""
    for _ in range(200):
        if says in daemon.call("state")["thermometers"][0]["says"]:
            return
        time.sleep(0.02)
    raise AssertionError(daemon.call("state")["thermometers"])


def shown(bench: tuple[Daemon, Sender], frame: bytes, wanted: str) -> dict[str, Any]:
    """What the thermometer shows, or says, once that is as wanted; it sends `frame` meanwhile."""
    daemon, sender = bench
    for _ in range(200):
        sender.send(frame)
        (probe, dial) = daemon.call("state")["thermometers"]
        assert (dial["name"], dial["at_port"], dial["shows"]) == ("dial", False, None)
        if wanted in (probe["shows"] or probe["says"]):
            found: dict[str, Any] = probe
            return found
        time.sleep(0.02)
    raise AssertionError(probe)


def test_what_it_sends_is_shown_with_its_unit_or_why_it_shows_nothing(
    bench: tuple[Daemon, Sender],
) -> None:
    assert shown(bench, b"P1 + 18.5 C *\r\n", "18.5 degC")["still"]
    assert not shown(bench, b"P1 + 17.9 C  \r\n", "17.9 degC")["still"]
    assert shown(bench, b"P0 +  0.0 C *\r\n", "error")["shows"] is None  # no probe is plugged in
    shown(bench, b"P1 + 39.2 F *\r\n", "39.2 degF")
    assert shown(bench, b"rubbish\r\n", "no frame")["shows"] is None
    shown(bench, b"P1 + 18.5 C *\r\n", "18.5 degC")


def test_one_that_is_pulled_out_says_so_and_goes_on_by_itself(tmp_path: Path) -> None:
    sender = Sender(tmp_path / "probe")
    daemon = Daemon(tmp_path, BESIDE.format(port=tmp_path / "probe")).start()
    try:
        shown((daemon, sender), b"P1 + 18.5 C *\r\n", "18.5 degC")
        (tmp_path / "probe").unlink()
        sender.close()
        until(daemon, "cable is out")
        sender = Sender(tmp_path / "probe")
        shown((daemon, sender), b"P1 +  3.1 C *\r\n", "3.1 degC")
    finally:
        daemon.stop()
        sender.close()


def test_the_doctor_says_what_each_thermometer_shows(bench: tuple[Daemon, Sender]) -> None:
    daemon, _ = bench
    shown(bench, b"P1 + 18.5 C *\r\n", "18.5 degC")
    words = ("doctor", *daemon.words[1:])
    said = station(*words).stdout
    assert f"thermometer probe: it shows 18.5 degC at {daemon.folder / 'probe'}" in said
    assert "dial" not in said
    shown(bench, b"P0 +  0.0 C *\r\n", "error")
    assert "MEND  thermometer probe: it reports an error" in station(*words).stdout


def test_the_doctor_listens_to_a_thermometer_that_nobody_holds(
    bench: tuple[Daemon, Sender],
) -> None:
    daemon, sender = bench
    daemon.stop()
    sending = threading.Event()

    def send() -> None:
        while not sending.wait(0.1):
            sender.send(b"P1 + 18.6 C *\r\n")

    thread = threading.Thread(target=send)
    thread.start()
    try:
        said = station("doctor", *daemon.words[1:]).stdout
    finally:
        sending.set()
        thread.join()
    assert f"well  thermometer probe: it sends 18.6 degC at {daemon.folder / 'probe'}" in said
