"""The daemon on a machine whose clock somebody sets: FILE holds how many days it is off.

Run as `python set_clock.py FILE run ...`; nothing else is changed.
"""

import sys
from datetime import datetime, timedelta
from pathlib import Path

from station.cli import main
from station.service.clock import Clock

_plain = Clock.utc


def _utc(self: Clock) -> datetime:
    return _plain(self) + timedelta(days=int(_FILE.read_text()))


if __name__ == "__main__":
    _FILE = Path(sys.argv.pop(1))
    Clock.utc = _utc  # type: ignore[method-assign]
    main()
