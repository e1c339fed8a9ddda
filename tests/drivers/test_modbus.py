"""Registers over Modbus RTU, against pymodbus's own serial server on a pair of ptys."""

import asyncio
import os
import pty
import struct
import tty
from collections.abc import AsyncIterator
from decimal import Decimal

import pytest

from drivers.grammar import GrammarError
from drivers.kinds import load_kind
from drivers.link import LinkState, PortSettings
from drivers.reading import Condition, Fault, Reading
from station.resources import packaged
from station.service.clock import Clock

modbus = pytest.importorskip("drivers.kinds.modbus", reason="the extra modbus is not installed")
server = pytest.importorskip("pymodbus.server", reason="the extra modbus is not installed")
simulator = pytest.importorskip("pymodbus.simulator", reason="the extra modbus is not installed")

FILE = (packaged() / "scales" / "modbus-registers.toml").read_text(encoding="utf-8")


def test_registers_are_read_as_the_table_says() -> None:
    def read(text: str, registers: list[int]) -> Reading | Fault:
        file = modbus.compile_kind(text, "m.toml")._file
        found: Reading | Fault = modbus.reading_of(file, registers, 0, 1.0)
        return found

    high, low = struct.unpack(">HH", struct.pack(">i", -120))
    reading = read(FILE, [high, low, 0b10001])
    assert isinstance(reading, Reading)
    assert (str(reading.value), reading.unit, reading.kind, reading.stable) == (
        "-1.20", "g", "net", True,
    )  # fmt: skip
    turned = FILE.replace('"high-first"', '"low-first"')
    assert read(turned, [low, high, 1]) == Reading(
        Decimal("-1.20"), "g", reading.kind.GROSS, True, Condition.OK, 1.0,
        struct.pack(">HHH", low, high, 1),
    )  # fmt: skip
    over = read(FILE, [0, 0, 0b10])
    assert isinstance(over, Reading) and over.condition is Condition.OVERLOAD
    floats = FILE.replace('"int32"', '"float32"').replace('"0.01"', '"1"')
    value = read(floats, [*struct.unpack(">HH", struct.pack(">f", 216.4)), 1])
    assert isinstance(value, Reading) and str(value.value) == "216.4000"
    nothing = read(floats, [*struct.unpack(">HH", struct.pack(">f", float("nan"))), 1])
    assert isinstance(nothing, Fault)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (('"int32"', '"int64"'), "int64"),
        (('factor = "0.01"', 'factor = "none"'), "factor"),
        (('factor = "0.01"', 'factor = "٠.٠١"'), "factor"),
        (('factor = "0.01"', 'factor = "0.0000009"'), "factor"),
        (('factor = "0.01"', 'factor = "1000001"'), "factor"),
        (("{ 0 = ", '{ "٣" = '), "0 to 15"),
        (("{ 0 = ", "{ 16 = "), "0 to 15"),
        (("device = 1", "device = 0"), "device"),
        (("address = 2", "address = 900"), "further"),
        (('"overload"', '"overlaod"'), "overlaod"),
        (('driver = "modbus"', 'driver = "modbsu"'), "there are modbus, text"),
        (("device = 1", "devise = 1"), "registers.devise: no such key, allowed: address, type,"),
    ],
)
def test_a_wrong_table_is_named(change: tuple[str, str], says: str) -> None:
    assert change[0] in FILE
    with pytest.raises(GrammarError, match=r"m\.toml: ") as caught:
        load_kind(FILE.replace(*change, 1), "m.toml")
    assert says in str(caught.value)


def test_a_factor_and_a_bit_may_be_the_last_of_their_range() -> None:
    for change in (('"0.01"', '"1000000"'), ('"0.01"', '"0.000001"'), ("{ 0 = ", "{ 15 = ")):
        assert change[0] in FILE
        load_kind(FILE.replace(*change, 1), "m.toml")


class Wire:
    """Two ptys, and whatever is written to the one comes out of the other."""

    def __init__(self) -> None:
        self.ends, self.names = [], []
        for _ in range(2):
            master, slave = pty.openpty()
            tty.setraw(slave)
            os.set_blocking(master, False)
            self.ends.append(master)
            self.names.append(os.ttyname(slave))
        loop = asyncio.get_running_loop()
        for here, there in ((0, 1), (1, 0)):
            loop.add_reader(self.ends[here], self._carry, self.ends[here], self.ends[there])

    def _carry(self, here: int, there: int) -> None:
        try:
            os.write(there, os.read(here, 4096))
        except OSError:
            pass  # nobody holds the other end now: a wire that is out

    def cut(self) -> None:
        for end in self.ends:
            asyncio.get_running_loop().remove_reader(end)


@pytest.fixture
async def wire() -> AsyncIterator[Wire]:
    found = Wire()
    yield found
    found.cut()
    for end in found.ends:
        os.close(end)


async def _until(wanted: object, seconds: float = 8.0) -> None:
    assert callable(wanted)
    for _ in range(round(seconds / 0.02)):
        if wanted():
            return
        await asyncio.sleep(0.02)
    raise AssertionError("it never came to that")


async def test_the_server_of_the_library_is_read_and_its_silence_is_told(
    wire: Wire,
) -> None:
    high, low = struct.unpack(">HH", struct.pack(">i", 21_640))
    words = simulator.SimData(0, values=[high, low, 1, 0, 0], datatype=simulator.DataType.REGISTERS)
    serving = server.ModbusSerialServer(
        simulator.SimDevice(1, [words]), port=wire.names[0], baudrate=19200
    )
    task = asyncio.create_task(serving.serve_forever())
    items: list[Reading | Fault] = []
    states: list[LinkState] = []
    kind = load_kind(FILE, "m.toml")
    source = kind.source(
        PortSettings(wire.names[1], 19200, "8E1"),
        Clock(),
        lambda found, time_s: items.extend(found),
        states.append,
    )
    reading = asyncio.create_task(source.run())
    try:
        await _until(lambda: len(items) >= 3)
        first = items[0]
        assert isinstance(first, Reading)
        assert (str(first.value), first.stable, states) == ("216.40", True, [LinkState(True)])
        wire.cut()
        await _until(lambda: not states[-1].up)
        assert states[-1].reason == "it does not answer"
    finally:
        reading.cancel()
        await serving.shutdown()
        task.cancel()
        await asyncio.gather(reading, task, return_exceptions=True)
