"""A power cut and a failing disk, a small run; the programs beside this file run them whole.

STATION_SEED chooses the moments; it is printed.
"""

import os
import sys
from pathlib import Path

import pytest

from tests.torture import faults, full_disk, power_cut
from tests.torture.disk import NoCompiler, Op, lossy, unsynced

SEED = int(os.environ.get("STATION_SEED", "1"))

pytestmark = [pytest.mark.slow, pytest.mark.timeout(180)]


def say(capsys: pytest.CaptureFixture[str], words: object) -> None:
    with capsys.disabled():
        print(f"seed {SEED}: {words}")


def test_what_a_power_cut_leaves_opens_as_acknowledged_or_as_the_one_after_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    try:
        told, wrong = power_cut.run(tmp_path, 12, 150, SEED)
    except NoCompiler as reason:
        pytest.skip(str(reason))
    assert not wrong
    assert all(told[f"{how}, acknowledged"] and told[f"{how}, next"] for how in power_cut.HOW)
    say(capsys, dict(told))


def test_a_ledger_that_is_not_synced_is_found_out_by_a_power_cut(tmp_path: Path) -> None:
    """Else the check above would see nothing."""
    try:
        _, wrong = power_cut.run(tmp_path, 6, 150, SEED, careless=True)
    except NoCompiler as reason:
        pytest.skip(str(reason))
    assert wrong


@pytest.mark.parametrize(("kinds", "each"), [("rwt", 6), ("s", None)])
def test_a_disk_that_fails_at_some_call_loses_doubles_and_invents_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], kinds: str, each: int | None
) -> None:
    """At every sync: after one that failed SQLite's log holds what was refused, whole."""
    try:
        found = faults.tortured(tmp_path, each, SEED, kinds)
    except NoCompiler as reason:
        pytest.skip(str(reason))
    assert not found["wrong"]
    assert len(found["failed"]) == len([kind for kind, _ in faults.KINDS if kind in kinds])
    assert all(failed >= 8 for failed in found["failed"].values())
    say(capsys, found["failed"])


@pytest.mark.parametrize("disk", ["small", "limit"])
def test_a_disk_that_gets_full_at_some_write_loses_doubles_and_invents_nothing(
    tmp_path: Path, disk: str
) -> None:
    words = [sys.executable, full_disk.__file__, "--step", "4"]
    words += ["--no-mount"] if disk == "limit" else []
    found = full_disk.alone(words)
    assert not found["wrong"]
    assert 0 < found["refused"] < found["runs"]


def test_what_is_synced_is_on_the_disk_and_what_is_not_may_be_lost() -> None:
    """The model itself: a file by its own sync, a name by its folder's."""
    ops = [
        Op("w", "/d/a", 0, b"1"),
        Op("s", "/d/a", 0, b""),
        Op("w", "/d/a", 1, b"2"),
        Op("m", "/d/a", 0, b"/d/b"),
        Op("s", "/d", 0, b""),
        Op("u", "/d/b", 0, b""),
    ]
    assert list(unsynced(ops)) == [2, 5]
    assert list(unsynced(ops[:4])) == [2, 3]
    contents = {str(lossy(ops[:5], seed).content) for seed in range(20)}
    assert contents == {str({"/d/b": b"1"}), str({"/d/b": b"12"})}
