"""From a formula's name to a batch: what cannot be opened here, and why."""

from pathlib import Path

import pytest

from station.opening import opening
from station.resources import Config, packaged
from station.settings import load_settings
from station.weighing.commands import Refusal


def test_a_formula_written_for_another_law_opens_no_batch(tmp_path: Path) -> None:
    """A batch is judged by the bench's law alone: never by another, and never in silence."""
    (tmp_path / "formulas").mkdir()
    link = (packaged() / "formulas" / "herb-link.toml").read_text("utf-8")
    for authority in ("us", "gb"):
        text = link.replace("\nrevision", f'\nauthority = "{authority}"\nrevision', 1)
        (tmp_path / "formulas" / f"{authority}.toml").write_text(text, "utf-8")
    config = Config(tmp_path)
    settings = load_settings(config)
    opened, _ = opening(config, settings, False, "us", {"meat": "12 kg"}, "Ansel")
    assert (opened.authority, opened.formula.authority) == ("us", "us")
    with pytest.raises(Refusal) as refused:
        opening(config, settings, False, "gb", {"meat": "12 kg"}, "Ansel")
    assert refused.value.code == "authority"
    assert "written for the law of gb, and this bench judges by us" in refused.value.sentence
    assert "--authority us" in refused.value.next
