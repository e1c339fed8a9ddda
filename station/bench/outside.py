"""What is told outside the screen: a command, a lamp. Never holds up the screen."""

import asyncio
import queue
import subprocess
import threading
from collections.abc import Callable

from drivers.control_line import ControlLine
from station.bench.settings import Outside

LONGEST_S = 5.0
"""A command that runs longer is ended."""


class OutsideSignal:
    """Tells words outside, in their order, in a thread of its own; `on_failure` gets a sentence."""

    def __init__(self, wanted: Outside, on_failure: Callable[[str], None]) -> None:
        self._wanted = wanted
        self._loop = asyncio.get_running_loop()
        self._on_failure = on_failure
        self._line = ControlLine(wanted.port, wanted.line) if wanted.port else None
        self._words: queue.SimpleQueue[str] = queue.SimpleQueue()
        self._alarm = ""
        if wanted.command or wanted.port:
            threading.Thread(target=self._run, name="outside", daemon=True).start()

    def show(self, word: str) -> None:
        """The word on the screen; a change of what it says outside is told."""
        alarm = word.lower() if word in ("STOP", "BLOCKED") else "quiet"
        if alarm != self._alarm:
            self._alarm = alarm
            self.tell(alarm)

    def tell(self, word: str) -> None:
        """stop, blocked, accepted, refused or quiet."""
        if self._wanted.command or self._wanted.port:
            self._words.put(word)

    def _run(self) -> None:
        while True:
            word = self._words.get()
            self._switch(word)
            self._command(word)

    def _switch(self, word: str) -> None:
        if self._line is None or word in ("accepted", "refused"):
            return
        try:
            self._line.switch(word != "quiet")
        except (OSError, ValueError) as error:
            self._fail(f"the lamp at {self._wanted.port} cannot be switched: {error}")

    def _command(self, word: str) -> None:
        if not self._wanted.command:
            return
        try:
            subprocess.run(
                [*self._wanted.command, word],
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                timeout=LONGEST_S,
                check=True,
            )
        except (OSError, subprocess.SubprocessError) as error:
            self._fail(f"the signal's command failed: {error}")

    def _fail(self, sentence: str) -> None:
        self._loop.call_soon_threadsafe(self._on_failure, sentence)
