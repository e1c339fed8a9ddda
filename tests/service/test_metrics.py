"""What the station counts, read back by a parser of OpenMetrics that is not ours."""

import asyncio
import json
from pathlib import Path

import pytest
from prometheus_client.openmetrics.parser import text_string_to_metric_families

from drivers.reading import Fault
from station.pan.view import REASONS
from station.resources import Config
from station.service.channel import Channel
from station.service.clock import Clock
from station.service.metrics import EDGES_S, Counts, follow, told, write
from station.service.openmetrics import Family, Histogram, counter, text
from station.settings import load_settings
from station.weighing import commands as do
from station.wire import Ledger, Snapshot
from tests.service.daemons import Daemon, station
from tests.service.test_showing import a_desk, a_reading


def read(content: str) -> dict[tuple[str, tuple[str, ...]], float]:
    """Every sample by its name and the values of its labels, as the reference parser has it."""
    return {
        (sample.name, tuple(sample.labels.values())): sample.value
        for family in text_string_to_metric_families(content)
        for sample in family.samples
    }


async def test_readings_faults_and_refusals_are_counted_by_what_they_are_of(tmp_path: Path) -> None:
    desk, writer = await a_desk(tmp_path, Clock())
    (fine,) = [s for s in load_settings(Config()).scales if s.scale.name == "fine"]
    channel = Channel(fine, Clock(), desk)
    channel.take([a_reading("0.00", 1.0), Fault("no frame", 1.1, b"x"), a_reading("0.00", 1.2)], 2)
    desk.reading("bench", a_reading("0", 1.0))
    for _ in range(2):
        with pytest.raises(do.Refusal) as caught:
            await desk.submit(do.Accept("salt"))
    found = read(desk.metrics())
    await writer.close()
    assert found[("station_readings_total", ("fine",))] == 2
    assert found[("station_readings_total", ("bench",))] == 1
    assert found[("station_faults_total", ("fine",))] == 1
    assert found[("station_refusals_total", (caught.value.code,))] == 2
    assert found[("station_ledger_events", ())] == writer.seq
    assert found[("station_ledger_bytes", ())] == writer.path.stat().st_size


def test_a_file_is_replaced_whole_and_others_may_read_it(tmp_path: Path) -> None:
    path = tmp_path / "bench.prom"
    write(path, "one")
    write(path, "two")
    assert path.read_text() == "two"
    assert path.stat().st_mode & 0o777 == 0o644
    assert [found.name for found in tmp_path.iterdir()] == ["bench.prom"]


async def test_a_file_that_cannot_be_written_is_logged_once_and_written_when_it_can(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    folder = tmp_path / "not yet"
    running = asyncio.create_task(follow(folder / "b.prom", lambda: "text", Clock(1000.0)))
    await asyncio.sleep(0.2)
    folder.mkdir()
    for _ in range(100):
        await asyncio.sleep(0.02)
        if (folder / "b.prom").exists():
            break
    running.cancel()
    assert (folder / "b.prom").read_text() == "text"
    assert len(caplog.records) == 1 and "cannot be written" in caplog.text


def test_every_reason_to_block_is_there_and_those_that_are_so_are_one() -> None:
    shown = Snapshot(blocked=("ledger",), ledger=Ledger(7, "aa", 3))
    found = read(told(Counts(), shown, Path("/nowhere/a.ledger")))
    blocked = {labels[0]: v for (name, labels), v in found.items() if name == "station_blocked"}
    assert blocked == {reason: float(reason == "ledger") for reason in REASONS}
    assert found[("station_ledger_events", ())] == 7
    assert found[("station_unverified_events", ())] == 3
    assert ("station_ledger_bytes", ()) not in found


def test_a_value_on_an_edge_is_in_its_bucket_and_each_bucket_has_all_below_it() -> None:
    histogram = Histogram((0.1, 0.5))
    for value in (0.1, 0.11, 0.5, 2.0):
        histogram.take(value)
    family = Family("x_seconds", "histogram", "x", histogram.samples(), "seconds")
    assert read(text([family])) == {
        ("x_seconds_bucket", ("0.1",)): 1,
        ("x_seconds_bucket", ("0.5",)): 3,
        ("x_seconds_bucket", ("+Inf",)): 4,
        ("x_seconds_count", ()): 4,
        ("x_seconds_sum", ()): pytest.approx(2.71),
    }
    assert list(EDGES_S) == sorted(EDGES_S)


@pytest.mark.parametrize("name", ['a "b"', "a\\b", "a\nb", "a\\nb", "Waage für 1/2 kg", "a,b={}"])
def test_any_name_of_a_scale_is_read_back_as_it_is(name: str) -> None:
    found = read(text([counter("station_readings", 'a "help" \\ of\nit', "scale", {name: 5})]))
    assert found == {("station_readings_total", (name,)): 5}


def test_the_verb_and_the_file_tell_of_a_running_station(tmp_path: Path) -> None:
    written = tmp_path / "bench.prom"
    daemon = Daemon(tmp_path, f'simulated = true\nmetrics = "{written}"').start()
    try:
        daemon.call("open", formula="garlic-ring", meat="12 kg", who="Ansel")
        printed = station("metrics", "--socket", str(daemon.socket))
        as_json = station("metrics", "--socket", str(daemon.socket), "--json")
    finally:
        daemon.stop()
    found = read(printed.stdout)
    assert found[("station_decisions_total", ("Open",))] == 1
    assert found[("station_commit_seconds_count", ())] >= 1
    assert found[("station_commit_seconds_sum", ())] > 0
    assert found[("station_ledger_events", ())] > 1
    assert read(json.loads(as_json.stdout)["text"]).keys() == found.keys()
    assert ("station_ledger_events", ()) in read(written.read_text())
