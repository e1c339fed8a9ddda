"""The link on real ptys: lost, found again, taken, forbidden."""

import asyncio
import errno
import os
import pty
import tty
from collections.abc import AsyncIterator
from pathlib import Path

import pytest
import serial

from drivers.link import Link, LinkState, PortSettings, explain, open_port
from station.service.clock import Clock


class Port:
    """A pty under a stable name that can be pulled out and put back."""

    def __init__(self, name: Path) -> None:
        self.name = name
        self.master = -1

    def plug(self) -> None:
        self.master, slave = pty.openpty()
        tty.setraw(slave)
        self.name.unlink(missing_ok=True)
        self.name.symlink_to(os.ttyname(slave))
        os.close(slave)

    def pull(self) -> None:
        self.name.unlink(missing_ok=True)
        os.close(self.master)
        self.master = -1

    def send(self, data: bytes) -> None:
        os.write(self.master, data)


class Ear:
    def __init__(self) -> None:
        self.data = b""
        self.states: list[LinkState] = []

    def hear(self, data: bytes, time_s: float) -> None:
        self.data += data

    async def until(self, wanted: str) -> None:
        for _ in range(400):
            if self.states and (
                self.states[-1].reason == wanted or (wanted == "up" and self.states[-1].up)
            ):
                return
            await asyncio.sleep(0.01)
        raise AssertionError(f"never {wanted}: {self.states}")

    async def until_heard(self, data: bytes) -> None:
        for _ in range(400):
            if data in self.data:
                return
            await asyncio.sleep(0.01)
        raise AssertionError(f"never heard {data!r}, only {self.data!r}")


@pytest.fixture
def port(tmp_path: Path) -> Port:
    return Port(tmp_path / "scale")


@pytest.fixture
async def ear(port: Port) -> AsyncIterator[Ear]:
    ear = Ear()
    link = Link(PortSettings(str(port.name), 9600, "8N1"), Clock(10), ear.hear, ear.states.append)
    task = asyncio.create_task(link.run())
    yield ear
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)


async def test_a_cable_pulled_in_mid_frame_comes_back_by_itself(port: Port, ear: Ear) -> None:
    await ear.until("its cable is out")
    port.plug()
    await ear.until("up")
    port.send(b"half a fra")
    await ear.until_heard(b"half")
    for _ in range(3):
        port.pull()
        await ear.until("its cable is out")
        port.plug()
        await ear.until("up")
    port.send(b"whole")
    await ear.until_heard(b"whole")


def test_a_port_that_is_ready_is_read_without_waiting_again(port: Port) -> None:
    port.plug()
    opened = open_port(PortSettings(str(port.name), 9600, "8N1"))[0]
    assert opened.read(100) == b""
    port.send(b"S 1.0")
    assert opened.read(3) == b"S 1"
    assert opened.read(100) == b".0"
    os.close(port.master)
    with pytest.raises(serial.SerialException):
        opened.read(100)
    opened.close()
    with pytest.raises(serial.PortNotOpenError):
        opened.read(100)


def test_a_port_that_is_ready_and_gives_nothing_has_hung_up(port: Port) -> None:
    port.plug()
    opened = open_port(PortSettings(str(port.name), 9600, "8N1"))[0]
    reads, writes = os.pipe()
    os.close(writes)
    own, opened.fd = opened.fd, reads
    with pytest.raises(serial.SerialException, match="no data"):
        opened.read(100)
    os.close(reads)
    opened.fd = own
    opened.close()


async def test_a_port_that_another_program_holds_is_said_and_taken_when_free(port: Port) -> None:
    port.plug()
    other = serial.Serial(str(port.name), exclusive=True)
    ear = Ear()
    link = Link(PortSettings(str(port.name), 9600, "8N1"), Clock(10), ear.hear, ear.states.append)
    task = asyncio.create_task(link.run())
    await ear.until(f"another program holds {port.name}")
    other.close()
    await ear.until("up")
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)


async def test_a_state_is_told_once_however_often_it_is_tried(port: Port, ear: Ear) -> None:
    await ear.until("its cable is out")
    await asyncio.sleep(0.3)
    assert len(ear.states) == 1


def test_a_missing_right_names_the_group_and_the_command(tmp_path: Path) -> None:
    node = tmp_path / "tty"
    node.touch()
    state = explain(PermissionError(errno.EACCES, "denied"), str(node))
    assert "no right" in state.reason
    assert "usermod -aG" in state.next


async def test_a_plug_pulled_in_and_out_at_any_moment_is_read_again_in_the_end(
    port: Port, ear: Ear
) -> None:
    """During the open, during the reconnect, in the middle of a frame: forty times."""
    for n in range(40):
        port.plug()
        await asyncio.sleep(n % 5 * 0.004)
        if n % 2:
            port.send(b"half a fra")
        port.pull()
        await asyncio.sleep(n % 3 * 0.004)
    port.plug()
    for _ in range(200):  # a scale goes on sending; what came before the open is let go
        port.send(b"whole")
        await asyncio.sleep(0.02)
        if b"whole" in ear.data:
            return
    raise AssertionError(f"never heard it again: {ear.states[-3:]}")


async def test_one_port_that_fails_never_slows_another(tmp_path: Path) -> None:
    bad = [Ear() for _ in range(3)]
    good, there = Ear(), Port(tmp_path / "there")
    there.plug()
    places = [(PortSettings(str(tmp_path / "gone"), 9600, "8N1"), ear) for ear in bad]
    places.append((PortSettings(str(there.name), 9600, "8N1"), good))
    links = [Link(where, Clock(10), ear.hear, ear.states.append) for where, ear in places]
    tasks = [asyncio.create_task(link.run()) for link in links]
    try:
        await good.until("up")
        slowest = 0.0
        for n in range(50):
            sent = f"{n};".encode()
            begin = asyncio.get_running_loop().time()
            there.send(sent)
            await good.until_heard(sent)
            slowest = max(slowest, asyncio.get_running_loop().time() - begin)
        assert slowest < 1.0
        assert [len(ear.states) for ear in bad] == [1, 1, 1]
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)


async def test_bytes_are_sent_only_while_a_port_is_open(port: Port) -> None:
    ear = Ear()
    link = Link(PortSettings(str(port.name), 9600, "8N1"), Clock(10), ear.hear, ear.states.append)
    assert not link.send(b"W\r")
    port.plug()
    task = asyncio.create_task(link.run())
    try:
        await ear.until("up")
        assert link.send(b"W\r")
        await asyncio.sleep(0.05)
        assert os.read(port.master, 10) == b"W\r"
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


async def test_an_open_port_says_what_it_is(
    port: Port, ear: Ear, monkeypatch: pytest.MonkeyPatch
) -> None:
    port.plug()
    await ear.until("up")
    assert ear.states[-1].identity is None  # a pty is no adapter
    monkeypatch.setattr("drivers.link.identity_of", lambda name: f"usb behind {name}")
    port.pull()
    await ear.until("its cable is out")
    port.plug()
    await ear.until("up")
    assert ear.states[-1].identity == f"usb behind {port.name}"
