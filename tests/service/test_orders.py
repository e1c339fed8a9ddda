"""A scale that is asked and told through the whole daemon."""

import os
import pty
import threading
import time
import tty
from pathlib import Path

import pytest

from station.client import ClientError
from tests.service.daemons import Daemon


class Asked:
    """Answers W with `weight`; says that it zeroed itself as long as `obeys`."""

    def __init__(self, link: Path) -> None:
        self.weight, self.obeys, self.told = b"S +    0.40  g G\r\n", True, b""
        self._master, slave = pty.openpty()
        tty.setraw(slave)
        link.symlink_to(os.ttyname(slave))
        self._slave = slave
        threading.Thread(target=self._answer, daemon=True).start()

    def _answer(self) -> None:
        while True:
            try:
                heard = os.read(self._master, 64)
                for question in heard.split(b"\r"):
                    if question == b"W":
                        os.write(self._master, self.weight)
                    elif question and self.obeys:
                        self.told += question
                        os.write(self._master, question + b" OK\r\n")
            except OSError:
                return

    def close(self) -> None:
        os.close(self._slave)
        os.close(self._master)


def test_an_empty_pan_is_zeroed_and_the_ledger_knows(tmp_path: Path) -> None:
    daemon, scale = Daemon(tmp_path), Asked(tmp_path / "fine")
    text = (daemon.config / "station.toml").read_text()
    text = text.replace('"sma-scp-0499"', '"asked-by-letter"', 1)
    (daemon.config / "station.toml").write_text(text)
    daemon.start()
    try:
        for _ in range(100):
            shown = daemon.call("state")["scales"]["fine"]
            if shown["settled"]:
                break
            time.sleep(0.05)
        assert (shown["gross_g"], shown["settled"]) == ("0.4", True)
        assert daemon.call("zero", scale="fine")["answer"] == "fine: zero is done"
        assert scale.told == b"Z"
        assert daemon.call("state")["ledger"]["seq"] == 3  # born, the scale, its zero
        scale.obeys = False
        with pytest.raises(ClientError, match="did not say that it did"):
            daemon.call("clear-tare", scale="fine")
        with pytest.raises(ClientError, match="cable is out"):
            daemon.call("zero", scale="bench")
        scale.weight = b"S +  131.20  g G\r\n"
        time.sleep(2)
        with pytest.raises(ClientError, match="not empty"):
            daemon.call("zero", scale="fine")
    finally:
        daemon.stop()
        scale.close()
