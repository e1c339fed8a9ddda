"""A daemon that starts with another scale under a name asks before it weighs on it."""

import time
from pathlib import Path

from tests.drivers.test_link import Port
from tests.service.daemons import Daemon

FRAME = b"\n 0G  " + b"     98.45" + b"g  \r"


def test_a_start_on_another_scale_asks_and_goes_on_once_it_is_confirmed(tmp_path: Path) -> None:
    daemon, port = Daemon(tmp_path), Port(tmp_path / "fine")
    port.plug()

    def state() -> dict[str, object]:
        """Once the scale has answered."""
        for _ in range(200):
            port.send(FRAME)
            found = daemon.call("state")
            if found["scales"]["fine"]["gross_g"] is not None:
                return found
            time.sleep(0.02)
        raise AssertionError(found)

    daemon.start()
    try:
        assert state()["asks"] is None
        daemon.stop()
        config = daemon.config / "station.toml"
        config.write_text(config.read_text().replace('"0.05 g"', '"0.01 g"'))
        daemon.start()
        found = state()
        assert (found["word"], found["alarm"]) == ("ANSWER", True)
        asks = found["asks"]
        assert asks["question"] == (  # type: ignore[index]
            "another scale answers as fine: division 0.01 g, was 0.05 g"
        )
        (answer,) = asks["answers"]  # type: ignore[index]
        daemon.call(answer["verb"], **answer["params"])
        assert state()["word"] == "READY"
        daemon.stop()
        daemon.start()
        assert state()["word"] == "READY"
    finally:
        daemon.stop()
        port.pull()
