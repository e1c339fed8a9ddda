"""The daemon's life, and what it says when the world is not as it should be."""

import json
import os
import resource
import signal
import socket
import sqlite3
import stat
import time
from collections.abc import Iterator
from contextlib import closing, suppress
from pathlib import Path

import pytest

from station.client import Client, ClientError
from station.ledger.reading import open_reader
from station.ledger.verify import verify
from station.service.session import WAITS_S
from tests.service.daemons import Daemon, station

PREMIX = {"line": "curing premix", "lot": "P-41", "contains": ["sodium nitrite=6.25 %"]}


@pytest.fixture
def daemon(tmp_path: Path) -> Iterator[Daemon]:
    daemon = Daemon(tmp_path).start()
    yield daemon
    daemon.stop()


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Daemon]:
    """One daemon for the tests that leave it as it was."""
    daemon = Daemon(tmp_path_factory.mktemp("shared")).start()
    yield daemon
    daemon.stop()


def opened(daemon: Daemon) -> str:
    return str(daemon.call("open", formula="garlic-ring", meat="12 kg", who="Ansel")["batch"])


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_it_starts_without_a_scale_and_stops_cleanly(tmp_path: Path, number: int) -> None:
    daemon = Daemon(tmp_path).start()
    shown = daemon.call("state")
    assert shown["scales"]["fine"]["troubles"] == ["link"]
    assert daemon.stop(number) == 0
    assert not daemon.socket.exists()
    assert not Path(f"{daemon.ledger}-wal").exists()


def test_the_same_batch_at_the_same_line_after_sigkill(tmp_path: Path) -> None:
    daemon = Daemon(tmp_path).start()
    batch = opened(daemon)
    before = daemon.call("state")
    daemon.stop(signal.SIGKILL)
    daemon.start()
    after = daemon.call("state")
    keys = ("batch", "line", "phase", "target_g", "role", "standing")
    assert {k: after[k] for k in keys} == {k: before[k] for k in keys}
    assert after["batch"] == batch
    daemon.stop()


def test_a_second_daemon_on_the_same_ledger_is_refused(daemon: Daemon) -> None:
    words = [*daemon.words[:-1], str(daemon.folder / "other.sock")]
    result = station(*words)
    assert result.returncode == 3
    assert "another station holds" in result.stderr
    assert "next:" in result.stderr
    assert daemon.call("state")["phase"] is None


def test_a_second_daemon_does_not_take_the_first_ones_socket(daemon: Daemon) -> None:
    words = [*daemon.words]
    words[4] = str(daemon.folder / "other.ledger")
    result = station(*words)
    assert (result.returncode, "another station answers there" in result.stderr) == (3, True)
    assert daemon.call("state")["phase"] is None


def test_a_wrong_configuration_names_every_mistake(tmp_path: Path) -> None:
    daemon = Daemon(tmp_path, extra="simulatd = true\nport = 3")
    result = station(*daemon.words)
    assert result.returncode == 2
    assert "did you mean 'simulated'?" in result.stderr
    assert "Traceback" not in result.stderr
    assert not daemon.ledger.exists()


def test_a_ledger_of_a_newer_version_is_refused(tmp_path: Path) -> None:
    daemon = Daemon(tmp_path)
    with closing(sqlite3.connect(daemon.ledger)) as db:
        db.execute("PRAGMA user_version = 7")
    result = station(*daemon.words)
    assert (result.returncode, "version 7" in result.stderr) == (3, True)


def test_a_fast_clock_is_refused_on_a_real_ledger(tmp_path: Path) -> None:
    daemon = Daemon(tmp_path, extra="simulated = false")
    result = station(*daemon.words, "--speed", "10")
    assert (result.returncode, "simulations" in result.stderr) == (3, True)


def test_the_socket_is_for_the_group_and_the_user_is_recorded(daemon: Daemon) -> None:
    assert stat.S_IMODE(daemon.socket.stat().st_mode) == 0o660
    opened(daemon)
    with open_reader(daemon.ledger) as db:
        (body,) = db.execute("SELECT body FROM event WHERE kind = 'batch-opened'").fetchone()
    assert json.loads(body)["uid"] == os.getuid()


@pytest.mark.parametrize(
    ("rubbish", "code"),
    [
        (b"\xff\xfe\x00 nonsense\n", -32700),
        (b"[1, 2]\n", -32600),
        (b'{"jsonrpc": "2.0", "id": 1, "method": "acept"}\n', -32601),
        (b'{"jsonrpc": "2.0", "id": 1, "method": "accept", "params": {"lin": "x"}}\n', -32602),
        (b'{"jsonrpc": "2.0", "id": 1, "method": "accept", "params": {"line": 5}}\n', -32602),
        (
            b'{"jsonrpc": "2.0", "id": 1, "method": "note", "params": {"text": "a\\u0000b"}}\n',
            -32602,
        ),
        (b'{"jsonrpc": "2.0", "id": 1, "method": "accept", "params": {"line": "salt"}}\n', 1),
        (b"[" * 60_000 + b"\n", -32700),
        (b"x" * 100_000 + b"\n", -32600),
    ],
)
def test_rubbish_on_the_socket_gets_one_clear_error(
    shared: Daemon, rubbish: bytes, code: int
) -> None:
    with socket.socket(socket.AF_UNIX) as raw:
        raw.settimeout(10)
        raw.connect(str(shared.socket))
        raw.sendall(rubbish)
        reply = json.loads(raw.makefile("rb").readline())
    assert reply["error"]["code"] == code
    assert reply["error"]["message"] and reply["error"]["data"]["next"]
    assert shared.call("state")["word"] == "READY"


def test_half_a_request_and_a_vanished_client_hurt_nobody(shared: Daemon) -> None:
    for _ in range(20):
        raw = socket.socket(socket.AF_UNIX)
        raw.connect(str(shared.socket))
        raw.sendall(b'{"jsonrpc": "2.0", "id": 1, "meth')
        raw.close()
    assert shared.call("state")["word"] == "READY"


def test_follow_tells_every_decision_in_order(daemon: Daemon) -> None:
    with Client(daemon.socket) as client:
        changes = client.changes()
        assert next(changes)["batch"] is None
        opened(daemon)
        for number in range(30):
            daemon.call("note", text=f"note {number}")
        texts, seqs = [], []
        for change in changes:
            seqs.append(change["seq"])
            texts += [e["body"]["text"] for e in change["events"] if e["kind"] == "noted"]
            if len(texts) == 30:
                break
    assert texts == [f"note {number}" for number in range(30)]
    assert seqs == list(range(1, len(seqs) + 1))


def test_a_client_that_does_not_read_is_closed_and_the_others_go_on(daemon: Daemon) -> None:
    with socket.socket(socket.AF_UNIX) as raw:
        raw.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        raw.connect(str(daemon.socket))
        raw.sendall(b'{"jsonrpc": "2.0", "id": 1, "method": "follow"}\n')
        with Client(daemon.socket) as client:
            for number in range(400):
                client.call("note", {"text": f"{number} " + "x" * 400})
        time.sleep(WAITS_S + 0.5)
        raw.settimeout(5)
        received = 0
        with suppress(ConnectionError):
            while data := raw.recv(65536):
                received += len(data)
    assert received < 400 * 400  # not all that was noted: it was closed, not waited for
    assert daemon.call("state")["word"] == "READY"


@pytest.mark.parametrize(
    ("params", "says"),
    [
        (
            {"formula": "garlic-rnig", "meat": "12 kg", "who": "Ansel"},
            "did you mean 'garlic-ring'?",
        ),
        ({"formula": "../station", "meat": "12 kg", "who": "Ansel"}, "no name of a formula"),
        ({"formula": "broken", "meat": "12 kg", "who": "Ansel"}, "broken.toml:"),
        ({"formula": "unlawful", "meat": "12 kg", "who": "Ansel"}, "is over 156.25 mg/kg"),
        ({"formula": "mistaken", "meat": "12 kg", "who": "Ansel"}, "would bring 1125 mg/kg"),
        ({"formula": "garlic-ring", "meat": "12", "who": "Ansel"}, "a mass with its unit"),
        ({"formula": "garlic-ring", "meat": "12 kg", "mix": "3 kg", "who": "Ansel"}, "one of meat"),
        ({"formula": "garlic-ring", "pieces": "many", "who": "Ansel"}, "whole number"),
        ({"formula": "garlic-ring", "pieces": "４０", "who": "Ansel"}, "whole number"),
        ({"formula": "garlic-ring", "meat": "12 kg", "who": "Ansl"}, "not on the list"),
    ],
)
def test_a_batch_that_cannot_be_opened_says_why(
    shared: Daemon, params: dict[str, str], says: str
) -> None:
    formulas = shared.config / "formulas"
    formulas.mkdir(exist_ok=True)
    ring = Path("config/formulas/garlic-ring.toml").read_text()
    (formulas / "broken.toml").write_text(ring.replace("role =", "rolle =", 1))
    (formulas / "mistaken.toml").write_text(ring.replace('name = "salt"', 'name = "pink salt"'))
    (formulas / "unlawful.toml").write_text(ring.replace('"0.20 %"', '"0.26 %"'))
    with pytest.raises(ClientError) as caught:
        shared.call("open", **params)
    assert says in caught.value.sentence
    assert caught.value.next
    assert shared.call("state")["batch"] is None


def test_a_changed_formula_needs_a_new_revision(daemon: Daemon) -> None:
    opened(daemon)
    daemon.call("abandon", reason="test")
    formulas = daemon.config / "formulas"
    formulas.mkdir()
    ring = Path("config/formulas/garlic-ring.toml").read_text().replace('"0.30 %"', '"0.31 %"')
    (formulas / "garlic-ring.toml").write_text(ring)
    with pytest.raises(ClientError, match="was used with another 'black pepper'"):
        opened(daemon)
    (formulas / "garlic-ring.toml").write_text(ring.replace("revision = 1", "revision = 2"))
    opened(daemon)


def test_a_full_disk_blocks_with_a_sentence_and_goes_on_when_there_is_room(daemon: Daemon) -> None:
    batch = opened(daemon)
    assert daemon.process is not None
    size = max(daemon.ledger.stat().st_size, Path(f"{daemon.ledger}-wal").stat().st_size)
    _, most = resource.prlimit(daemon.process.pid, resource.RLIMIT_FSIZE)
    resource.prlimit(daemon.process.pid, resource.RLIMIT_FSIZE, (size + 4096, most))
    acknowledged = 0
    with pytest.raises(ClientError) as caught:
        for number in range(1000):
            daemon.call("note", text=f"{number} " + "x" * 400)
            acknowledged = number + 1
    assert caught.value.reason == "blocked-ledger"
    shown = daemon.call("state")
    assert (shown["word"], shown["blocked"][0]) == ("BLOCKED", "ledger")
    assert "make room" in shown["next"]
    resource.prlimit(daemon.process.pid, resource.RLIMIT_FSIZE, (most, most))
    for _ in range(100):
        if daemon.call("state")["blocked"][:1] != ["ledger"]:
            break
        time.sleep(0.1)
    daemon.call("note", text="there is room again")
    assert daemon.call("state")["batch"] == batch
    with open_reader(daemon.ledger) as db:
        assert verify(db).ok
        notes = db.execute("SELECT count(*) FROM event WHERE kind = 'noted'").fetchone()[0]
        mended = db.execute("SELECT count(*) FROM event WHERE kind = 'ledger-recovered'").fetchone()
    assert (notes, mended[0]) == (acknowledged + 1, 1)


def test_a_scanned_label_opens_a_lot_with_its_expiry(tmp_path: Path) -> None:
    daemon = Daemon(tmp_path).start()
    try:
        daemon.call("open", formula="garlic-ring", meat="12 kg", who="Ansel")
        strength = ["sodium nitrite=6.25 %"]
        label = "]C1010950600013435217200101\x1d10P-41"
        with pytest.raises(ClientError, match="expired on 2020-01-01"):
            daemon.call("lot", line="curing premix", lot=label, contains=strength)
        again = "]C1010950600013435217490101\x1d10P-41"
        with pytest.raises(ClientError, match="expired on 2020-01-01"):  # of one bag the earlier
            daemon.call("lot", line="curing premix", lot=again, contains=strength)
        good = "]C1010950600013435217490101\x1d10P-42"
        answer = daemon.call("lot", line="curing premix", lot=good, contains=strength)["answer"]
        assert answer == "lot P-42 of curing premix is open"
        with pytest.raises(ClientError, match="missing or changed"):
            daemon.call("lot", line="salt", lot="]C11749")
    finally:
        daemon.stop()
