"""A bag is opened by its label alone: what it is said to be is shown, and a person says yes."""

from datetime import UTC, datetime
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

import pytest

from station.products import Product
from station.service.methods import build, call, check
from station.weighing import commands as do
from station.weighing.commands import METHODS, Refusal
from tests.benchside import NITRITE
from tests.benchside import Bench as Side

PREMIX = Product("curing premix 6.25", {**NITRITE, "salt": Decimal("0.9375")}, "09506000134352")
WEAK = Product("curing premix 0.5", {"sodium nitrite": Decimal("0.005")})
NITRATE = Product("saltpetre mix", {"sodium nitrate": Decimal("0.04")}, "00012345678905")
GOODS = (PREMIX, WEAK, NITRATE)
LABEL = "(01)09506000134352(17)270630(10)P-9"


class _Clock:
    def utc(self) -> datetime:
        return datetime(2026, 11, 30, 12, tzinfo=UTC)


def side() -> Side:
    bench = Side()
    bench.vessels()
    bench.open()
    bench.weigh_meat()
    return bench


def asked(
    bench: Side, lot: str, products: tuple[Product, ...] = GOODS, **params: Any
) -> do.Command:
    desk = SimpleNamespace(clock=_Clock(), station=bench.station)
    around: Any = SimpleNamespace(desk=desk, products=products)
    given = {"line": "premix", "lot": lot, **params}
    return build(around, METHODS["lot"], check(METHODS["lot"], given))


def refused(bench: Side, lot: str, *products: Product, **params: Any) -> Refusal:
    with pytest.raises(Refusal) as caught:
        asked(bench, lot, products or GOODS, **params)
    return caught.value


def test_the_code_on_the_label_names_the_product_and_a_person_says_yes() -> None:
    bench = side()
    refusal = refused(bench, LABEL)
    assert (refusal.code, refusal.sentence) == (
        "which-product",
        "lot P-9 of premix, expires 2027-06-30: is it this?",
    )
    (yes,) = refusal.offers
    assert (yes.means, yes.danger) == (
        "curing premix 6.25: sodium nitrite 6.25 %, salt 93.75 %",
        True,
    )
    params = dict(yes.params)
    bench.say(asked(bench, params.pop("lot"), **params))
    lot = bench.line("premix").lot
    assert lot is not None
    assert (lot.lot, lot.expires, lot.contains) == ("P-9", "2027-06-30", PREMIX.contains)


def test_without_a_code_a_person_says_which_of_those_that_fit() -> None:
    refusal = refused(side(), "P-9")
    assert refusal.sentence == "lot P-9 of premix: which product is it?"
    assert [offer.params["product"] for offer in refusal.offers] == [PREMIX.name, WEAK.name]


def test_a_code_that_the_list_does_not_know_is_none_of_those_with_another_code() -> None:
    refusal = refused(side(), "(01)00614141007349(10)P-9")
    assert [offer.params["product"] for offer in refusal.offers] == [WEAK.name]


def test_the_label_of_other_goods_opens_no_lot() -> None:
    refusal = refused(side(), "(01)00012345678905(10)N-1")
    assert (refusal.code, refusal.offers) == ("other-product", ())
    assert refusal.sentence.startswith("this is the label of saltpetre mix: sodium nitrate 4 %")


def test_what_was_asked_with_it_is_kept_in_the_answer() -> None:
    refusal = refused(side(), "P-9", PREMIX, rescale=True, second="Brida")
    params = refusal.offers[0].params
    assert (params["rescale"], params["second"]) == (True, "Brida")


def test_a_bench_without_a_list_asks_for_the_strength() -> None:
    bench = side()
    assert bench.refused(asked(bench, "P-9", ())).code == "no-strength"


def test_a_strength_that_is_said_is_taken_and_not_together_with_a_product() -> None:
    bench = side()
    command = asked(bench, "P-9", contains=["sodium nitrite=6.25 %"])
    assert isinstance(command, do.OpenLot) and command.contains == NITRITE
    both = {"contains": ["sodium nitrite=6.25 %"], "product": PREMIX.name}
    assert "both say" in refused(bench, "P-9", **both).sentence


def test_a_product_that_the_list_does_not_have_is_refused_with_the_near_name() -> None:
    refusal = refused(side(), "P-9", product="curing premix 625")
    assert (refusal.code, "curing premix 6.25" in refusal.sentence) == ("unknown-product", True)


def test_a_product_of_another_strength_is_judged_as_if_it_were_typed() -> None:
    bench = side()
    assert bench.refused(asked(bench, "P-9", product=WEAK.name)).code == "other-strength"


def test_a_line_without_a_strength_wants_no_product() -> None:
    command = asked(side(), "S-1", line="pepper")
    assert isinstance(command, do.OpenLot) and command.contains == {}


class _Desk:
    """A desk that says no."""

    clock = _Clock()

    def __init__(self, bench: Side, code: str) -> None:
        self.station = bench.station
        self._code = code

    async def submit(self, command: do.Command, uid: int | None) -> str:
        raise Refusal(self._code, "that wants a second person", "say --second NAME")


async def offers(bench: Side, code: str) -> list[Any]:
    around: Any = SimpleNamespace(desk=_Desk(bench, code), products=GOODS)
    params = {"line": "premix", "lot": "P-9", "product": PREMIX.name, "batch": bench.batch.id}
    with pytest.raises(Refusal) as caught:
        await call(around, "lot", params, None)
    return [(offer.params, offer.means, offer.danger) for offer in caught.value.offers]


async def test_where_a_second_person_is_wanted_each_who_could_be_it_is_an_answer() -> None:
    (only,) = await offers(side(), "second-wanted")
    params = {"line": "premix", "lot": "P-9", "product": PREMIX.name, "second": "Brida"}
    assert only == (params, "Brida has seen it too", True)


async def test_no_other_refusal_is_answered_by_a_second_person() -> None:
    assert await offers(side(), "expired") == []


def test_a_delivery_is_read_from_its_label() -> None:
    desk = SimpleNamespace(clock=_Clock(), station=side().station)
    around: Any = SimpleNamespace(desk=desk, products=GOODS)
    label = "(01)09506000134352(11)261120(17)261204(10)B-118"
    params = {"line": "pork", "lot": label, "supplier": "Orrin Farm"}
    made = build(around, METHODS["meat-lot"], check(METHODS["meat-lot"], params))
    assert made == do.NameMeatLot(
        "pork", "B-118", "Orrin Farm", "2026-11-20", "2026-12-04", "2026-11-30"
    )
    with pytest.raises(Refusal, match="packed: found 'Tuesday'"):
        given = {**params, "packed": "Tuesday"}
        build(around, METHODS["meat-lot"], check(METHODS["meat-lot"], given))


@pytest.mark.parametrize("said", [{"product": WEAK.name}, {"contains": ["sodium nitrite=0.5 %"]}])
def test_what_is_said_must_be_what_the_code_on_the_label_says(said: dict[str, Any]) -> None:
    refusal = refused(side(), LABEL, **said)
    assert refusal.code == "other-product"
    assert "curing premix 6.25: sodium nitrite 6.25 %" in refusal.sentence
    same = asked(side(), LABEL, contains=["sodium nitrite=6.25 %"])
    assert isinstance(same, do.OpenLot)
