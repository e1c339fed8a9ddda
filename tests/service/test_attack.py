"""Whatever is asked through the socket's methods, in whatever order, with whatever on the pans: no
unlawful batch is ever accepted. Commands are drawn from the registry, so that a new method is
attacked without anyone remembering to."""

import asyncio
import shutil
import tempfile
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from drivers.reading import Condition, Kind, Reading
from station.batch import events as ev
from station.batch.lawful import breaches
from station.ledger.reading import open_reader
from station.ledger.verify import verify
from station.resources import Config
from station.service.around import Bench
from station.service.clock import Clock
from station.service.desk import Desk
from station.service.methods import build, call, check
from station.service.session import is_wrong
from station.service.writer import Writer
from station.settings import load_settings
from station.weighing.commands import METHODS, Method, Refusal
from station.weighing.decide import decide
from tests.benchside import BENCH, FINE, as_shown

pytestmark = pytest.mark.timeout(600)  # a thousand steps, on a busy machine too

AT_LIMIT = """
name = "ring at the limit"
revision = 1
product = "cooked cured comminuted"
[[meat]]
name = "pork"
share = "100 %"
[[addition]]
name = "premix"
amount = "0.249 %"
role = "cure"
contains = { "sodium nitrite" = "6.25 %", "salt" = "93.75 %" }
[[addition]]
name = "second premix"
amount = "0.5 %"
role = "cure"
contains = { "sodium nitrite" = "0.0125 %", "salt" = "99.98 %" }
[[addition]]
name = "pepper"
amount = "0.30 %"
role = "seasoning"
[[step]]
name = "knead"
after = "pepper"
"""

WORDS = {
    "formula": ["at-limit", "garlic-ring", "nonsense"],
    "meat": ["4 kg", "12 kg", "0 g", "nonsense"],
    "mix": ["12 kg"],
    "pieces": ["40"],
    "who": ["Ansel", "Brida", "Nobody"],
    "line": ["pork", "premix", "second premix", "pepper", "nonsense"],
    "lot": ["P-1", "P-2"],
    "contains": ["sodium nitrite=6.25 %", "sodium nitrite=0.0125 %", "sodium nitrite=50 %"],
    "expires": ["2030-01-01", "2020-01-01", "soon"],
    "vessel": ["cup", "other cup", "tub", "nonsense"],
    "scale": ["fine", "bench", "nonsense"],
    "name": ["cup", "other cup", "tub", "knead", "Ansel", "Brida"],
    "named": ["premix", "second premix", "pepper", "knead"],
}
WEIGHTS = {
    "fine": ["0", "95.00", "110.00", "100.00", "104.80", "104.90", "105.00", "105.05", "109.60",
             "110.10", "115.00", "130.00", "-95.00", "0.40"],
    "bench": ["0", "1200", "3200", "5200", "5400", "9200", "13200", "96", "130", "-1200"],
}  # fmt: skip


_HAPPENED = {"tipped-unaccepted", "meat-weighed", "voided", "taken-back", "content-seen"}
"""What a person declares to have happened already: recorded even where it breaks a limit, and the
batch is on hold. A void that nobody saw leaves its content in the most."""


class StillClock(Clock):
    """Time passes only when readings do."""

    def __init__(self) -> None:
        super().__init__()
        self.now = 1000.0

    def monotonic(self) -> float:
        return self.now

    def utc(self) -> datetime:
        return datetime(2026, 11, 30, tzinfo=UTC) + timedelta(seconds=self.now)


def parameters(method: Method) -> st.SearchStrategy[dict[str, Any]]:
    """Parameters of a method: words that often mean something, now and then any text."""
    fields = {}
    optional = {}
    for param in method.params:
        if param.kind == "flag":
            value: st.SearchStrategy[Any] = st.just(True)
        else:
            words = WORDS.get(param.name, ["a reason"])
            value = st.sampled_from(words) | (
                st.text(max_size=5) if param.name not in WORDS else st.nothing()
            )
        (fields if param.required else optional)[param.name] = value
    return st.fixed_dictionaries(fields, optional=optional)


class Attack(RuleBasedStateMachine):
    """The real desk, the real methods, a real ledger file; only time and ports are the test's."""

    @initialize()
    def begin(self) -> None:
        self.loop = asyncio.new_event_loop()
        self.folder = Path(tempfile.mkdtemp(prefix="attack-"))
        config = self.folder / "config"
        (config / "formulas").mkdir(parents=True)
        (config / "formulas" / "at-limit.toml").write_text(AT_LIMIT)
        self.clock = StillClock()
        self.writer = Writer(self.folder / "a.ledger", ev.LedgerBorn("attack", True, "0"))
        self.do(self.writer.open("2026-11-30T00:00:00.000Z"))
        self.do(self.set_up(config))
        self.was_lawful = True
        self.new: list[str] = []
        self.desk.listen(lambda shown, events: self.new.extend(e.kind for e in events))
        for name in ("fine", "bench"):
            self.desk.link(name, True, "", "")
            self.weigh(name, "0", 15)

    async def set_up(self, config: Path) -> None:
        self.desk = Desk(self.writer, self.clock, (FINE, BENCH))
        self.bench = Bench(self.desk, Config(config), load_settings(Config()))

    def do(self, work: Any) -> Any:
        return self.loop.run_until_complete(work)

    def ask(self, method: str, **params: Any) -> None:
        try:
            self.do(call(self.bench, method, params, 0))
        except Refusal as refusal:
            assert refusal.sentence and refusal.next
        self.do(self.desk.look())

    def weigh(self, scale: str, grams: str, readings: int, **how: Any) -> None:
        for _ in range(readings):
            self.clock.now += 0.1
            self.desk.reading(
                scale,
                Reading(
                    as_shown(grams, {"fine": FINE, "bench": BENCH}[scale]),
                    how.get("unit", "g"),
                    how.get("kind", Kind.GROSS),
                    how.get("stable", True),
                    Condition.OK,
                    self.clock.now,
                    grams.encode(),
                ),
            )
        self.do(self.desk.look())

    @rule(data=st.data(), name=st.sampled_from(sorted(METHODS)))
    def any_method(self, data: st.DataObject, name: str) -> None:
        self.ask(name, **data.draw(parameters(METHODS[name])))

    @rule(data=st.data())
    def what_is_offered(self, data: st.DataObject) -> None:
        """A hand that presses whatever is offered."""
        if offers := self.desk.snapshot.offers:
            offer = data.draw(st.sampled_from(offers))
            self.ask(offer.verb, **offer.params)

    @invariant()
    def every_offer_is_a_call_that_the_socket_takes(self) -> None:
        """Each is built and decided, not recorded: now it may be refused, malformed it may not."""
        for offer in self.desk.snapshot.offers:
            method = METHODS[offer.verb]
            try:
                command = build(self.bench, method, check(method, offer.params))
                decide(self.desk.sight(), command)
            except Refusal as refusal:
                assert not is_wrong(refusal.code), (offer, refusal)
            assert offer.text == f"station {method.words(offer.params)}"

    @rule(data=st.data(), scale=st.sampled_from(["fine", "bench"]), still=st.integers(1, 12))
    def any_weight(self, data: st.DataObject, scale: str, still: int) -> None:
        grams = data.draw(st.sampled_from(WEIGHTS[scale]))
        self.weigh(scale, grams, 1, stable=False)
        self.weigh(scale, grams, still)

    @rule(kind=st.sampled_from([Kind.NET, Kind.TARE]), unit=st.sampled_from(["g", "lb"]))
    def a_strange_reading(self, kind: Kind, unit: str) -> None:
        self.weigh("fine", "5.00", 2, kind=kind, unit=unit)

    @rule(seconds=st.sampled_from([0.5, 3.0]))
    def silence(self, seconds: float) -> None:
        self.clock.now += seconds

    @precondition(lambda self: self.writer.station.open is None)
    @rule()
    def the_way_to_the_cure(self) -> None:
        """What a maker does first, so that the attack reaches the cure at all."""
        for name, scale, grams in (("cup", "fine", "95.00"), ("tub", "bench", "1200")):
            self.weigh(scale, grams, 15)
            self.ask("vessel", name=name, scale=scale)
            self.weigh(scale, "0", 15)
        self.ask("open", formula="at-limit", meat="4 kg", who="Ansel")
        self.ask("use", vessel="tub")
        self.weigh("bench", "5200", 15)
        self.ask("accept", line="pork")
        self.ask("end", line="pork")
        self.weigh("bench", "0", 15)
        self.ask("lot", line="premix", lot="P-1", contains=["sodium nitrite=6.25 %"])
        self.ask("lot", line="second premix", lot="S-1", contains=["sodium nitrite=0.0125 %"])

    @rule(net=st.sampled_from(["9.80", "9.85", "9.90", "9.95", "10.00", "10.10", "15.00"]))
    def a_pour_of_cure(self, net: str) -> None:
        gross = str(Decimal("95.00") + Decimal(net))
        self.weigh("fine", "95.00", 15)
        for part in range(1, 30):
            self.weigh("fine", str(Decimal("95.00") + Decimal(net) * part / 30), 1, stable=False)
        self.weigh("fine", gross, 15)
        self.ask("accept", line="premix")
        self.weigh("fine", "20.00", 1, stable=False)
        self.weigh("fine", "0", 15)
        self.weigh("fine", "95.05", 15)

    @invariant()
    def the_law_holds(self) -> None:
        batch = self.writer.station.batch
        if batch is None:
            return
        lawful = not breaches(batch)
        if self.was_lawful and not lawful:
            assert _HAPPENED & set(self.new), f"made unlawful by {self.new}"
            assert batch.hold
        self.was_lawful, self.new = lawful, []
        if batch.end == "closed":
            assert not batch.hold and not breaches(batch)

    def teardown(self) -> None:
        if not hasattr(self, "writer"):
            return
        self.do(self.writer.close())
        self.loop.close()
        with open_reader(self.folder / "a.ledger") as db:
            assert verify(db).ok
        shutil.rmtree(self.folder)


Attack.TestCase.settings = settings(
    max_examples=25,
    stateful_step_count=40,
    deadline=None,
    derandomize=True,
    phases=(Phase.generate, Phase.shrink),  # to explain a failure traces every line: tenfold time
    suppress_health_check=list(HealthCheck),
)
TestAttack = Attack.TestCase


def test_the_attack_gets_as_far_as_the_cure() -> None:
    """Otherwise it would prove nothing."""
    attack = Attack()
    Attack.begin(attack)
    Attack.the_way_to_the_cure(attack)
    Attack.a_pour_of_cure(attack, "9.80")
    batch = attack.writer.station.batch
    assert batch is not None and batch.lines["premix"].loads[0].tipped
    assert not batch.lines["second premix"].loads
    attack.teardown()
