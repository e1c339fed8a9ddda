"""The station as an appliance: what the service manager hears, what the unit allows, what helps."""

import asyncio
import os
import shutil
import socket
import subprocess
import sys
import threading
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from drivers.link import Link, PortSettings
from station.cli import main
from station.resources import default_ledger, default_socket
from station.service.channel import HANGS_S
from station.service.clock import Clock
from station.service.notify import Notifier
from tests.service.daemons import ROOT, Daemon, station

UNITS = ROOT / "config" / "systemd"


def hear(path: Path) -> socket.socket:
    heard = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    heard.bind(str(path))
    heard.settimeout(10)
    return heard


def test_the_daemon_tells_ready_feeds_the_watchdog_and_tells_when_it_stops(tmp_path: Path) -> None:
    with hear(tmp_path / "n") as heard:
        daemon = Daemon(tmp_path)
        daemon.environment = {"NOTIFY_SOCKET": str(tmp_path / "n"), "WATCHDOG_USEC": "300000"}
        daemon.start()
        try:
            assert heard.recv(999).startswith(b"READY=1\nSTATUS=ledger ")
            assert [heard.recv(999) for _ in range(3)] == [b"WATCHDOG=1"] * 3
        finally:
            assert daemon.stop() == 0
        last = b""
        while last != b"STOPPING=1":
            last = heard.recv(999)


def test_a_manager_that_is_not_there_or_asks_for_nothing_is_no_trouble(tmp_path: Path) -> None:
    Notifier({}).tell("READY=1")
    Notifier({"NOTIFY_SOCKET": str(tmp_path / "nobody")}).tell("READY=1")
    assert Notifier({"WATCHDOG_USEC": "6000000"}).watchdog_s == 6
    assert Notifier({"WATCHDOG_USEC": "6000000", "WATCHDOG_PID": "1"}).watchdog_s is None
    with hear(tmp_path / "n") as heard:
        Notifier({"NOTIFY_SOCKET": str(tmp_path / "n")}).tell("A=1", "B=2")
        assert heard.recv(99) == b"A=1\nB=2"


async def test_a_port_whose_open_hangs_starves_the_watchdog() -> None:
    """An open that never returns, as with a driver that lost its adapter."""
    clock = Clock(speed=1000)
    link = Link(PortSettings("/nowhere", 9600, "8N1"), clock, lambda *_: None, lambda _: None)
    assert link.opening_s == 0
    hangs = threading.Event()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("drivers.link.open_port", lambda settings: hangs.wait())
        task = asyncio.ensure_future(link.run())
        await asyncio.sleep(0.05)
        assert link.opening_s > HANGS_S
        task.cancel()
        hangs.set()
        await asyncio.gather(task, return_exceptions=True)
    assert link.opening_s == 0


@pytest.mark.skipif(
    not shutil.which("systemd-analyze"), reason="no systemd-analyze on this machine"
)
def test_the_unit_is_hardened(tmp_path: Path) -> None:
    unit = UNITS / "bench-weighing-station.service"
    command = ["systemd-analyze", "security", "--offline=true", "--threshold=10", str(unit)]
    result = subprocess.run(command, capture_output=True, text=True, check=False)
    assert result.returncode == 0, result.stdout[-2000:]
    display = tmp_path / "bench-weighing-display@tty1.service"
    shutil.copy(UNITS / "bench-weighing-display@.service", display)
    command[-1], command[-2] = str(display), "--threshold=20"
    assert subprocess.run(command, capture_output=True, check=False).returncode == 0


def test_the_timer_s_backup_is_hardened_too_and_goes_where_the_settings_may_say() -> None:
    unit = UNITS / "bench-weighing-backup.service"
    text, timer = unit.read_text(), unit.with_suffix(".timer").read_text()
    own = (UNITS / "bench-weighing-station.service").read_text()
    assert "\nReadWritePaths=/mnt/bench-backup\n" in text
    assert "\nReadWritePaths=-/mnt/bench-backup\n" in own
    assert 'backup_to = "/mnt/bench-backup"' in (ROOT / "config" / "station.toml").read_text()
    assert "\nUser=weighing\n" in text and "\nPersistent=true\n" in timer
    (words,) = [line for line in text.splitlines() if line.startswith("ExecStart=")]
    (run,) = [line for line in own.splitlines() if line.startswith("ExecStart=")]
    assert words == run.replace("station run", "station ledger backup")
    if shutil.which("systemd-analyze"):
        for command in (
            ["security", "--offline=true", "--threshold=15", str(unit)],
            ["calendar", "*-*-* 21:00"],
        ):
            done = subprocess.run(["systemd-analyze", *command], capture_output=True, check=False)
            assert done.returncode == 0, done.stdout[-2000:]
    assert "\nOnCalendar=*-*-* 21:00\n" in timer


def test_the_machine_s_own_folders_are_found_by_the_daemon_and_by_its_clients(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("STATE_DIRECTORY", str(tmp_path))
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(tmp_path))
    assert default_ledger() == tmp_path / "station.ledger"
    assert default_socket() == tmp_path / "station.sock"


def test_the_doctor_names_what_is_wrong_and_what_to_do(tmp_path: Path) -> None:
    daemon = Daemon(tmp_path)
    where = ("--config", str(daemon.config), "--ledger", str(daemon.ledger), "--socket",
             str(daemon.socket))  # fmt: skip
    before = station("doctor", *where)
    assert before.returncode == 1
    assert "MEND  scale fine: its cable is out" in before.stdout
    assert "next: station run" in before.stdout
    daemon.start()
    try:
        running = station("doctor", *where)
        assert "well  station: it answers" in running.stdout
        assert "well  ledger:" in running.stdout
        port = tmp_path / "bench"
        said = f"MEND  scale bench: bench: its cable is out, at {port}"
        assert said in running.stdout, "as much as without the station"
        assert f"next: plug it in: {port} does not exist" in running.stdout
    finally:
        daemon.stop()
    (daemon.config / "station.toml").write_text("nme = 1\n")
    wrong = station("doctor", *where)
    assert "MEND  configuration:" in wrong.stdout and wrong.returncode == 1


def test_manual_pages_come_from_the_help_of_every_verb(tmp_path: Path) -> None:
    result = CliRunner().invoke(main, ["manual", str(tmp_path)])
    assert result.exit_code == 0, result.output
    pages = {path.name for path in tmp_path.iterdir()}
    for verb in [*main.list_commands(click.Context(main)), "scale-lag", "lot-review"]:
        assert f"station-{verb}.1" in pages, verb
    text = (tmp_path / "station-formula-sheet.1").read_text()
    assert "for a power cut" in text and "Example:" in text


def test_completion_knows_the_verbs_without_loading_any() -> None:
    environment = {**os.environ, "_STATION_COMPLETE": "bash_complete", "COMP_CWORD": "1",
                   "COMP_WORDS": "station tak"}  # fmt: skip
    code = (
        "import sys; sys.argv = ['station']\n"
        "from station.cli import main\n"
        "try: main(prog_name='station')\n"
        "finally: print(sorted({m for m in sys.modules if m in ('pint', 'rich', 'msgspec')}))"
    )
    result = subprocess.run(
        [sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=False
    )
    assert result.stdout.splitlines() == ["plain,take-up", "[]"]


def test_the_rules_come_after_those_that_find_the_adapters_and_the_drivers_before_the_unit() -> (
    None
):
    """Variables a rule reads must be set by then; device groups are looked up at the start."""
    (rules,) = (ROOT / "config" / "udev").glob("*.rules")
    assert rules.name > "60-serial.rules"
    unit = (UNITS / "bench-weighing-station.service").read_text()
    for module, group in (("usbserial", "ttyUSB"), ("cdc_acm", "ttyACM")):
        assert f"DeviceAllow=char-{group} rw" in unit
        assert unit.count(f"modprobe@{module}.service") == 2
