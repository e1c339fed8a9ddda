"""How the ledger fails: one sentence for a person, and the next step."""

import os
import sqlite3
from pathlib import Path

_PASSING = frozenset(
    {
        sqlite3.SQLITE_BUSY,
        sqlite3.SQLITE_LOCKED,
        sqlite3.SQLITE_IOERR,
        sqlite3.SQLITE_FULL,
        sqlite3.SQLITE_CANTOPEN,
        sqlite3.SQLITE_READONLY,
        sqlite3.SQLITE_NOMEM,
        sqlite3.SQLITE_INTERRUPT,
    }
)
"""What the machine refuses; every other error while reading is about the file itself."""

FileError = sqlite3.Error | UnicodeDecodeError
FILE_ERRORS = (sqlite3.Error, UnicodeDecodeError)
"""What reading a file may raise: Python decodes even SQLite's message, damaged names in it."""

PUT_ASIDE = "station ledger repair --keep-evidence puts it aside; restore the last good backup then"
REBUILD = "station ledger repair --keep-evidence copies it aside and makes that anew"


class LedgerError(Exception):
    """The ledger cannot be used: one sentence, and the next step."""

    def __init__(self, sentence: str, next_step: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.next = next_step


def code(error: FileError) -> int | None:
    """SQLite's primary result code; None where Python itself refused what was read."""
    found = getattr(error, "sqlite_errorcode", None)
    return None if found is None else found & 0xFF


def is_damage(error: FileError, path: Path) -> bool:
    """Whether the error says that the file itself is damaged, not that it cannot be had now."""
    return code(error) not in _PASSING and not _unreadable(path)


def _unreadable(path: Path) -> bool:
    """Whether the disk gives no bytes: SQLite calls a file damaged then, too (it has one code for
    a file system that is, and for a read that failed)."""
    try:
        for file in (path, path.with_name(f"{path.name}-wal")):
            if file.exists():
                with file.open("rb") as opened:
                    while opened.read(1 << 20):
                        pass
    except OSError:
        return True
    return False


def _is_read_only(path: Path) -> bool:
    """Whether its file system is: a kernel makes it so after an error of the disk."""
    try:
        return bool(os.statvfs(path).f_flag & os.ST_RDONLY)
    except OSError:
        return False


def explain(error: FileError, path: Path) -> LedgerError:
    """SQLite's error as a sentence for a person and the next step."""
    known = code(error)
    if known not in _PASSING and _unreadable(path):
        known = sqlite3.SQLITE_IOERR
    match known:
        case sqlite3.SQLITE_IOERR | sqlite3.SQLITE_READONLY if _is_read_only(path):
            return LedgerError(
                f"the disk of the ledger {path} is read-only: {error}",
                "the kernel's log (dmesg) says why; it goes on once the disk is writable",
            )
        case sqlite3.SQLITE_FULL:
            return LedgerError(
                f"the ledger {path} cannot be written: {error}",
                "make room on its disk; it goes on then",
            )
        case sqlite3.SQLITE_IOERR:
            return LedgerError(
                f"the disk of the ledger {path} failed: {error}",
                "make room on it, or mend it; it goes on then",
            )
        case sqlite3.SQLITE_BUSY | sqlite3.SQLITE_LOCKED:
            return LedgerError(
                f"another program holds the ledger {path}",
                "close what has it open for writing; it goes on then",
            )
        case sqlite3.SQLITE_READONLY | sqlite3.SQLITE_CANTOPEN:
            return LedgerError(f"{path} cannot be opened", "check the folder and its rights")
        case sqlite3.SQLITE_NOTADB:
            return LedgerError(f"{path} is no ledger", "name another file with --ledger")
        case sqlite3.SQLITE_CORRUPT:
            return LedgerError(f"the file {path} is damaged: {error}", PUT_ASIDE)
        case None if isinstance(error, UnicodeDecodeError):
            return LedgerError(f"the file {path} is damaged: {error}", PUT_ASIDE)
    return LedgerError(f"the ledger {path} failed: {error}", "run: station ledger verify")
