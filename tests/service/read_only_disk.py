"""The daemon on a disk that is read-only as long as a file FLAG is there, as the kernel makes it
after an error of the disk: files that are open cannot be written, and none is opened for writing.

Run as `python read_only_disk.py FLAG run ...`; nothing else is changed. A mount that is in use
cannot be made read-only by anybody but the kernel.
"""

import errno
import os
import sqlite3
import sys
from pathlib import Path
from typing import Any

from sqlite_utils.db import Database

from station.cli import main

_execute = Database.execute
_open = os.open
_statvfs = os.statvfs


def _writes(self: Database, sql: str, *rest: Any) -> Any:
    if sql == "COMMIT" and _FLAG.exists():
        error = sqlite3.OperationalError("disk I/O error")
        error.sqlite_errorcode = sqlite3.SQLITE_IOERR_WRITE  # what SQLite makes of EROFS
        raise error
    return _execute(self, sql, *rest)


def _opens(path: Any, flags: int, *rest: Any, **more: Any) -> int:
    if flags & os.O_RDWR and str(path).endswith(".ledger") and _FLAG.exists():
        raise OSError(errno.EROFS, os.strerror(errno.EROFS))
    return _open(path, flags, *rest, **more)


def _mounted(path: Any) -> Any:
    found = list(_statvfs(path))
    found[8] |= os.ST_RDONLY * _FLAG.exists()  # f_flag
    return os.statvfs_result(found)


if __name__ == "__main__":
    _FLAG = Path(sys.argv.pop(1))
    Database.execute = _writes  # type: ignore[method-assign]
    os.open = _opens
    os.statvfs = _mounted
    main()
