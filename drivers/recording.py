"""Captures: the raw bytes of a port with their times, to be replayed through the same parser.

The file is text: a head of `# key: value` lines (what, when, which settings), then one line a
chunk: seconds since the start, a blank, the bytes in hex.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TextIO

MOST = 1 << 26
"""Characters of a capture at most: hours of a busy line at 9600 baud."""
LONGEST_LINE = 1 << 20
"""Characters of a line of it at most: a chunk is what arrived together."""


class CaptureError(ValueError):
    """A capture that cannot be read; the message names the line."""


@dataclass(frozen=True, slots=True)
class Chunk:
    """Bytes that arrived together, `time_s` seconds after the capture began."""

    time_s: float
    data: bytes


@dataclass(frozen=True, slots=True)
class Capture:
    """A whole capture: its head and its chunks in the order they arrived."""

    head: dict[str, str]
    chunks: tuple[Chunk, ...]

    @property
    def data(self) -> bytes:
        return b"".join(chunk.data for chunk in self.chunks)


class Recorder:
    """Writes a capture chunk by chunk, flushed each time: a pulled plug loses nothing."""

    def __init__(self, file: TextIO, head: dict[str, str]) -> None:
        self._file = file
        self._began: float | None = None
        for key, value in head.items():
            file.write(f"# {key}: {value}\n")

    def take(self, data: bytes, time_s: float) -> None:
        """Write `data`, arrived at the monotonic time `time_s`."""
        if self._began is None:
            self._began = time_s
        self._file.write(f"{time_s - self._began:.4f} {data.hex()}\n")
        self._file.flush()


def read_capture(lines: Iterable[str]) -> Capture:
    """Read a capture. Raises `CaptureError`."""
    head: dict[str, str] = {}
    chunks: list[Chunk] = []
    size = 0
    for number, line in enumerate(lines, 1):
        size += len(line) + 1
        if len(line) > LONGEST_LINE:
            raise CaptureError(f"line {number}: longer than {LONGEST_LINE} characters")
        if size > MOST:
            raise CaptureError(f"larger than {MOST} characters: record a shorter time")
        line = line.rstrip("\r\n")
        if line.startswith("#"):
            key, _, value = line[1:].partition(":")
            head[key.strip()] = value.strip()
        elif line.strip():
            time, _, data = line.partition(" ")
            try:
                chunks.append(Chunk(float(time), bytes.fromhex(data)))
                if not 0 <= chunks[-1].time_s < 1e7:
                    raise ValueError
            except ValueError:
                raise CaptureError(
                    f"line {number}: expected seconds, a blank and bytes in hex, found {line!r}"
                ) from None
            if len(chunks) > 1 and chunks[-2].time_s > chunks[-1].time_s:
                raise CaptureError(f"line {number}: time runs backwards")
    return Capture(head, tuple(chunks))


def replay(capture: Capture, speed: float) -> Iterator[tuple[float, bytes]]:
    """Yield (seconds to wait first, bytes) at `speed` times the recorded pace."""
    before = 0.0
    for chunk in capture.chunks:
        yield (chunk.time_s - before) / speed, chunk.data
        before = chunk.time_s
