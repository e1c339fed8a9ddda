"""Whatever a file, a ledger or the owner of a socket holds, the command line ends in a sentence."""

import socket
import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from pathlib import Path

import pytest

from station.client import Client, ClientError
from station.ledger import chain
from station.ledger.book import read_events
from station.ledger.reading import open_reader
from station.tomlfile import LONGEST, LONGEST_LINE, MOST, FileMistakes, TomlFile
from tests.ledger.ledgers import AT, a_batch, opened, tamper
from tests.service.daemons import Daemon, station


@pytest.fixture(scope="module")
def ledger(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger of one batch."""
    path = tmp_path_factory.mktemp("sentence") / "a.ledger"
    book = opened(path)
    book.append(a_batch(), AT)
    book.close()
    return path


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("a = " + "[" * 900 + "]" * 900, "nested too deep"),
        ("".join(f"k{number} = 1\n" for number in range(500_000)), "too long"),
        ("a." * 50_000 + "a = 1", "too long"),
        ("revision = " + "9" * 1900, "missing"),
        ("name = " + "[" * 300 + "]" * 300, "found a list, expected a text"),
        ("[name]\na = " + "[" * 300 + "]" * 300, "found a table, expected a text"),
    ],
    ids=range(6),
)
def test_a_file_without_measure_ends_in_a_sentence(tmp_path: Path, text: str, says: str) -> None:
    file = tmp_path / "f.toml"
    file.write_text(text)
    began = time.monotonic()
    told = station("formula", "check", str(file))
    assert (told.returncode, says in told.stderr) == (2, True), told.stderr[-500:]
    assert len(told.stderr) < 5000
    assert time.monotonic() - began < 20


def test_the_measures_of_a_file_are_kept_to_the_letter() -> None:
    line = "# " + "x" * (LONGEST_LINE - 2)
    TomlFile(line, "f")
    with pytest.raises(FileMistakes, match="too long"):
        TomlFile(line + "x", "f")
    whole = "\n" * LONGEST
    TomlFile(whole, "f")
    with pytest.raises(FileMistakes, match="too long"):
        TomlFile(whole + "\n", "f")


@pytest.mark.parametrize("count", [MOST - 1, MOST, MOST + 1, 5000])
def test_so_many_mistakes_are_told_and_no_more(count: int) -> None:
    file = TomlFile("".join(f"k{number} = 1\n" for number in range(count)), "f.toml")
    file.top.finish()
    assert len(file.mistakes) == min(count, MOST + 1)
    assert (file.mistakes[-1] == "f.toml: and more mistakes") == (count > MOST)
    assert file.full == (count > MOST)


def test_a_body_too_deep_to_read_ends_in_a_sentence_everywhere(
    ledger: Path, tmp_path: Path
) -> None:
    path = tmp_path / "a.ledger"
    path.write_bytes(ledger.read_bytes())
    with open_reader(path) as db:
        last = list(read_events(db))[-1]
    text = '{"text":' + "[" * 100_000 + "]" * 100_000 + "}"
    digest = chain.event_hash(last.hash, last.seq + 1, AT, "b-1", "noted", text)
    forged = replace(last, seq=last.seq + 1, text=text, prev=last.hash, hash=digest)
    with closing(sqlite3.connect(path, isolation_level=None)) as db_:
        db_.execute(
            "INSERT INTO event VALUES (?, ?, 'b-1', 'noted', ?, ?, ?)",
            (forged.seq, AT, text, forged.prev, forged.hash),
        )
    daemon = Daemon(tmp_path)
    daemon.words[daemon.words.index("--ledger") + 1] = str(path)
    for words, status in (
        (["ledger", "verify", "--ledger", str(path)], 1),
        (["ledger", "repair", "--ledger", str(path)], 1),
        (["audit", "batch", "b-1", "--ledger", str(path)], 3),
        (daemon.words, 3),
    ):
        told = station(*words)
        assert (told.returncode, "Traceback" in told.stderr) == (status, False), told.stderr
        assert f"event {forged.seq} cannot be read" in told.stdout + told.stderr


def test_a_sheet_of_events_that_are_none_ends_in_a_sentence(ledger: Path, tmp_path: Path) -> None:
    path = tmp_path / "a.ledger"
    path.write_bytes(ledger.read_bytes())
    tamper(path, "UPDATE event SET kind = 'none' WHERE seq = 9")
    told = station("audit", "batch", "b-1", "--ledger", str(path))
    assert (told.returncode, "the ledger is broken: event 9" in told.stderr) == (3, True)
    assert "Traceback" not in told.stderr


@pytest.mark.parametrize("at", [0, 20, 61, 105])
def test_a_flipped_byte_in_the_first_page_ends_in_a_sentence(
    ledger: Path, tmp_path: Path, at: int
) -> None:
    content = bytearray(ledger.read_bytes())
    content[at] ^= 0x80
    path = tmp_path / "a.ledger"
    path.write_bytes(content)
    for words in (("ledger", "verify"), ("audit", "batch", "b-1"), ("run",)):
        told = station(*words, "--ledger", str(path))
        assert told.returncode in (1, 3), told.stderr
        assert "Traceback" not in told.stderr


# whoever has the socket


@contextmanager
def answering(path: Path, *answers: bytes, pause_s: float = 0.0) -> Iterator[None]:
    """A program that listens at the station's socket and sends this, whatever it is asked."""
    ended = threading.Event()
    with socket.socket(socket.AF_UNIX) as server:
        server.bind(str(path))
        server.listen()
        server.settimeout(0.05)

        def serve() -> None:
            kept = []
            while not ended.is_set():
                try:
                    peer, _ = server.accept()
                except TimeoutError:
                    continue
                kept.append(peer)
                try:
                    for answer in answers:
                        peer.sendall(answer)
                        ended.wait(pause_s)
                except OSError:
                    pass  # it has heard enough
            for peer in kept:
                peer.close()

        thread = threading.Thread(target=serve)
        thread.start()
        try:
            yield
        finally:
            ended.set()
            thread.join()


def test_a_station_that_accepts_and_never_answers_is_left(tmp_path: Path) -> None:
    path = tmp_path / "s"
    with answering(path):
        told = station("state", "--socket", str(path))
        assert (told.returncode, "does not answer, in 5 s" in told.stderr) == (3, True)


def test_a_station_that_answers_a_byte_at_a_time_is_left_as_soon(tmp_path: Path) -> None:
    path = tmp_path / "s"
    with answering(path, *[b"{"] * 200, pause_s=0.02):
        began = time.monotonic()
        with (
            Client(path, timeout_s=0.3) as client,
            pytest.raises(ClientError, match="does not answer") as caught,
        ):
            client.call("state")
    assert time.monotonic() - began < 2
    assert caught.value.reason == "silent"


def test_a_station_that_talks_of_other_things_without_end_is_left_as_soon(tmp_path: Path) -> None:
    path = tmp_path / "s"
    with answering(path, b'{"method": "change", "params": {}}\n' * 300_000):
        began = time.monotonic()
        with (
            Client(path, timeout_s=0.1) as client,
            pytest.raises(ClientError, match="does not answer"),
        ):
            client.call("state")
    assert time.monotonic() - began < 1


def test_changes_are_waited_for_without_end(tmp_path: Path) -> None:
    path = tmp_path / "s"
    first = b'{"jsonrpc": "2.0", "id": 1, "result": {}}\n'
    change = b'{"jsonrpc": "2.0", "method": "change", "params": {"word": "POUR"}}\n'
    with answering(path, first, change, pause_s=0.4), Client(path, timeout_s=0.2) as client:
        changes = client.changes()
        assert [next(changes), next(changes)] == [{}, {"word": "POUR"}]


@pytest.mark.parametrize(
    "answer",
    [
        b"220 mail.example ready\n",
        b"[]\n",
        b"{}\n",
        b'{"error": 5}\n',
        b'{"error": {"data": {}}}\n',
        b"[" * 200_000 + b"\n",
        b'{"result": {"word": 5}}\n',
        b"\xff\n",
    ],
)
def test_what_is_no_station_is_told(tmp_path: Path, answer: bytes) -> None:
    path = tmp_path / "s"
    with answering(path, answer):
        told = station("state", "--socket", str(path))
    assert (told.returncode, "is no station of this version" in told.stderr) == (3, True)


def test_an_answer_without_end_is_left(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("station.client.LONGEST_LINE", 10_000)
    path = tmp_path / "s"
    with (
        answering(path, b"x" * 200_000),
        Client(path, timeout_s=5) as client,
        pytest.raises(ClientError, match="is no station"),
    ):
        client.call("state")
