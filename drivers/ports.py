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
