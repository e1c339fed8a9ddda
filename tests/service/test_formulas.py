"""The formulas that can be opened at the bench follow their files."""

import asyncio
from pathlib import Path

import pytest

from station.resources import Config
from station.service.clock import Clock
from station.service.formulas import follow
from station.settings import load_settings


class Desk:
    """Takes down what is offered."""

    def __init__(self) -> None:
        self.offered: list[tuple[str, ...]] = []

    def offer_formulas(self, names: tuple[str, ...]) -> None:
        self.offered.append(tuple(names))

    async def until(self, count: int) -> tuple[str, ...]:
        for _ in range(500):
            if len(self.offered) >= count:
                return self.offered[-1]
            await asyncio.sleep(0.01)
        raise AssertionError(self.offered)


async def test_what_passes_the_check_is_offered_and_again_when_a_file_changes(
    tmp_path: Path,
) -> None:
    (tmp_path / "formulas").mkdir()
    config, desk = Config(tmp_path), Desk()
    ring = config.read("formulas/garlic-ring.toml")[0]
    (tmp_path / "formulas" / "broken.toml").write_text("name = 3")
    (tmp_path / "formulas" / "too-strong.toml").write_text(ring.replace('"0.20 %"', '"0.60 %"'))
    task = asyncio.create_task(follow(config, load_settings(config), Clock(100), desk))  # type: ignore[arg-type]
    try:
        assert await desk.until(1) == ("garlic-ring", "herb-link")
        await asyncio.sleep(0.2)
        assert len(desk.offered) == 1, "nothing changed"
        (tmp_path / "formulas" / "coarse-ring.toml").write_text(ring)
        assert await desk.until(2) == ("coarse-ring", "garlic-ring", "herb-link")
        (tmp_path / "formulas" / "coarse-ring.toml").unlink()
        assert await desk.until(3) == ("garlic-ring", "herb-link")
    finally:
        task.cancel()


async def test_files_that_cannot_be_read_are_said_once_and_tried_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """Without descriptors a folder cannot be listed; the station must not end with it."""
    config, desk = Config(tmp_path), Desk()
    broken = [True]

    def names(settings_config: Config, settings: object) -> tuple[str, ...]:
        if broken[0]:
            raise OSError(24, "Too many open files")
        return ("garlic-ring",)

    monkeypatch.setattr("station.service.formulas.openable", names)
    settings = load_settings(config)
    task = asyncio.create_task(follow(config, settings, Clock(100), desk))  # type: ignore[arg-type]
    try:
        await asyncio.sleep(0.3)
        assert not task.done() and not desk.offered
        assert [r.message for r in caplog.records if r.name == "station"] == [
            "the formulas cannot be read: Too many open files"
        ]
        broken[0] = False
        assert await desk.until(1) == ("garlic-ring",)
    finally:
        task.cancel()
