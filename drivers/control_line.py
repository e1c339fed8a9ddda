"""A control line of a serial port as a switch, for a lamp or a buzzer."""

from typing import Literal

import serial


class ControlLine:
    """RTS or DTR of one port. The port is opened when it is first wanted, and again after it was
    lost; both lines are off when it opens."""

    def __init__(self, port: str, line: Literal["rts", "dtr"]) -> None:
        self._name = port
        self._line = line
        self._port: serial.Serial | None = None

    def switch(self, on: bool) -> None:
        """Set the line. Raises `OSError` (a `SerialException` is one) where the port is gone."""
        try:
            if self._port is None:
                port = serial.Serial(exclusive=True)
                port.port, port.rts, port.dtr = self._name, False, False
                port.open()
                self._port = port
            if self._line == "rts":
                self._port.rts = on
            else:
                self._port.dtr = on
        except OSError:
            self.close()
            raise

    def close(self) -> None:
        """Let the port go; the lines fall."""
        port, self._port = self._port, None
        if port is not None:
            port.close()
