"""What people and programs may write for a parameter."""

from datetime import UTC, datetime
from types import SimpleNamespace
from typing import Any

import pytest

from station.batch.state import Station
from station.resources import Config
from station.service.methods import build, check
from station.settings import load_settings
from station.weighing.commands import METHODS, Refusal


@pytest.mark.parametrize(
    "contains",
    [
        ["sodium nitrite=6.25 %", "salt=93.75 %"],
        "sodium nitrite=6.25 %, salt=93.75 %",
        {"sodium nitrite": "6.25 %", "salt": "93.75 %"},
    ],
)
def test_contains_may_be_a_list_a_text_or_an_object(contains: Any) -> None:
    found = check(METHODS["lot"], {"line": "premix", "lot": "P", "contains": contains})
    assert found["contains"] == ("sodium nitrite=6.25 %", "salt=93.75 %")


@pytest.mark.parametrize(("value", "told"), [(True, True), ("true", True), ("No", False)])
def test_a_flag_may_be_text(value: Any, told: bool) -> None:
    assert check(METHODS["accept"], {"line": "x", "as_weighed": value})["as_weighed"] is told


@pytest.mark.parametrize(
    "params",
    [
        {},
        {"line": ""},
        {"line": ["a", "b"]},
        {"line": "x", "as_weighed": "perhaps"},
        {"line": "x", "as_weighed": {"a": 1}},
        {"line": "x" * 501},
        {"line": "x", "more": True},
    ],
)
def test_anything_else_is_refused_with_an_example(params: dict[str, Any]) -> None:
    with pytest.raises(Refusal) as caught:
        check(METHODS["accept"], params)
    assert caught.value.code == "bad-params"
    assert caught.value.next


class _Clock:
    def utc(self) -> datetime:
        return datetime(2026, 11, 30, 12, tzinfo=UTC)


def command(name: str, **params: Any) -> Any:
    """The command of a method, on the last day of November 2026."""
    desk = SimpleNamespace(clock=_Clock(), station=Station())
    bench: Any = SimpleNamespace(desk=desk, products=())
    return build(bench, METHODS[name], check(METHODS[name], {"line": "premix", **params}))


@pytest.mark.parametrize("name", ["lot", "next-bag"])
@pytest.mark.parametrize(
    "label", ["]C110P-9\x1d17270630", "\x1d1727063010P-9", "(10)P-9(17)270630", "1727063010P-9"]
)
def test_a_label_is_read_wherever_a_bag_is_named(name: str, label: str) -> None:
    made = command(name, lot=label)
    assert (made.lot, made.expires, made.today) == ("P-9", "2027-06-30", "2026-11-30")


@pytest.mark.parametrize(
    ("params", "says"),
    [
        ({"lot": "(10)P(17)270630", "expires": "2030-01-01"}, "the label expires on 2027-06-30"),
        ({"lot": "P", "expires": "next year"}, "expected a date"),
        ({"lot": "P", "contains": ["sodium nitrite=6 %", "E250=10 %"]}, "nitrite is named twice"),
    ],
)
def test_what_contradicts_itself_opens_no_lot(params: dict[str, Any], says: str) -> None:
    with pytest.raises(Refusal, match=says):
        command("lot", **params)


def test_a_date_by_week_is_kept_as_a_plain_one() -> None:
    """As text 2026-W01-1 would never come before a date of that year."""
    assert command("lot", lot="P", expires="2026-W01-1").expires == "2025-12-29"


def test_a_label_is_read_where_it_is_told_what_is_in_the_mix() -> None:
    label = "]C110P-9\x1d17250630"  # expired: it is in, and is recorded
    assert command("tip", lot=label, more=True).lot == "P-9"
    told = {"net": "24 g", "scale": "fine", "reason": "power cut"}
    assert command("by-hand", lot=label, **told).lot == "P-9"
    assert command("by-hand", **told).lot is None


def step(**params: str) -> Any:
    method = METHODS["step"]
    bench: Any = None
    return build(bench, method, check(method, {"name": "knead", **params}))


def test_a_step_takes_a_figure_with_its_unit_or_words_and_no_bare_number() -> None:
    for value in ("8 degC, tacky", None):
        params = {} if value is None else {"value": value}
        assert step(**params).value == value
    with pytest.raises(Refusal, match="value: found '8'"):
        step(value="8")


@pytest.mark.parametrize(
    ("agent", "says"),
    [("nitrite", "no one agent"), ("curing salt", "no one agent"), ("saltpetre", "write which")],
)
def test_a_bag_that_names_no_one_agent_is_asked_which(agent: str, says: str) -> None:
    """No limit would count what has no name in its rows."""
    with pytest.raises(Refusal, match=says):
        command("lot", lot="P-41", contains=[f"{agent}=6.25 %"])


@pytest.mark.parametrize("agent", ["E250", "sugar", "sodium lactate"])
def test_a_bag_may_name_an_agent_or_what_carries_it(agent: str) -> None:
    assert len(command("lot", lot="P-41", contains=[f"{agent}=6.25 %"]).contains) == 1


def test_who_washed_down_is_somebody_of_the_list() -> None:
    people: Any = SimpleNamespace(people=("Ansel", "Brida"), authority="us")
    desk = SimpleNamespace(clock=_Clock(), station=Station())
    bench: Any = SimpleNamespace(desk=desk, products=(), settings=people)

    def taken_up(**params: Any) -> Any:
        return build(bench, METHODS["take-up"], check(METHODS["take-up"], params))

    assert taken_up(batch="b-1").washed is None
    assert taken_up(batch="b-1", washed="Brida").washed == "Brida"
    with pytest.raises(Refusal) as caught:
        taken_up(batch="b-1", washed="Nobody")
    assert (caught.value.code, caught.value.next) == ("unknown-person", "one of Ansel, Brida")


def opens(**params: Any) -> Any:
    """The command by which a batch of the herb link is opened."""
    config = Config()
    desk = SimpleNamespace(clock=_Clock(), station=Station(), simulated=True)
    bench: Any = SimpleNamespace(desk=desk, config=config, settings=load_settings(config))
    asked = {"formula": "herb-link", "who": bench.settings.people[0], **params}
    return build(bench, METHODS["open"], check(METHODS["open"], asked))


@pytest.mark.parametrize(("count", "bags"), [("4", 4), (None, 1)])
def test_planned_with_a_count_weighs_so_many_bags_ahead(count: str | None, bags: int) -> None:
    asked = {"planned": "7kg"} | ({"count": count} if count else {})
    opened = opens(**asked).opened
    assert (opened.ahead, opened.plan_g) == (bags, 7000 * bags)
    assert opens(meat="7kg").opened.ahead == 0


@pytest.mark.parametrize(
    ("params", "said"),
    [
        ({"count": "4"}, "count is of bags that are weighed ahead"),
        ({"planned": "7kg", "meat": "7kg"}, "planned is the meat of bags that are weighed ahead"),
        ({"planned": "7kg", "count": "0"}, "count: found '0'"),
        ({"planned": "seven"}, "meat: "),
    ],
)
def test_a_plan_of_bags_that_cannot_be_is_refused(params: dict[str, Any], said: str) -> None:
    with pytest.raises(Refusal) as caught:
        opens(**params)
    assert caught.value.code == "bad-plan"
    assert caught.value.sentence.startswith(said)
