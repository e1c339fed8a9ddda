"""Text is text: whatever a note, a file, a label, a frame or a wrong daemon holds, the command line
prints it as signs."""

import json
import logging
import sqlite3
import subprocess
import sys
import unicodedata
from contextlib import closing
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
from station.wire import Snapshot
from tests.cli.test_ends_in_a_sentence import answering
from tests.ledger.ledgers import AT, a_batch, opened
from tests.service.daemons import ROOT, station

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
