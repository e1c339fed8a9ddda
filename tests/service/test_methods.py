"""What people and programs may write for a parameter."""

from typing import Any

import pytest

from station.service.methods import check
from station.service.vocabulary import METHODS
from station.weighing.commands import Refusal


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
        {"line": "x", "sure": True},
    ],
)
def test_anything_else_is_refused_with_an_example(params: dict[str, Any]) -> None:
    with pytest.raises(Refusal) as caught:
        check(METHODS["accept"], params)
    assert caught.value.code == "bad-params"
    assert caught.value.next
