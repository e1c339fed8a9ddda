"""What the station counts while it runs, and how it tells it to a monitoring system."""

import asyncio
import contextlib
import logging
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from station.pan.view import REASONS
from station.service.clock import Clock
from station.service.openmetrics import Family, Histogram, counter, gauge, text
from station.wire import Snapshot

log = logging.getLogger("station")

EDGES_S = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5)
"""Edges of the durable commit's histogram, in seconds: a disk in memory to one that hangs."""

WRITES_S = 15.0
"""Seconds between two writings of the file."""


class Counts:
    """Since the start: readings and faults by scale, decisions by command, refusals by reason,
    seconds of each commit."""

    def __init__(self) -> None:
        self.readings: Counter[str] = Counter()
        self.faults: Counter[str] = Counter()
        self.decisions: Counter[str] = Counter()
        self.refusals: Counter[str] = Counter()
        self.commits = Histogram(EDGES_S)


def told(counts: Counts, shown: Snapshot, ledger: Path) -> str:
    """All of it as OpenMetrics text."""
    families = [
        counter("station_readings", "Readings of a scale.", "scale", counts.readings),
        counter("station_faults", "Bytes that were no reading.", "scale", counts.faults),
        counter("station_decisions", "Decisions recorded.", "command", counts.decisions),
        counter("station_refusals", "Commands refused.", "reason", counts.refusals),
        Family(
            "station_blocked",
            "gauge",
            "Whether this is why nothing can be accepted now.",
            [("", (("reason", reason),), reason in shown.blocked) for reason in REASONS],
        ),
        Family(
            "station_commit_seconds",
            "histogram",
            "Time from the start of an append to its durable end.",
            counts.commits.samples(),
            "seconds",
        ),
    ]
    if shown.ledger is not None:
        left = shown.ledger.unverified
        families += [
            gauge("station_ledger_events", "The last event's number.", shown.ledger.seq),
            gauge("station_unverified_events", "Events still to be verified.", left),
        ]
    with contextlib.suppress(OSError):  # what is gone the station shows as blocked
        size = ledger.stat().st_size
        families.append(gauge("station_ledger_bytes", "The ledger's file.", size, "bytes"))
    return text(families)


def write(path: Path, content: str) -> None:
    """Put it in the place of the last one; a reader never finds half of it. Raises `OSError`."""
    fresh = path.with_name(f".{path.name}.new")
    try:
        fresh.write_text(content, encoding="utf-8")
        fresh.chmod(0o644)  # whoever collects it is another user
        fresh.replace(path)
    except OSError:
        with contextlib.suppress(OSError):
            fresh.unlink()
        raise


async def follow(path: Path, content: Callable[[], str], clock: Clock) -> None:
    """Write it for ever, in a thread: a card may be slow. A failure is logged once."""
    well = True
    while True:
        try:
            await asyncio.to_thread(write, path, content())
            well = True
        except OSError as error:
            if well:
                log.warning("%s cannot be written: %s", path, error.strerror or error)
            well = False
        await clock.sleep(WRITES_S)
