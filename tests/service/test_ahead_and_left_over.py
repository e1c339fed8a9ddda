"""Bags weighed ahead, a batch from them, what is left of it, and a batch with that in it: the real
daemon on two ptys, killed in between."""

import json
import os
import pty
import signal
import threading
import time
import tty
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from station.client import Client
from tests.service.daemons import Daemon, station

pytestmark = [pytest.mark.slow, pytest.mark.timeout(240)]

LINK = """name = "made link"
revision = 1
product = "fresh comminuted sausage"
[[meat]]
name = "pork"
share = "100 %"
[[addition]]
name = "salt"
amount = "1.8 %"
role = "salt"
[rework]
most = "20 %"
within = "48 h"
"""


class Plate(threading.Thread):
    """A scale on a pty that sends ten times a second what stands on it."""

    def __init__(self, name: Path, decimals: int, division: float) -> None:
        super().__init__(daemon=True)
        self.master, slave = pty.openpty()
        tty.setraw(slave)
        os.set_blocking(self.master, False)
        name.symlink_to(os.ttyname(slave))
        self.decimals, self.division = decimals, division
        self.grams, self.motion = 0.0, b" "
        self.ended = threading.Event()

    def run(self) -> None:
        while not self.ended.wait(0.1):
            weight = f"{self.grams:>10.{self.decimals}f}".encode()
            try:
                os.write(self.master, b"\n 0G" + self.motion + b" " + weight + b"g  \r")
            except OSError:
                continue  # nobody reads just now

    def on_grid(self, grams: float) -> float:
        return round(grams / self.division) * self.division

    def moves(self) -> None:
        """By its division, as a scale does that is touched."""
        for grams in (0.0, self.division, 0.0):
            self.show(grams)

    def show(self, grams: float) -> None:
        self.motion, self.grams = b"M", grams
        time.sleep(0.25)
        self.motion = b" "
        time.sleep(1.4)

    def pour(self, grams: float) -> None:
        """Fill what stands there, as a hand does."""
        begin, self.motion = self.grams, b"M"
        for part in range(1, 38):
            self.grams = self.on_grid(begin + (grams - begin) * part / 37)
            time.sleep(0.1)
        self.show(grams)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[tuple[Daemon, Plate, Plate]]:
    daemon = Daemon(tmp_path)
    (daemon.config / "formulas").mkdir()
    (daemon.config / "formulas" / "link.toml").write_text(LINK)
    fine, coarse = Plate(tmp_path / "fine", 2, 0.05), Plate(tmp_path / "bench", 0, 2)
    for plate in (fine, coarse):
        plate.start()
    daemon.start()
    for plate in (fine, coarse):
        plate.moves()
    yield daemon, fine, coarse
    daemon.stop()
    for plate in (fine, coarse):
        plate.ended.set()


def call(daemon: Daemon, verb: str, **params: Any) -> str:
    with Client(daemon.socket) as client:
        answer: str = client.call(verb, params).get("answer", "")
    return answer


def state(daemon: Daemon) -> dict[str, Any]:
    with Client(daemon.socket) as client:
        return client.call("state")


def audited(daemon: Daemon, *words: str) -> dict[str, Any]:
    answer = station("audit", *words, "--ledger", str(daemon.ledger), "--json")
    found: dict[str, Any] = json.loads(answer.stdout)
    return found


def again(daemon: Daemon) -> None:
    """A power cut."""
    daemon.stop(signal.SIGKILL)
    daemon.start()
    time.sleep(1.5)


def weigh_meat(daemon: Daemon, coarse: Plate, grams: int, end: bool = True) -> None:
    call(daemon, "use", vessel="tub")
    coarse.show(1200)
    coarse.show(1200 + grams)
    call(daemon, "accept", line="pork")
    for shown in (0, 1200, 0):
        coarse.show(shown)
    if end:
        call(daemon, "end", line="pork", sure=True)


def test_bags_ahead_then_a_batch_then_its_leftover_in_another(
    bench: tuple[Daemon, Plate, Plate],
) -> None:
    daemon, fine, coarse = bench
    for name, grams in (("bag 1", 10.0), ("bag 2", 20.0)):
        fine.show(grams)
        call(daemon, "vessel", name=name, scale="fine")
        fine.show(0)
    coarse.show(1200)
    call(daemon, "vessel", name="tub", scale="bench")
    coarse.show(0)

    ahead = call(daemon, "open", formula="link", planned="7kg", count="2", who="Ansel")
    for empty in (10.0, 20.0):
        fine.show(empty)
        fine.pour(empty + 126)
        fine.show(0)
    assert "2 bags are weighed ahead" in state(daemon)["sentence"]
    call(daemon, "close")
    again(daemon)

    first = call(daemon, "open", formula="link", meat="7200 g", who="Ansel")
    weigh_meat(daemon, coarse, 7200)
    assert "top up 3.60 g" in call(daemon, "use", vessel="bag 1")
    fine.show(136)
    assert state(daemon)["word"] == "POUR"
    fine.pour(139.6)
    assert state(daemon)["word"] == "IN BAND"
    fine.show(0)
    fine.show(10.05)
    fine.show(0)
    coarse.show(2200)
    lot = f"{first}-L1"
    assert (
        call(daemon, "leftover", scale="bench", vessel="tub")
        == f"1000 g are kept: write {lot} on it"
    )
    coarse.show(0)
    call(daemon, "close")
    again(daemon)

    second = call(daemon, "open", formula="link", meat="7000 g", who="Ansel")
    weigh_meat(daemon, coarse, 6000, end=False)
    call(daemon, "meat-lot", line="pork", lot=lot)
    weigh_meat(daemon, coarse, 1000)
    told = json.loads(
        station("audit", "batch", second, "--ledger", str(daemon.ledger), "--json").stdout
    )
    (salt,) = told["additions"]
    assert abs(float(salt["target_g"]) - 108) < 0.1  # that of the fresh meat alone
    made_of = audited(daemon, "origin", second)["sources"]
    assert [row["of_batch"] for row in made_of if row["of_batch"]] == [first, first]
    assert [row["lot"] for row in audited(daemon, "stock")["lots"]] == [lot]
    assert audited(daemon, "batch", ahead)["meat_g"] == "0"
    assert station("ledger", "verify", "--ledger", str(daemon.ledger)).returncode == 0
