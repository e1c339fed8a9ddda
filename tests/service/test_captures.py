"""Every shipped text grammar at once, through the real daemon on real ptys."""

import os
import pty
import threading
import time
import tty
from decimal import Decimal
from pathlib import Path

import pytest

from station.client import Client
from tests.drivers import test_conformance as conformance
from tests.drivers.test_conformance import expected, frames
from tests.service.daemons import Daemon

GRAMMARS = {n: g for n, g in conformance.GRAMMARS.items() if g.measures == "weight"}
UNITS = {"g": Decimal(1), "kg": Decimal(1000), "oz": Decimal("28.349523125")}


def weight(name: str) -> tuple[bytes, Decimal, str]:
    """(frame, value, unit) of the capture's last plain gross weight; a tare beside it is none of
    its business."""
    for frame, line in reversed(list(zip(frames(name), expected(name), strict=True))):
        value, unit, kind, stable, condition, *_ = line.split()
        plain = (condition, kind) == ("ok", "gross") and stable != "moving" and unit in UNITS
        if plain and Decimal(value) > 0:
            return frame, Decimal(value), unit
    raise AssertionError(f"{name} has no plain weight in its capture")


class Port:
    """Sends one frame ten times a second; one that must be asked only when asked."""

    def __init__(self, name: str, link: Path) -> None:
        self.frame, self.value, self.unit = weight(name)
        self._poll = GRAMMARS[name].poll
        self._master, slave = pty.openpty()
        tty.setraw(slave)
        link.symlink_to(os.ttyname(slave))
        self._slave = slave
        os.set_blocking(self._master, False)

    @property
    def division(self) -> str:
        """One of the last digit that it sends."""
        return f"{Decimal(1).scaleb(self.value.as_tuple().exponent)} {self.unit}"

    def turn(self) -> None:
        try:
            heard = os.read(self._master, 100)
        except OSError:
            heard = b""
        if self._poll is not None and self._poll.send.encode() not in heard:
            return
        try:
            os.write(self._master, self.frame)
        except OSError:
            pass  # the line is full: nobody reads yet

    def close(self) -> None:
        os.close(self._master)
        os.close(self._slave)


@pytest.mark.timeout(60)
def test_captures_are_read_by_the_daemon_all_at_once(tmp_path: Path) -> None:
    daemon = Daemon(tmp_path)
    ports = {name: Port(name, tmp_path / f"port-{name}") for name in GRAMMARS}
    scales = "".join(
        f'[[scale]]\nname = "{name}"\nport = "{tmp_path / f"port-{name}"}"\ngrammar = "{name}"\n'
        f'max = "900 kg"\ndivision = "{port.division}"\nclass = "II"\nunit = "{port.unit}"\n'
        for name, port in ports.items()
    )
    head = 'name = "test"\nauthority = "us"\npeople = ["Ansel"]\nsimulated = true\n'
    (daemon.config / "station.toml").write_text(head + scales)
    going = True

    def send() -> None:
        while going:
            for port in ports.values():
                port.turn()
            time.sleep(0.05)

    daemon.start()
    thread = threading.Thread(target=send)
    thread.start()
    try:
        wanted = {name: port.value * UNITS[port.unit] for name, port in ports.items()}
        found: dict[str, Decimal] = {}
        end = time.monotonic() + 20
        while found != wanted and time.monotonic() < end:
            time.sleep(0.1)
            with Client(daemon.socket) as client:
                shown = client.call("state")["scales"]
            found = {n: Decimal(pan["gross_g"]) for n, pan in shown.items() if pan["gross_g"]}
            found = {n: round(g, 3) for n, g in found.items()}
            wanted = {n: round(g, 3) for n, g in wanted.items()}
        assert found == wanted, (shown, (tmp_path / "log").read_text()[-2000:])
    finally:
        going = False
        thread.join()
        daemon.stop()
        for port in ports.values():
            port.close()
