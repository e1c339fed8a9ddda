"""The daemon with every commit slowed down and announced: a byte on a pipe before and after it.

Run as `python slow_commit.py FD run ...`; nothing else is changed.
"""

import os
import sys
import time
from typing import Any

from sqlite_utils.db import Database

from station.cli import main

WINDOW_S = 0.01
_plain = Database.execute


def _execute(self: Database, sql: str, *rest: Any) -> Any:
    if sql != "COMMIT":
        return _plain(self, sql, *rest)
    os.write(_FD, b"<")
    time.sleep(WINDOW_S)
    found = _plain(self, sql, *rest)
    os.write(_FD, b">")
    time.sleep(WINDOW_S)
    return found


if __name__ == "__main__":
    _FD = int(sys.argv.pop(1))
    Database.execute = _execute  # type: ignore[method-assign]
    main()
