"""Who waits at a terminal sees how far a verification is; a pipe sees nothing of it."""

import sys
from pathlib import Path

import pexpect

from station.ledger.reading import open_reader
from station.ledger.verify import verify
from station.ledger.walk import STEP
from tests.ledger.ledgers import AT, note, opened, write
from tests.service.daemons import ROOT, station


def a_ledger(folder: Path) -> Path:
    path = folder / "a.ledger"
    write(path)
    book = opened(path)
    book.append([note(f"note {number}")[0] for number in range(2 * STEP)], AT)
    book.close()
    return path


def test_a_verification_tells_every_step_how_far_it_is(tmp_path: Path) -> None:
    seen: list[int] = []
    with open_reader(a_ledger(tmp_path)) as db:
        assert verify(db, seen.append).ok
    assert seen == [STEP, 2 * STEP]


def test_a_terminal_has_a_bar_and_a_pipe_has_none(tmp_path: Path) -> None:
    path = a_ledger(tmp_path)
    words = ["-m", "station", "ledger", "verify", "--ledger", str(path)]
    terminal = pexpect.spawn(sys.executable, words, cwd=str(ROOT), timeout=30, encoding="utf-8")
    terminal.expect(r"verifying +\[#+")
    terminal.expect("is whole")
    terminal.close()
    piped = station(*words[2:])
    assert (piped.returncode, piped.stderr) == (0, "")
