"""The ledger copied by a process of its own, so that verifying the copy holds up no reading:

    python -m station.service.copier LEDGER FOLDER AT

One line of JSON says what came of it.
"""

import os
import signal
import sys
from pathlib import Path

import msgspec

from station.ledger.backup import weekly
from station.ledger.errors import LedgerError

NICE = 10
"""How far it stands back behind the station and the display."""


class Done(msgspec.Struct, frozen=True):
    """The copy's file; or what went wrong, and the next step."""

    file: str = ""
    sentence: str = ""
    next: str = ""


def copied(ledger: Path, folder: Path, at: str) -> Done:
    """Copy it; what came of it, in every case."""
    try:
        target, verdict = weekly(ledger, folder, at)
    except LedgerError as error:
        return Done(sentence=error.sentence, next=error.next)
    if not verdict.ok:
        return Done(sentence=f"{ledger} is broken: {verdict.reason}", next="station ledger repair")
    return Done(file=str(target))


def main() -> None:
    os.nice(NICE)
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))  # what is half written is removed
    ledger, folder, at = sys.argv[1:]
    sys.stdout.write(msgspec.json.encode(copied(Path(ledger), Path(folder), at)).decode())


if __name__ == "__main__":
    main()
