"""A scale at the other end of a pty that no file describes, and a person who works it."""

import os
import pty
import shlex
import sys
import termios
import threading
import time
import tty
from decimal import Decimal
from pathlib import Path

import pexpect

from tests.drivers.unknown import Prints, State
from tests.service.daemons import ROOT


class Unknown:
    """Prints its state ten times a second, or when it is asked; garbled at another speed."""

    def __init__(
        self, prints: Prints, baud: int, question: bytes = b"", garbled: bytes = b""
    ) -> None:
        """`garbled` is what arrives of a frame at another speed; else bytes that are no signs."""
        self.state = State(Decimal("0.00"))
        self._garbled = garbled
        self._prints, self._baud, self._question = prints, baud, question
        self._master, self._slave = pty.openpty()
        tty.setraw(self._slave)
        os.set_blocking(self._master, False)
        self.name = os.ttyname(self._slave)
        self.asked: list[bytes] = []
        self._going = True
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        n = 0
        while self._going:
            try:
                arrived = os.read(self._master, 256)
            except OSError:
                arrived = b""
            right = termios.tcgetattr(self._master)[5] == self._baud
            if arrived:
                self.asked.append(arrived)
            if not self._question or (right and self._question in arrived):
                frame = self._prints(self._moved(n), n)
                n += 1
                if not right:
                    frame = self._garbled or bytes(byte * 167 % 251 | 0x80 for byte in frame)
                try:
                    os.write(self._master, frame)
                except OSError:
                    pass  # nobody reads: the line is full
            time.sleep(0.02 if self._question else 0.05)

    def _moved(self, n: int) -> State:
        if not self.state.moving:
            return self.state
        return State(self.state.gross + Decimal(n * 37 % 90).scaleb(-2), moving=True)

    def end(self) -> None:
        self._going = False
        self._thread.join()
        os.close(self._master)
        os.close(self._slave)


LOAD = Decimal("216.40")
OFF = State(Decimal("0.00"))


class Person:
    """Who puts loads on and answers, by a script."""

    def __init__(self, scale: Unknown, folder: Path, *words: str, into: Path | None = None) -> None:
        """With `into` standard output goes into that file."""
        self.scale = scale
        command = ["-m", "station", "scale", "new", scale.name, "--name", "auction",
                   "--config", str(folder), *words]  # fmt: skip
        line = shlex.join([sys.executable, *command])
        line += "" if into is None else f" > {shlex.quote(str(into))}"
        self.child = pexpect.spawn(
            "sh", ["-c", f"exec {line}"], cwd=str(ROOT), timeout=40, encoding="utf-8"
        )

    def does(self, asked: str, state: State | None, answer: str = "") -> None:
        """When it is asked so, bring the scale into a state, and type the answer."""
        self.child.expect(asked)
        if state is not None:
            self.scale.state = state
            time.sleep(0.15)  # what was under way arrives
        self.child.sendline(answer)

    def shows_the_loads(self, unit: str, skip: tuple[str, ...] = ()) -> None:
        """Every load in turn."""
        self.does("What is Max", None, f"3000 {unit}")
        self.does("off the pan", OFF)
        self.does("its display show.*Enter: 0", None)
        self.does("heavier the better.*press Enter", State(LOAD))
        self.does("every digit and its unit", None, f"{LOAD} {unit}")
        moving = "s" if "move" in skip else ""
        self.does("set it down again", None if moving else State(LOAD, moving=True), moving)
        over = "s" if "over" in skip else ""
        self.does("too much", State(LOAD * 90, over=True) if not over else State(LOAD), over)
        if "tared" in skip:
            self.does("tare key", None, "s")
        else:
            self.does("tare key", State(LOAD, LOAD))
            self.does("its display show.*Enter: 0.00", None)
            self.does("leave the tare", State(Decimal("0.00"), LOAD))
            self.does("its display show.*Enter: -216.40", None)
        self.does("clear the tare", OFF)

    def compares(self, unit: str) -> None:
        """Two other loads, read as the display shows them."""
        for weight in ("87.04", "351.20"):
            self.does("load . of 2", State(Decimal(weight)))
            self.child.expect(f"display show {weight} {unit}")
            self.child.sendline("y")

    def ends(self) -> str:
        """All that was said at last."""
        self.child.expect(pexpect.EOF)
        self.child.close()
        return str(self.child.before)
