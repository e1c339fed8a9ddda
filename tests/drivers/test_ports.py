"""What an adapter says that it is. The numbers 1209:0001 are set aside for tests (pid.codes)."""

from pathlib import Path

import pytest
from serial.tools.list_ports_common import ListPortInfo

from drivers.ports import identity_of


def adapter(device: str, serial: str | None = "A17", vid: int | None = 0x1209) -> ListPortInfo:
    found = ListPortInfo(device)
    found.vid, found.pid, found.serial_number = vid, 0x0001 if vid else None, serial
    return found


@pytest.fixture
def attached(monkeypatch: pytest.MonkeyPatch) -> list[ListPortInfo]:
    there: list[ListPortInfo] = []
    monkeypatch.setattr("drivers.ports.list_ports.comports", lambda: there)
    return there


def test_an_adapter_is_known_by_its_numbers_behind_any_name(
    tmp_path: Path, attached: list[ListPortInfo]
) -> None:
    device, name = tmp_path / "ttyUSB0", tmp_path / "by-id"
    device.touch()
    name.symlink_to(device)
    attached += [adapter(str(tmp_path / "ttyUSB1"), "B40"), adapter(str(device))]
    assert identity_of(str(name)) == "usb 1209:0001 A17"


def test_one_without_a_serial_number_is_known_by_its_make(attached: list[ListPortInfo]) -> None:
    attached.append(adapter("/dev/ttyUSB0", None))
    assert identity_of("/dev/ttyUSB0") == "usb 1209:0001"


def test_a_port_without_an_adapter_says_nothing(attached: list[ListPortInfo]) -> None:
    attached.append(adapter("/dev/ttyS0", None, vid=None))
    assert identity_of("/dev/ttyS0") is None
    assert identity_of("/dev/ttyS1") is None


def test_an_adapter_that_is_pulled_out_meanwhile_says_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def gone() -> list[ListPortInfo]:
        raise OSError(19, "No such device")

    monkeypatch.setattr("drivers.ports.list_ports.comports", gone)
    assert identity_of("/dev/ttyUSB0") is None
