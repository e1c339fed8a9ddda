"""From a formula's name to a batch: what cannot be opened here, and why."""

from pathlib import Path

import pytest

from station.batch.events import BatchOpened
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


def opened(formula: str, ahead: int, tmp_path: Path, text: str | None = None) -> BatchOpened:
    if text is not None:
        (tmp_path / "formulas").mkdir(exist_ok=True)
        (tmp_path / "formulas" / f"{formula}.toml").write_text(text, "utf-8")
    config = Config(tmp_path)
    settings = load_settings(config)
    return opening(config, settings, False, formula, {"meat": "7kg"}, "Ansel", ahead)[0]


def test_bags_are_opened_for_so_many_planned_batches(tmp_path: Path) -> None:
    found = opened("herb-link", 4, tmp_path)
    assert (found.ahead, found.plan_g, found.planned_by) == (4, 28000, "4 bags for meat 7kg")
    assert found.formula.name == "Fenwether herb link weighed ahead"
    names = [line.name for line in found.formula.additions]
    assert names[:5] == [*(f"salt bag {n}" for n in (1, 2, 3, 4)), "black pepper bag 1"]
    assert not [name for name in names if "crumb" in name or "water" in name]
    assert {"salt bag 4", "dried sage bag 1"} <= set(found.bands)
    one = opened("herb-link", 0, tmp_path)
    assert (one.ahead, one.plan_g, one.bands["salt"]) == (0, 7000, found.bands["salt bag 2"])


def test_a_formula_of_which_all_is_wet_has_no_bags(tmp_path: Path) -> None:
    wet = """name = "brine"
revision = 1
product = "fresh comminuted sausage"
[[meat]]
name = "pork"
share = "100 %"
[[addition]]
name = "ice"
amount = "2 %"
role = "water"
"""
    with pytest.raises(Refusal) as refused:
        opened("brine", 2, tmp_path, wet)
    assert refused.value.code == "nothing-ahead"
