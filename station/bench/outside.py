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
    """Tells words outside, the command and the lamp each in a thread of its own: a command that
    takes its time holds up no lamp. `on_failure` gets a sentence."""

    def __init__(self, wanted: Outside, on_failure: Callable[[str], None]) -> None:
        self._wanted = wanted
        self._loop = asyncio.get_running_loop()
        self._on_failure = on_failure
        self._words: queue.SimpleQueue[str] = queue.SimpleQueue()
        self._alarm = ""
        self._changed = threading.Event()
        if wanted.command:
            threading.Thread(target=self._run_commands, name="command", daemon=True).start()
        if wanted.port:
            line = ControlLine(wanted.port, wanted.line)
            threading.Thread(target=self._run_lamp, args=(line,), name="lamp", daemon=True).start()

    def show(self, word: str, alarmed: bool) -> None:
        """The word on the screen, and whether it is an alarm; a change of what that says outside is
        told."""
        alarm = "stop" if word == "STOP" else "blocked" if alarmed else "quiet"
        if alarm != self._alarm:
            self._alarm = alarm
            self._changed.set()
            self.tell(alarm)

    def tell(self, word: str) -> None:
        """stop, blocked, accepted, refused or quiet, for the command."""
        if self._wanted.command:
            self._words.put(word)

    def _run_commands(self) -> None:
        while True:
            self._command(self._words.get())

    def _run_lamp(self, line: ControlLine) -> None:
        """Keep the lamp as the screen is; one that could not be switched is tried again."""
        while True:
            self._changed.clear()
            try:
                line.switch(self._alarm not in ("", "quiet"))
            except (OSError, ValueError) as error:
                self._fail(f"the lamp at {self._wanted.port} cannot be switched: {error}")
                self._changed.wait(LONGEST_S)
            else:
                self._changed.wait()

    def _command(self, word: str) -> None:
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
