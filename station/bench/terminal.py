"""The terminal: whole screens through curses, which sends only what changed; keys as raw bytes.

Drawing is a thread of its own: a terminal that takes nothing must not hold up the rest. All calls
of curses are made there.
"""

import curses
import os
import sys
import termios
import threading
import tty
from typing import Any

from station.bench.face import Face, Size
from station.bench.frames import Frames

INK = "█▀▄─┃▼"


def ascii_only(wanted: str) -> bool:
    """Whether blocks cannot be drawn: as the settings say, else as the locale says."""
    if wanted != "auto":
        return wanted == "ascii"
    given = os.environ.get("LC_ALL") or os.environ.get("LANG") or ""
    kind = os.environ.get("LC_CTYPE", "")
    if not os.environ.get("LC_ALL") and kind and kind != "C.UTF-8":
        given = kind  # Python sets C.UTF-8 by itself where nothing was said: that says nothing
    return "utf-8" not in given.lower() and "utf8" not in given.lower()


def can_draw() -> bool:
    """Whether input and output are a terminal that can place its cursor."""
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        return False
    try:
        curses.setupterm()
    except curses.error:
        return False
    return curses.tigetstr("cup") is not None


def size() -> Size:
    """Columns and rows as the terminal has them now."""
    try:
        found = os.get_terminal_size(sys.stdout.fileno())
    except OSError:
        return Size(80, 24)
    return Size(found.columns or 80, found.lines or 24)  # a serial console does not tell


class Terminal:
    """The screen as a context: everything is put back when it ends, whatever happens."""

    def __init__(self, bell: bool) -> None:
        self.frames = Frames()
        self._bell = bell
        self._ready = threading.Event()
        self._thread = threading.Thread(target=self._draw, name="screen", daemon=True)
        self._saved: list[Any] = []

    def __enter__(self) -> "Terminal":
        self._saved = termios.tcgetattr(sys.stdin)
        tty.setcbreak(sys.stdin)
        self._thread.start()
        self._ready.wait(5)
        return self

    def __exit__(self, *exc: object) -> None:
        self.frames.want("end")
        self._thread.join(2)
        try:
            if self._thread.is_alive():  # a terminal that takes nothing: let go what waits for it
                termios.tcflush(sys.stdout, termios.TCOFLUSH)
            termios.tcsetattr(sys.stdin, termios.TCSANOW, self._saved)
        except termios.error:
            return  # it hung up

    @property
    def alive(self) -> bool:
        """Whether faces are still drawn."""
        return self._thread.is_alive()

    def again(self) -> None:
        """The program was stopped and goes on: the terminal may have been anybody's."""
        tty.setcbreak(sys.stdin)
        self.frames.want("again")

    def _draw(self) -> None:
        window = curses.initscr()
        try:
            curses.noecho()
            try:
                curses.curs_set(0)
            except curses.error:
                pass  # a terminal that cannot hide its cursor
            window.leaveok(True)
            before: Face | None = None
            self._ready.set()
            while True:
                item = self.frames.next()
                if isinstance(item, Face):
                    _paint(window, item, before)
                    before = item
                elif item == "again":
                    window.redrawwin()
                    window.refresh()
                elif item == "end":
                    break
                elif self._bell:
                    curses.beep()
                termios.tcdrain(sys.stdout)  # a serial line: what was sent is on the glass
        finally:
            curses.endwin()


def _paint(window: "curses.window", face: Face, before: Face | None) -> None:
    """Put the rows that differ from those `before` on the screen."""
    rows, columns = len(face.rows), len(face.rows[0]) if face.rows else 0
    if window.getmaxyx() != (rows, columns):
        curses.resizeterm(rows, columns)
        window.erase()
        before = None
    look = curses.A_REVERSE if face.inverse else curses.A_NORMAL
    window.bkgdset(" ", look)
    same = before is not None and before.inverse == face.inverse
    for at, row in enumerate(face.rows):
        if same and before is not None and before.rows[at] == row:
            continue
        try:
            window.addstr(at, 0, row, look)
        except curses.error:
            pass  # the corner: it is drawn, only the cursor has no place to go
    window.refresh()
