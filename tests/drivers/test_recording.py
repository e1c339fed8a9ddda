"""Captures are written, read and replayed."""

import io

import pytest

from drivers.recording import (
    LONGEST_LINE,
    MOST,
    CaptureError,
    Chunk,
    Recorder,
    read_capture,
    replay,
)


def test_what_is_recorded_is_read_back_and_replayed_at_its_pace() -> None:
    file = io.StringIO()
    recorder = Recorder(file, {"what": "a test", "settings": "9600 8N1"})
    recorder.take(b"\n\x00a", 100.0)
    recorder.take(b"b\r", 100.5)
    capture = read_capture(file.getvalue().splitlines())
    assert capture.head == {"what": "a test", "settings": "9600 8N1"}
    assert capture.chunks == (Chunk(0.0, b"\n\x00a"), Chunk(0.5, b"b\r"))
    assert list(replay(capture, 10)) == [(0.0, b"\n\x00a"), (0.05, b"b\r")]


@pytest.mark.parametrize("line", ["soon 00", "0.1 0g", "0.1", "-"])
def test_a_wrong_line_is_named(line: str) -> None:
    if line == "0.1":
        assert read_capture([line]).chunks == (Chunk(0.1, b""),)
        return
    with pytest.raises(CaptureError, match="line 2"):
        read_capture(["0.0 00", line])


def test_time_that_runs_backwards_is_refused() -> None:
    with pytest.raises(CaptureError, match="backwards"):
        read_capture(["1.0 00", "0.5 00"])


def test_a_line_that_no_chunk_can_be_is_refused() -> None:
    fits = "# " + "x" * (LONGEST_LINE - 2)
    assert read_capture([fits]).chunks == ()
    with pytest.raises(CaptureError, match="line 1: longer than"):
        read_capture([fits + "x"])


def test_a_capture_without_end_is_refused() -> None:
    fits = ["# " + "x" * (LONGEST_LINE - 3)] * (MOST // LONGEST_LINE)
    assert read_capture(fits).chunks == ()
    with pytest.raises(CaptureError, match="record a shorter time"):
        read_capture([*fits, ""])
