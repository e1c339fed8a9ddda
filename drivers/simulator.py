"""A bench scale with physics behind a real pty, for the demo and the tests.

What is on the pan passes through an averaging filter, noise, zero tracking and the rounding to a
division, and is printed at a fixed rate as SMA SCP-0499 frames. The same seed and the same hands
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

STEP_S = 0.02
ZERO_TRACKING_D_PER_S = 0.5


@dataclass(frozen=True, slots=True)
class ScaleKind:
    """What the simulated scale is: grams and seconds, `decimals` as printed;
    `noise_d` is the standard deviation of what is shown before rounding, in divisions."""

    max_g: float
    division_g: float
    decimals: int
    window_s: float = 0.5
    print_hz: float = 10.0
    noise_d: float = 0.1
    baud: int = termios.B9600


class BenchScale:
    """The physics alone: masses on a pan, stepped in time, one frame at a time. No I/O."""

    def __init__(self, kind: ScaleKind, seed: int) -> None:
        self.kind = kind
        self._random = random.Random(seed)
        samples = max(1, round(kind.window_s / STEP_S))
        self._window: deque[float] = deque([0.0] * samples, maxlen=samples)
        self._recent: deque[float] = deque([0.0], maxlen=round(0.5 / STEP_S))
        self._on_pan: dict[str, float] = {}
        self._flow: dict[str, tuple[float, float]] = {}  # thing -> (g/s, grams left to pour)
        self._touch_s = 0.0
        self._zero = 0.0
        self._tare = 0.0

    def set_down(self, thing: str, grams: float) -> None:
        """Put a thing of `grams` on the pan."""
        self._on_pan[thing] = grams
        self._touch_s = 0.15

    def lift(self, thing: str) -> float:
        """Take a thing off; returns what it weighed with what was poured into it."""
        self._flow.pop(thing, None)
        self._touch_s = 0.0
        return self._on_pan.pop(thing)

    def pour(self, thing: str, grams: float, flow_g_s: float) -> None:
        """Begin pouring `grams` into a thing on the pan (negative: a spoon takes it out)."""
        self._flow[thing] = (flow_g_s, grams)

    def stop(self, thing: str) -> None:
        """The hand stops pouring."""
        self._flow.pop(thing, None)

    def pouring(self, thing: str) -> bool:
        """Whether the pour into a thing is still going on."""
        return thing in self._flow

    def holds(self, thing: str) -> bool:
        """Whether a thing is on the pan."""
        return thing in self._on_pan

    def press_zero(self) -> None:
        """The zero key of a scale that zeroes any load (many do, whatever the standard says)."""
        self._zero = self._average()

    def press_tare(self) -> None:
        """The tare key of the scale: the frame turns to net until it is cleared."""
        self._tare = self._shown()

    def clear_tare(self) -> None:
        self._tare = 0.0

    def step(self) -> None:
        """Let `STEP_S` pass."""
        for thing, (flow, left) in list(self._flow.items()):
            part = min(abs(left), flow * STEP_S) * (1 if left > 0 else -1)
            self._on_pan[thing] += part
            if abs(left - part) < 1e-9:
                del self._flow[thing]
            else:
                self._flow[thing] = (flow, left - part)
        load = sum(self._on_pan.values())
        if self._touch_s > 0:  # the hand still leans on what it set down
            load += self._random.uniform(0, 0.1) * max(load, 10 * self.kind.division_g)
            self._touch_s -= STEP_S
        # each sample is louder than their average by the root of their number
        noise = self.kind.noise_d * self.kind.division_g * len(self._window) ** 0.5
        self._window.append(load + self._random.gauss(0, noise))
        self._recent.append(self._average())
        self._track_zero()

    def _track_zero(self) -> None:
        off = self._average() - self._zero
        division = self.kind.division_g
        if abs(off) <= 0.5 * division and self.stable:
            most = ZERO_TRACKING_D_PER_S * division * STEP_S
            self._zero += max(-most, min(most, off))

    def _average(self) -> float:
        return sum(self._window) / len(self._window)

    def _shown(self) -> float:
        division = self.kind.division_g
        return round((self._average() - self._zero) / division) * division

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
