"""The station's clock: monotonic time for waiting and judging, UTC for the record."""

import asyncio
import time
from datetime import UTC, datetime, timedelta


class Clock:
    """Real time, or for simulations time that runs `speed` times as fast from now on."""

    def __init__(self, speed: float = 1.0) -> None:
        self.speed = speed
        self._began_s = time.monotonic()
        self._began = datetime.now(UTC)

    def monotonic(self) -> float:
        """Seconds that only ever rise."""
        return self._began_s + (time.monotonic() - self._began_s) * self.speed

    def utc(self) -> datetime:
        """The time of day; at speed 1 straight from the machine, which may be set meanwhile."""
        if self.speed == 1:
            return datetime.now(UTC)
        return self._began + timedelta(seconds=self.monotonic() - self._began_s)

    async def sleep(self, seconds: float) -> None:
        """Wait for `seconds` of this clock."""
        await asyncio.sleep(seconds / self.speed)


def stamp(moment: datetime) -> str:
    """RFC 3339 UTC with milliseconds, as the ledger keeps it."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
