"""systemd's notify protocol (sd_notify(3)): datagrams to the socket it names, else nothing."""

import os
import socket
from collections.abc import Mapping


class Notifier:
    """Tells the service manager how the daemon is. `watchdog_s` is how often it wants to hear so,
    None where it does not ask."""

    def __init__(self, environment: Mapping[str, str] = os.environ) -> None:
        self._address = environment.get("NOTIFY_SOCKET", "")
        if self._address.startswith("@"):
            self._address = "\0" + self._address[1:]  # Linux's abstract names
        self.watchdog_s: float | None = None
        mine = environment.get("WATCHDOG_PID", str(os.getpid())) == str(os.getpid())
        if mine and environment.get("WATCHDOG_USEC", "").isdecimal():
            self.watchdog_s = int(environment["WATCHDOG_USEC"]) / 1_000_000

    def tell(self, *lines: str) -> None:
        """Send assignments such as READY=1. A manager that is not there, or takes nothing, is no
        trouble of ours: nothing here waits for it."""
        if not self._address:
            return
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as channel:
            channel.setblocking(False)
            try:
                channel.sendto("\n".join(lines).encode(), self._address)
            except OSError:
                return
