"""The serial ports of this machine, by names that do not move."""

from dataclasses import dataclass
from pathlib import Path

from serial.tools import list_ports

_FOLDERS = ("/dev/weighing", "/dev/serial/by-id", "/dev/serial/by-path")


@dataclass(frozen=True, slots=True)
class PortName:
    """A port: the best name for station.toml, the kernel's own, and what the adapter says."""

    stable: str
    device: str
    about: str


def identity_of(port: str) -> str | None:
    """What the adapter at a port says that it is: vendor and product by number, and its serial
    number where it has one ("usb 1209:0001 A17"). None where the port has no adapter that says so.
    Adapters of one make without a serial number cannot be told from each other."""
    device = str(Path(port).resolve())
    try:
        there = list_ports.comports()
    except OSError:  # pulled out meanwhile: the link will say so
        return None
    for found in there:
        if found.device == device and found.vid is not None and found.pid is not None:
            return f"usb {found.vid:04x}:{found.pid:04x} {found.serial_number or ''}".strip()
    return None


def ports() -> list[PortName]:
    """Every serial port there is; those with a stable name first."""
    stable: dict[str, str] = {}
    for folder in _FOLDERS:
        for link in sorted(Path(folder).glob("*")):
            stable.setdefault(str(link.resolve()), str(link))
    found = []
    for port in list_ports.comports():
        about = " ".join(part for part in (port.manufacturer, port.product) if part)
        if port.vid is None and not port.product and port.description == "n/a":
            about = "built in"
        name = stable.get(port.device, port.device)
        found.append(PortName(name, port.device, about or port.description))
    return sorted(found, key=lambda port: (port.stable == port.device, port.stable))
