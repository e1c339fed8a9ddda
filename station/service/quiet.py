"""A log that no repeated line can fill."""

import logging
import time
from collections.abc import Callable

MOST = 40
"""Lines of one kind in a minute: every scale of a big bench may lose its cable at once."""
MINUTE_S = 60.0


class Quiet(logging.Filter):
    """Of each kind of line (the text before its figures) passes so many a minute; the next one
    that passes says how many were left out."""

    def __init__(self, now: Callable[[], float] = time.monotonic) -> None:
        super().__init__()
        self._now = now
        self._since: dict[tuple[str, int], float] = {}
        self._count: dict[tuple[str, int], int] = {}

    def filter(self, record: logging.LogRecord) -> bool:
        """Whether the line is written."""
        kind, now = (str(record.msg), record.levelno), self._now()
        before = self._count.get(kind, 0)
        if now - self._since.get(kind, -MINUTE_S) >= MINUTE_S:
            self._since[kind], self._count[kind] = now, 1
            if before > MOST:
                record.msg = f"{record.getMessage()} (and {before - MOST} more like it)"
                record.args = ()
            return True
        self._count[kind] = before + 1
        return before < MOST
