"""station.toml names another authority while a batch is parked and the station is stopped."""

import json
from pathlib import Path

from station.ledger.reading import open_reader
from tests.service.daemons import Daemon


def rows_of(daemon: Daemon, batch: str) -> list[tuple[str, str]]:
    """(authority, text) of every limit that a batch was opened with."""
    with open_reader(daemon.ledger) as db:
        query = "SELECT body FROM event WHERE kind = 'batch-opened' AND batch = ?"
        (body,) = db.execute(query, (batch,)).fetchone()
    return [(row["authority"], row["text"]) for row in json.loads(body)["limits"]]


def test_a_parked_batch_keeps_its_limits_over_a_restart_under_another_authority(
    tmp_path: Path,
) -> None:
    daemon = Daemon(tmp_path).start()
    try:
        batch = daemon.call("open", formula="garlic-ring", meat="12 kg", who="Ansel")["batch"]
        daemon.call("park")
        assert daemon.stop() == 0
        toml = daemon.config / "station.toml"
        toml.write_text(toml.read_text().replace('authority = "us"', 'authority = "eu"'))
        daemon.start()
        assert daemon.call("state")["parked"]
        answer = daemon.call("take-up", batch=batch)["answer"]
        assert "judged by the limits of us" in answer and "those of eu" in answer
        assert {authority for authority, _ in rows_of(daemon, batch)} == {"us"}
        with open_reader(daemon.ledger) as db:
            told = db.execute("SELECT body FROM event WHERE kind = 'warned'").fetchall()
        assert [json.loads(body)["warning"] for (body,) in told][-1:] == ["authority"]
        daemon.call("abandon", reason="test")
        other = daemon.call("open", formula="herb-link", meat="12 kg", who="Ansel")["batch"]
        assert {authority for authority, _ in rows_of(daemon, other)} == {"eu"}
    finally:
        daemon.stop()
