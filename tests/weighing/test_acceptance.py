"""The moment of acceptance, asked by itself: which line wants a key, and what is recorded."""

from decimal import Decimal

import pytest

from station.batch import events as ev
from station.batch.line import Lot
from station.batch.state import Batch, Station
from station.pan.view import Settled
from station.weighing.acceptance import accept_sum, key_first
from station.weighing.facts import Facts
from station.weighing.sight import Look, Sight
from tests.batch.built import PREMIX, addition, batch, line, load, row, tare

ROW = row()
ASCORBATE = {"sodium ascorbate": Decimal(1)}


@pytest.mark.parametrize(
    ("role", "contains", "rows", "wanted"),
    [
        ("cure", PREMIX, [ROW], True),
        ("cure", PREMIX, [], True),  # a cure, whatever the rules are about
        ("accelerator", ASCORBATE, [row(agents=("sodium ascorbate",))], True),
        ("seasoning", ASCORBATE, [row(agents=("sodium ascorbate",))], True),
        ("seasoning", PREMIX, [ROW], True),  # nitrite in a spice blend
        ("accelerator", ASCORBATE, [ROW], False),  # no rule is about it
        ("salt", {"salt": Decimal(1)}, [ROW], False),
        ("seasoning", {}, [ROW], False),
    ],
)
def test_a_cure_and_every_line_that_a_rule_limits_want_a_key(
    role: str, contains: dict[str, Decimal], rows: list[object], wanted: bool
) -> None:
    one = line(addition("it", "2", role, contains))  # type: ignore[arg-type]
    assert key_first(batch(one, rows=rows), one) is wanted  # type: ignore[arg-type]


def look(made: Batch) -> Look:
    """Its one line, with nothing seen of any pan."""
    (one,) = made.lines.values()
    return Sight(Facts(Station(batch=made)), {}).look(one)


def accepted(
    net: str,
    *loads: object,
    spilt: str = "0",
    as_weighed: bool = False,
    keyed: bool = True,
    lot: Lot | None = None,
) -> tuple[ev.LoadWeighed, ev.Accepted, str | None]:
    """The last load of a premix of 20 g, tared at 80 g, with so much shown beyond that tare."""
    one = line(None, *loads, tare=tare(), lot=lot)  # type: ignore[arg-type]
    made = batch(one, rows=[ROW])
    settled = Settled(80 + Decimal(net), "6e", 5.0)
    decision = accept_sum(look(made), settled, Decimal(spilt), keyed=keyed, as_weighed=as_weighed)
    load_event, accepted_event = decision.events
    assert isinstance(load_event, ev.LoadWeighed) and isinstance(accepted_event, ev.Accepted)
    return load_event, accepted_event, decision.answer


def test_the_load_is_what_the_scale_shows_less_the_tare_and_what_was_spilt() -> None:
    weighed, _, answer = accepted("20.10", spilt="0.15", lot=Lot("P-1", PREMIX))
    assert weighed == ev.LoadWeighed(
        line="premix", net_g=Decimal("19.95"), gross_g=Decimal("100.10"), tare_g=Decimal(80),
        spilt_g=Decimal("0.15"), scale="fine", division_g=Decimal("0.05"), vessel="cup 1",
        lot="P-1", who="Ansel", raw="6e", tare_raw="", stays=False, onto=False,
    )  # fmt: skip
    assert answer == "premix 19.95 g accepted"


def test_a_load_without_a_bag_names_none() -> None:
    assert accepted("20")[0].lot is None


def test_the_acceptance_says_against_what_it_was_judged() -> None:
    """H = 0.00015 x (10 000 - 1.64) / 0.0625 - 0.041 = 23.955064 g."""
    event = accepted("20.05")[1]
    assert event == ev.Accepted(
        line="premix", net_g=Decimal("20.05"), target_g="20", lower_g="19.2", upper_g="20.4",
        accept_lower_g=Decimal("19.25"), accept_upper_g=Decimal("20.35"), aim_g="20",
        hard_g="23.955064", expanded_g=Decimal("0.041"), conformance="1.0000",
        meat_g=Decimal(10_000), loads=1, as_weighed=False, keyed=True, who="Ansel",
    )  # fmt: skip


def test_a_line_that_no_rule_limits_records_no_hard_limit() -> None:
    one = line(addition("pepper", "2", "seasoning", {}), tare=tare())
    made = batch(one, rows=[ROW])
    decision = accept_sum(look(made), Settled(Decimal(180), "", 5.0), Decimal(0), keyed=False)
    event = decision.events[1]
    assert isinstance(event, ev.Accepted)
    assert event.hard_g is None and event.keyed is False
    assert event.as_weighed is False  # unless it is asked for, however far off


def test_the_sum_of_all_loads_is_accepted_with_the_uncertainty_of_all() -> None:
    weighed, event, answer = accepted("8", load("12", vessel="cup 2"))
    assert weighed.net_g == 8
    assert (event.net_g, event.loads) == (20, 2)
    assert event.expanded_g == Decimal("0.057983")  # 0.041 g x sqrt(2): up
    assert answer == "premix 20.00 g accepted"


@pytest.mark.parametrize(
    ("net", "recorded"),
    [("19.20", True), ("19.25", False), ("20.35", False), ("20.40", True)],
)
def test_as_weighed_is_recorded_only_outside_the_limits(net: str, recorded: bool) -> None:
    """A division beyond either limit it is; at the limit the weight is in its band after all."""
    assert accepted(net, as_weighed=True)[1].as_weighed is recorded
    assert accepted(net, as_weighed=False)[1].as_weighed is False


def test_a_weight_at_its_tolerance_limit_is_inside_with_an_even_chance() -> None:
    """JCGM 106:2012, 7.3.3: half of what may be there lies beyond the limit."""
    assert accepted("20.40", as_weighed=True)[1].conformance == "0.5000"
