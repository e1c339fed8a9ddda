"""Pieces and packs as people write them."""

from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from msgspec.structs import replace as with_fields

from station.batch import events as ev
from station.resources import Config
from station.service.methods import build, check
from station.weighing import commands as do
from station.weighing.commands import METHODS, Refusal
from tests.benchside import Bench
from tests.weighing.test_tallying import mixed


class _Clock:
    def utc(self) -> datetime:
        return datetime(2026, 11, 30, 12, tzinfo=UTC)


def asked(name: str, side: Bench | None = None, folder: Path | None = None, **params: str) -> Any:
    station = (side or mixed()).station
    desk = SimpleNamespace(clock=_Clock(), station=station)
    bench: Any = SimpleNamespace(desk=desk, products=(), config=Config(folder))
    return build(bench, METHODS[name], check(METHODS[name], params))


def at(authority: str) -> Bench:
    """A batch that was opened by another law."""
    bench = mixed()
    opened = bench.last(ev.BatchOpened)
    assert isinstance(opened, ev.BatchOpened)
    other = Bench()
    other.formula = bench.formula
    other.vessels()
    other.say(do.Open("b-2", with_fields(opened, authority=authority)))
    return other


PACK = {"nominal": "400 g", "scale": "bench", "store": "fridge", "keeps": "4 d"}


@pytest.mark.parametrize(("authority", "lacks"), [("gb", "12"), ("eu", "12"), ("us", None)])
def test_what_a_pack_may_lack_is_by_the_law_of_its_batch(authority: str, lacks: str | None) -> None:
    made = asked("packs", at(authority), **PACK)
    assert made.lacks_g == (None if lacks is None else Decimal(lacks))
    assert (made.few is None, made.source is None) == (lacks is None, lacks is None)
    assert (made.nominal_g, made.use_by, made.vessel) == (400, "2026-12-04", None)
    assert made.name == "400 g, fridge, use by 2026-12-04"


def test_of_so_light_a_pack_the_law_says_nothing() -> None:
    made = asked("packs", at("gb"), **{**PACK, "nominal": "4 g"})
    assert (made.lacks_g, made.few, made.source) == (None, None, None)


@pytest.mark.parametrize(
    ("key", "text", "says"),
    [
        ("nominal", "400", "a mass with its unit"),
        ("nominal", "0 g", "more than nothing"),
        ("keeps", "36 h", "whole days"),
        ("keeps", "99999999 d", "nothing keeps 99999999 days"),
    ],
)
def test_a_pack_that_is_none_is_refused(key: str, text: str, says: str) -> None:
    with pytest.raises(Refusal, match=says):
        asked("packs", **{**PACK, key: text})


def test_a_broken_file_of_the_law_is_told(tmp_path: Path) -> None:
    (tmp_path / "packs.toml").write_text('[[shortfall]]\nauthorities = "gb"\n')
    with pytest.raises(Refusal) as caught:
        asked("packs", folder=tmp_path, **PACK)
    assert (caught.value.code, caught.value.next) == ("bad-file", "mend packs.toml")


@pytest.mark.parametrize(("text", "number"), [("12", 12), ("12 links", 12), ("999999", 999999)])
def test_a_number_is_a_whole_one(text: str, number: int) -> None:
    assert asked("links", number=text).number == number
    assert asked("again", number=text).number == number
    assert asked("strike", number=text, reason="burst") == do.StrikeItem(number, "burst")


@pytest.mark.parametrize("text", ["1.5", "-1", "twelve", "١٢", "1000000", "12 packs"])
def test_anything_else_is_no_number(text: str) -> None:
    with pytest.raises(Refusal, match="expected a number"):
        asked("links", number=text)


def test_what_a_delivery_cost_is_told_with_its_lot() -> None:
    made = asked("meat-lot", line="pork", lot="B-1", cost="6.20 / kg")
    assert made.price == Decimal("6.20")
    assert asked("meat-lot", line="pork", lot="B-1").price is None
    with pytest.raises(Refusal, match="expected a price"):
        asked("meat-lot", line="pork", lot="B-1", cost="6.20")


def test_a_sample_is_taken_with_what_is_said_of_cooking_it() -> None:
    made = asked("sample", net="180 g")
    assert (made.net_g, made.scale) == (180, None)
    assert made.advice.startswith("cook it through to 165 degF")  # its species is not told
    assert asked("sample", scale="fine").net_g is None
    with pytest.raises(Refusal, match="a mass with its unit"):
        asked("sample", net="180")


def test_what_is_wished_is_a_share_of_the_meat() -> None:
    assert asked("taste", line="salt", wish="1.9 %") == do.Wish("salt", Decimal("0.019"))
    for text in ("0 %", "100 %", "19 g"):
        with pytest.raises(Refusal, match="found"):
            asked("taste", line="salt", wish=text)


@pytest.mark.parametrize(("name", "params"), [("packs", PACK), ("sample", {"net": "1 g"})])
def test_without_a_batch_the_bench_says_so(name: str, params: dict[str, str]) -> None:
    side = Bench()
    command = asked(name, side, **params)
    assert side.refused(command).code == "no-batch"


def test_a_broken_file_of_advice_is_told(tmp_path: Path) -> None:
    (tmp_path / "tasting.toml").write_text("then = 3")
    with pytest.raises(Refusal) as caught:
        asked("sample", folder=tmp_path, net="180 g")
    assert caught.value.next == "mend tasting.toml"
