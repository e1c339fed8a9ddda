"""A bench scale with physics behind a real pty, for the demo and the tests.

What is on the pan presses on a cell that rings, passes through an averaging filter, noise, zero
tracking and the rounding to a division, and is printed at a fixed rate as SMA SCP-0499 frames. What
is poured is an unsteady stream that falls (`drivers/physics.py`). The same seed and the same hands
give the same run. The scale knows its speed: a port set to another speed gets garbage.
"""

import errno
import os
import pty
import random
import termios
import tty
from collections import deque
from dataclasses import dataclass, field
from pathlib import Path

from drivers.link import Clock
from drivers.physics import STEP_S as CELL_STEP_S
from drivers.physics import Average, Manner, Plate, PlateKind, Stream

STEP_S = 0.02
FALL_M = 0.1
ZERO_TRACKING_D_PER_S = 0.5


@dataclass(frozen=True, slots=True)
class ScaleKind:
    """What the simulated scale is: grams and seconds, `decimals` as printed;
    `noise_d` is the standard deviation of what is shown before rounding, in divisions; `f0_hz` and
    `damping` are the cell's, `manner` is how its hand pours."""

    max_g: float
    division_g: float
    decimals: int
    window_s: float = 0.5
    print_hz: float = 10.0
    noise_d: float = 0.1
    f0_hz: float = 12.0
    damping: float = 0.25
    manner: Manner = "stream"
    average: Average = "boxcar"
    baud: int = termios.B9600


@dataclass(slots=True)
class _Pour:
    """A pour under way: grams wanted in all (negative: taken out), the mean flow, the stream."""

    wanted_g: float
    flow_g_s: float
    stream: Stream


class BenchScale:
    """The physics alone: masses on a pan, stepped in time, one frame at a time. No I/O."""

    def __init__(self, kind: ScaleKind, seed: int) -> None:
        self.kind = kind
        self._random = random.Random(seed)
        plate = PlateKind(
            kind.f0_hz,
            kind.damping,
            kind.window_s,
            kind.average,
            kind.noise_d * kind.division_g,
        )
        self._plate = Plate(plate, random.Random(self._random.getrandbits(64)))
        self._recent: deque[float] = deque([0.0], maxlen=round(0.5 / STEP_S))
        self._on_pan: dict[str, float] = {}
        self._pours: dict[str, _Pour] = {}
        self._touch_s = 0.0
        self._zero = 0.0
        self._tare = 0.0

    def set_down(self, thing: str, grams: float) -> None:
        """Put a thing of `grams` on the pan."""
        self._on_pan[thing] = grams
        self._touch_s = 0.15

    def lift(self, thing: str) -> float:
        """Take a thing off; returns what it weighed with what was poured into it."""
        self._pours.pop(thing, None)
        self._touch_s = 0.0
        return self._on_pan.pop(thing)

    def pour(self, thing: str, grams: float, flow_g_s: float) -> None:
        """Begin pouring `grams` into a thing on the pan (negative: a spoon takes it out)."""
        stream = Stream(self.kind.manner, FALL_M, random.Random(self._random.getrandbits(64)))
        self._pours[thing] = _Pour(grams, flow_g_s, stream)

    def slow(self, thing: str, share: float) -> None:
        """The hand pours on with a share of its flow."""
        if (pour := self._pours.get(thing)) is not None:
            pour.flow_g_s *= share

    def stop(self, thing: str) -> None:
        """The hand stops pouring; what is in the air still falls."""
        if (pour := self._pours.get(thing)) is not None:
            pour.wanted_g = min(pour.wanted_g, pour.stream.left_g)

    def pouring(self, thing: str) -> bool:
        """Whether the pour into a thing is still going on."""
        return thing in self._pours

    def holds(self, thing: str) -> bool:
        """Whether a thing is on the pan."""
        return thing in self._on_pan

    def press_zero(self) -> None:
        """The zero key of a scale that zeroes any load (many do, whatever the standard says)."""
        self._zero = self._plate.average_g

    def press_tare(self) -> None:
        """The tare key of the scale: the frame turns to net until it is cleared."""
        self._tare = self._shown()

    def clear_tare(self) -> None:
        self._tare = 0.0

    def step(self) -> None:
        """Let `STEP_S` pass."""
        leans = 0.0
        if self._touch_s > 0:  # the hand still leans on what it set down
            load = sum(self._on_pan.values())
            leans = self._random.uniform(0, 0.1) * max(load, 10 * self.kind.division_g)
            self._touch_s -= STEP_S
        for _ in range(round(STEP_S / CELL_STEP_S)):
            pressing = sum(self._pour_on(thing, pour) for thing, pour in [*self._pours.items()])
            self._plate.step(sum(self._on_pan.values()) + leans + pressing)
        self._recent.append(self._plate.average_g)
        self._track_zero()

    def _pour_on(self, thing: str, pour: "_Pour") -> float:
        """One short step of a pour; what its stream presses beyond what has landed, grams."""
        if pour.wanted_g < 0:
            part = min(pour.flow_g_s * CELL_STEP_S, -pour.wanted_g)
            pour.wanted_g += part
            self._on_pan[thing] -= part
            if pour.wanted_g > -1e-9:
                del self._pours[thing]
            return 0.0
        before = pour.stream.landed_g
        left = pour.wanted_g - pour.stream.left_g
        pour.stream.step(pour.flow_g_s, left)
        self._on_pan[thing] += pour.stream.landed_g - before
        if left <= 1e-9 and pour.stream.landed_g >= pour.stream.left_g - 1e-9:
            del self._pours[thing]
        return pour.stream.presses_g - pour.stream.landed_g

    def _track_zero(self) -> None:
        off = self._plate.average_g - self._zero
        division = self.kind.division_g
        if abs(off) <= 0.5 * division and self.stable:
            most = ZERO_TRACKING_D_PER_S * division * STEP_S
            self._zero += max(-most, min(most, off))

    def _shown(self) -> float:
        division = self.kind.division_g
        return round((self._plate.average_g - self._zero) / division) * division

    @property
    def stable(self) -> bool:
        return max(self._recent) - min(self._recent) <= 1.5 * self.kind.division_g

    def frame(self) -> bytes:
        """One SMA SCP-0499 frame of what the scale shows now."""
        shown = self._shown()
        motion = " " if self.stable else "M"
        mode = "N" if self._tare else "G"
        weight = f"{shown - self._tare + 0.0:.{self.kind.decimals}f}"
        status = " "
        if shown > self.kind.max_g + 9 * self.kind.division_g:
            status, weight = "O", "-" * 9
        elif shown < -0.02 * self.kind.max_g:
            status, weight = "U", "-" * 9
        elif abs(shown) < self.kind.division_g / 4:
            status = "Z"
        return f"\n{status}0{mode}{motion} {weight:>10}{'g':<3}\r".encode("ascii")


@dataclass(slots=True)
class PtyScale:
    """A `BenchScale` printing to a pty under a stable name (a symlink), at the clock's pace."""

    scale: BenchScale
    link: Path
    clock: Clock
    _master: int = field(default=-1, init=False)

    def plug(self) -> None:
        """Make the port appear under its name."""
        master, slave = pty.openpty()
        tty.setraw(slave)
        attributes = termios.tcgetattr(slave)
        attributes[4] = attributes[5] = self.scale.kind.baud
        termios.tcsetattr(slave, termios.TCSANOW, attributes)
        os.set_blocking(master, False)
        self.link.unlink(missing_ok=True)
        self.link.symlink_to(os.ttyname(slave))
        os.close(slave)
        self._master = master

    def unplug(self) -> None:
        """Pull the plug: the name goes, and whoever reads sees the line hang up."""
        self.link.unlink(missing_ok=True)
        if self._master >= 0:
            os.close(self._master)
            self._master = -1

    async def run(self) -> None:
        """Step and print for ever; a print that nobody fetches is lost, as on a real line."""
        began = self.clock.monotonic()
        steps, prints = 0, 0
        try:
            while True:
                elapsed = self.clock.monotonic() - began
                while steps * STEP_S < elapsed:
                    self.scale.step()
                    steps += 1
                    if prints / self.scale.kind.print_hz <= steps * STEP_S:
                        prints += 1
                        self.send(self.scale.frame())
                await self.clock.sleep(STEP_S)
        finally:
            self.unplug()

    def send(self, frame: bytes) -> None:
        """Put one frame on the line, garbled if the port is set to another speed."""
        if self._master < 0:
            return
        if termios.tcgetattr(self._master)[5] != self.scale.kind.baud:
            frame = bytes(byte * 167 % 251 | 0x80 for byte in frame)
        try:
            os.write(self._master, frame)
        except OSError as error:
            if error.errno not in (errno.EAGAIN, errno.EIO):  # full, or nobody has it open
                raise
