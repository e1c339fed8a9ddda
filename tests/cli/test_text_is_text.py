"""Text is text: whatever a note, a file, a label, a frame or a wrong daemon holds, the command line
prints it as signs, and ends in a sentence."""

import json
import logging
import socket
import sqlite3
import subprocess
import sys
import threading
import time
import unicodedata
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import msgspec
import pytest

from drivers.reading import Fault
from station.batch import events as ev
from station.cli.common import json_text, say, shown
from station.cli.heard import Printer, dump
from station.cli.run import _Plain
from station.client import Client, ClientError
from station.ledger import chain
from station.ledger.book import read_events
from station.ledger.reading import open_reader
from station.tomlfile import LONGEST, LONGEST_LINE, MOST, FileMistakes, TomlFile
from station.wire import Snapshot
from tests.ledger.ledgers import AT, a_batch, opened, tamper
from tests.service.daemons import ROOT, Daemon, station

ORDERS = "\x1b[2J\x1b]0;owned\x07\x9b31m\u202etfel\r\x00 [/] [bold]"
"""Orders to a terminal, a change of reading direction, and another program's markup."""


def harmless(*texts: str) -> bool:
    """No sign in it is an order to a terminal."""
    return not any(
        unicodedata.category(sign) in ("Cc", "Cf", "Cs") and sign != "\n"
        for text in texts
        for sign in text
    )


def texts(value: Any) -> str:
    """Every text in a value, as it is."""
    if isinstance(value, dict):
        return " ".join(texts(item) for pair in value.items() for item in pair)
    if isinstance(value, list):
        return " ".join(map(texts, value))
    return str(value)


@pytest.fixture(scope="module")
def ledger(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger whose note and names hold orders, as a program of another time may have let them."""
    path = tmp_path_factory.mktemp("text") / "a.ledger"
    book = opened(path)
    book.append(a_batch(), AT)
    pour = ev.PourEnded(
        f"salt {ORDERS}", "fine", None, Decimal(0), False, Decimal(1), Decimal(2), ORDERS
    )
    book.append([("b-1", ev.Noted(f"first line\nsecond {ORDERS}", ORDERS)), (None, pour)], AT)
    book.close()
    return path


def test_signs_stay_and_orders_become_their_escapes() -> None:
    assert shown("süß 1\u202f000 g, Größe µ") == "süß 1\u202f000 g, Größe µ"
    assert shown("a\x1b[2Jb\x9bc\u202ed\ne") == r"a\x1b[2Jb\x9bc\u202ed\ne"
    assert shown("\udc80") == r"\udc80"  # a byte of a file's name that is no UTF-8
    assert harmless(shown(ORDERS), json_text(ORDERS))
    assert json.loads(json_text({"text": ORDERS, "\x7f": "\U000e0001"})) == {
        "text": ORDERS, "\x7f": "\U000e0001",
    }  # fmt: skip


def test_lines_of_a_text_stay_lines(capsys: pytest.CaptureFixture[str]) -> None:
    say("one\ntwo\x1b[A")
    assert capsys.readouterr().out == "one\ntwo\\x1b[A\n"


def test_a_note_with_markup_or_orders_leaves_its_batch_readable(ledger: Path) -> None:
    sheet = station("audit", "batch", "b-1", "--ledger", str(ledger))
    assert (sheet.returncode, sheet.stderr) == (0, "")
    assert r"first line\nsecond \x1b[2J" in sheet.stdout.replace("\n", "")
    assert "[/]" in sheet.stdout
    assert harmless(sheet.stdout)
    pours = station("audit", "pours", "--ledger", str(ledger))
    assert (pours.returncode, harmless(pours.stdout)) == (0, True)
    for words in (("audit", "batch", "b-1"), ("audit", "pours")):
        as_json = station(*words, "--ledger", str(ledger), "--json")
        assert harmless(as_json.stdout)
        assert ORDERS in texts(json.loads(as_json.stdout))


def test_a_broken_row_is_told_without_its_orders(ledger: Path, tmp_path: Path) -> None:
    path = tmp_path / "a.ledger"
    path.write_bytes(ledger.read_bytes())
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.execute("UPDATE projection SET writing = 1")
        db.execute("UPDATE addition SET lot = ? WHERE name = 'salt'", [ORDERS])
        db.execute("UPDATE projection SET writing = 0")
    for words in (("ledger", "verify"), ("ledger", "repair"), ("audit", "batch", "b-1"), ("run",)):
        told = station(*words, "--ledger", str(path))
        assert told.returncode == (3 if words == ("run",) else 1), told.stderr
        assert harmless(told.stdout, told.stderr)
        assert "lot is" in told.stdout + told.stderr


def test_frames_and_the_log_reach_the_terminal_as_signs(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert dump(b"\x1b[2J\x9b") == f"{'1b 5b 32 4a 9b':<48} |.[2J.|"
    for as_json in (False, True):
        Printer(as_json).items([Fault(f"no frame: {ORDERS}", 0.0, ORDERS.encode())], 0.0)
    assert harmless(capsys.readouterr().out)
    record = logging.LogRecord("station", logging.INFO, "", 0, "heard %s\nnext", (ORDERS,), None)
    told = _Plain("%(message)s").format(record)
    assert (told.endswith("\nnext"), harmless(told)) == (True, True)


def test_a_file_of_orders_is_told_as_signs(tmp_path: Path) -> None:
    file = tmp_path / "ring\x1b[2J.toml"
    file.write_text(f'name = "ring"\n"key\\u001b[2J" = 1\nproduct = "{ORDERS[8:20]}"\n')
    checked = station("formula", "check", str(file))
    assert (checked.returncode, harmless(checked.stdout, checked.stderr)) == (2, True)
    missing = station("formula", "check", "no\udc80such\x1bfile")
    assert (missing.returncode, harmless(missing.stderr)) == (2, True)
    assert "Traceback" not in missing.stderr


# files that are nobody's


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


def test_a_snapshot_of_orders_is_followed_as_signs(tmp_path: Path) -> None:
    path = tmp_path / "s"
    shown = Snapshot(word="WAIT", sentence=ORDERS, next=ORDERS, batch=ORDERS, formula=ORDERS)
    body = msgspec.json.encode({"jsonrpc": "2.0", "id": 1, "result": shown}) + b"\n"
    with answering(path, body):
        for words in (("state",), ("state", "--json")):
            told = station(*words, "--socket", str(path))
            assert (told.returncode, harmless(told.stdout)) == (0, True), told.stderr
        follow = subprocess.Popen(
            [sys.executable, "-m", "station", "follow", "--socket", str(path)],
            cwd=ROOT, stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        assert follow.stdout is not None
        with follow.stdout as lines:
            assert harmless(lines.readline(), lines.readline())
            follow.terminate()
        follow.wait(timeout=10)
