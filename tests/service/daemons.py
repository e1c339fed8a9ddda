"""The real daemon as its own process, for tests."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

from station.client import Client, ClientError

ROOT = Path(__file__).parents[2]


def station(
    *words: str, env_extra: dict[str, str] | None = None
) -> subprocess.CompletedProcess[str]:
    """Run `station` to its end."""
    return subprocess.run(
        [sys.executable, "-m", "station", *words],
        capture_output=True,
        text=True,
        timeout=80,
        cwd=ROOT,
        check=False,
        env={**os.environ, **(env_extra or {})},
    )


class Daemon:
    """`station run` in a folder of its own, with two scales whose ports do not exist yet."""

    def __init__(self, folder: Path, extra: str = "simulated = true") -> None:
        self.folder = folder
        self.socket = folder / "s.sock"
        self.ledger = folder / "t.ledger"
        self.config = folder / "config"
        self.config.mkdir(exist_ok=True)
        scales = "".join(
            f'[[scale]]\nname = "{name}"\nport = "{folder / name}"\ngrammar = "sma-scp-0499"\n'
            f'max = "{most}"\ndivision = "{division}"\nclass = "{accuracy}"\nunit = "g"\n'
            for name, most, division, accuracy in (
                ("fine", "600 g", "0.05 g", "II"),
                ("bench", "15 kg", "2 g", "III"),
            )
        )
        (self.config / "station.toml").write_text(
            f'name = "test"\nauthority = "us"\npeople = ["Ansel", "Brida"]\n{extra}\n{scales}'
        )
        self.words = ["run", "--config", str(self.config), "--ledger", str(self.ledger),
                      "--socket", str(self.socket)]  # fmt: skip
        self.command = [sys.executable, "-m", "station"]
        self.environment: dict[str, str] = {}
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> "Daemon":
        with (self.folder / "log").open("ab") as log:
            self.process = subprocess.Popen(
                [*self.command, *self.words],
                cwd=ROOT,
                stderr=log,
                env={**os.environ, **self.environment},
            )
        for _ in range(400):
            try:
                Client(self.socket).close()
            except ClientError:
                if self.process.poll() is not None:
                    break
                time.sleep(0.025)
            else:
                return self
        raise AssertionError((self.folder / "log").read_text())

    def stop(self, number: int = signal.SIGTERM) -> int:
        assert self.process is not None
        if self.process.poll() is None:
            os.kill(self.process.pid, number)
        return self.process.wait(timeout=20)

    def call(self, method: str, **params: Any) -> dict[str, Any]:
        with Client(self.socket) as client:
            return client.call(method, params)
