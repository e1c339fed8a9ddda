"""Scales read as registers over Modbus RTU, through pymodbus: a table in TOML says which ones."""

import asyncio
import logging
import re
import struct
import termios
import tomllib
from decimal import Decimal
from typing import Any, Literal

import msgspec
from pymodbus import ModbusException
from pymodbus.client import AsyncModbusSerialClient

from drivers.grammar import GrammarError
from drivers.grammar_file import LineSettings, check_keys
from drivers.kinds import OnItems, OnState
from drivers.link import (
    FIRST_RETRY_S,
    LONGEST_RETRY_S,
    Clock,
    LinkState,
    PortSettings,
    explain,
    line_word,
)
from drivers.meanings import CONDITIONS, KINDS, STABLE, added_up
from drivers.ports import identity_of
from drivers.reading import Condition, Fault, Reading

logging.getLogger("pymodbus.logging").setLevel(logging.CRITICAL)
# it would log every question without an answer; the link tells a silence once

MOST_REGISTERS = 100
"""Value and status are read in one request, so that they belong together: no further apart."""
SILENT_TIMES = 3
"""So many questions without an answer, and the port is opened anew."""

_BITS = frozenset(str(bit) for bit in range(16))
_FACTOR = re.compile(r"[0-9]+(?:\.[0-9]+)?")
_SHAPES = {"int16": ">h", "uint16": ">H", "int32": ">i", "uint32": ">I", "float32": ">f"}


class Registers(msgspec.Struct, forbid_unknown_fields=True, frozen=True):
    """Where the weight is and how it is written. `factor`: what the number is times, as text."""

    address: int
    type: Literal["int16", "uint16", "int32", "uint32", "float32"]
    unit: str
    device: int = 1
    function: Literal["holding", "input"] = "holding"
    words: Literal["high-first", "low-first"] = "high-first"
    factor: str = "1"
    kind: Literal["gross", "net"] = "gross"
    period_ms: int = 200
    timeout_ms: int = 500


class Status(msgspec.Struct, forbid_unknown_fields=True, frozen=True):
    """A register of status bits: number of a bit -> [what it means set, and clear]."""

    address: int
    bits: dict[str, list[str]]


class _File(msgspec.Struct, forbid_unknown_fields=True, frozen=True):
    driver: Literal["modbus"]
    name: str
    about: str
    registers: Registers
    line: LineSettings = msgspec.field(default_factory=lambda: LineSettings(bits="8N1"))
    status: Status | None = None


class ModbusKind:
    """A register map as a kind of scale."""

    def __init__(self, file: _File) -> None:
        self._file = file
        self.name = file.name
        self.line = file.line
        self.asked = True
        self.measures = "weight"
        self.orders: frozenset[str] = frozenset()

    def source(
        self, port: PortSettings, clock: Clock, on_items: OnItems, on_state: OnState
    ) -> "ModbusSource":
        return ModbusSource(self._file, port, clock, on_items, on_state)


def compile_kind(text: str, filename: str) -> ModbusKind:
    """Raises `GrammarError`."""
    try:
        table = tomllib.loads(text)
        check_keys(
            table, {"": _File, "line": LineSettings, "registers": Registers, "status": Status}
        )
        file = msgspec.convert(table, _File)
        _check(file)
    except ValueError as error:  # msgspec's own error is one
        raise GrammarError(f"{filename}: {error}") from None
    return ModbusKind(file)


def _check(file: _File) -> None:
    found = file.registers
    if not 0 <= found.address <= 0xFFFF or not 1 <= found.device <= 247:
        raise ValueError("registers: address is 0 to 65535, device 1 to 247")
    if not 20 <= found.period_ms <= 10_000 or not 20 <= found.timeout_ms <= 10_000:
        raise ValueError("registers: period_ms and timeout_ms are 20 to 10000")
    plain = _FACTOR.fullmatch(found.factor) is not None
    if not plain or not Decimal("1e-6") <= Decimal(found.factor) <= Decimal("1e6"):
        raise ValueError(
            f'registers.factor: found {found.factor!r}, expected a text such as "0.01"'
        )
    if file.status is None:
        return
    if not 0 <= file.status.address <= 0xFFFF:
        raise ValueError("status.address: expected 0 to 65535")
    if abs(file.status.address - found.address) > MOST_REGISTERS:
        raise ValueError(f"status.address: further than {MOST_REGISTERS} from the weight")
    known = {*CONDITIONS, *KINDS, *STABLE, ""}
    for bit, meanings in file.status.bits.items():
        if bit not in _BITS or not 1 <= len(meanings) <= 2:
            raise ValueError("status.bits: a bit is 0 to 15, with its meaning set (and clear)")
        for meaning in meanings:
            if meaning not in known:
                raise ValueError(f"status.bits.{bit}: found {meaning!r}")


def reading_of(file: _File, registers: list[int], first: int, time_s: float) -> Reading | Fault:
    """What the registers from address `first` on say."""
    raw = struct.pack(f">{len(registers)}H", *registers)
    found = file.registers
    shape = _SHAPES[found.type]
    count = struct.calcsize(shape) // 2
    words = registers[found.address - first : found.address - first + count]
    if found.words == "low-first":
        words = words[::-1]
    (number,) = struct.unpack(shape, struct.pack(f">{count}H", *words))
    meanings = []
    if file.status is not None:
        status = registers[file.status.address - first]
        for bit, pair in file.status.bits.items():
            meanings.append(pair[0] if status >> int(bit) & 1 else "".join(pair[1:]))
    condition, kind, stable = added_up(meanings, KINDS[found.kind])
    if condition is not Condition.OK:
        return Reading(None, found.unit, kind, stable, condition, time_s, raw)
    # seven digits are what four bytes hold, zeros at the end too: a number without them would look
    # like that of a coarser scale; the rest of their binary fraction nobody sent
    text = f"{number:#.7g}" if found.type == "float32" else str(number)
    value = Decimal(text)
    if not value.is_finite():
        return Fault(f"the register holds {text}", time_s, raw)
    return Reading(value * Decimal(found.factor), found.unit, kind, stable, condition, time_s, raw)


class ModbusSource:
    """Asks one device for its registers, for ever."""

    def __init__(
        self, file: _File, port: PortSettings, clock: Clock, on_items: OnItems, on_state: OnState
    ) -> None:
        self._file = file
        self._port = port
        self._clock = clock
        self._on_items = on_items
        self._on_state = on_state
        self._told: LinkState | None = None
        found = file.registers
        size = struct.calcsize(_SHAPES[found.type]) // 2
        edges = [found.address, found.address + size - 1]
        if file.status is not None:
            edges.append(file.status.address)
        self._first, self._count = min(edges), max(edges) - min(edges) + 1

    @property
    def hangs_s(self) -> float:
        return 0.0

    async def order(self, name: str) -> str | None:
        return f"{self._file.name} has no order {name}"

    async def run(self) -> None:
        retry_s = FIRST_RETRY_S
        while True:
            try:
                await self._read_until_lost()
                retry_s = FIRST_RETRY_S
            except (OSError, ValueError, termios.error, ModbusException) as error:
                self._tell(explain(error, self._port.port))
            await self._clock.sleep(retry_s)
            retry_s = min(2 * retry_s, LONGEST_RETRY_S)

    async def _read_until_lost(self) -> None:
        size, parity, stop = list(line_word(self._port))
        timeout_s = self._file.registers.timeout_ms / 1000
        client = AsyncModbusSerialClient(
            self._port.port,
            baudrate=self._port.baud,
            bytesize=int(size),
            parity=parity,
            stopbits=int(stop),
            timeout=timeout_s,
            retries=0,
            reconnect_delay=0,
        )
        try:
            if not await client.connect():
                raise OSError(2, f"{self._port.port} cannot be opened")
            identity = await asyncio.to_thread(identity_of, self._port.port)
            self._tell(LinkState(True, identity=identity))
            silent = 0
            while client.connected and silent < SILENT_TIMES:
                silent = 0 if await self._ask(client) else silent + 1
                await self._clock.sleep(self._file.registers.period_ms / 1000)
        finally:
            client.close()
        step = "check that it is on, its cable, and the device number"
        self._tell(LinkState(False, "it does not answer", step))

    async def _ask(self, client: Any) -> bool:
        """One question; False where no answer came."""
        read = client.read_holding_registers
        if self._file.registers.function == "input":
            read = client.read_input_registers
        try:
            answer = await read(
                self._first, count=self._count, device_id=self._file.registers.device
            )
        except ModbusException:
            # a late answer must not be there when the next question is asked
            await self._clock.sleep(2 * self._file.registers.timeout_ms / 1000)
            return False
        now = self._clock.monotonic()
        if answer.isError() or len(answer.registers) != self._count:
            reason = f"the device refuses register {self._first}: {answer}"
            self._on_items([Fault(reason[:200], now, b"")], now)
            return True
        self._on_items([reading_of(self._file, answer.registers, self._first, now)], now)
        return True

    def _tell(self, state: LinkState) -> None:
        if state != self._told:
            self._told = state
            self._on_state(state)
