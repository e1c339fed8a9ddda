"""A bench without ports and clocks: the real watches and the real decider, fed readings by hand."""

from collections.abc import Sequence
from decimal import Decimal

from msgspec.structs import replace

from drivers.reading import Condition, Kind, Reading
from station.batch import events as ev
from station.batch.state import Station
from station.formula.bands import parse_bands
from station.formula.limits import parse_limits
from station.formula.sheet import parse_formula
from station.metrology.scale import Scale
from station.pan.watch import PanWatch
from station.resources import Config
from station.weighing import commands as do
from station.weighing.commands import Refusal
from station.weighing.floor import Floor
from station.weighing.sight import Pans
from station.weighing.thermometer import Thermometer
from station.weighing.words import Guide

FINE = Scale("fine", Decimal(600), Decimal("0.05"), "II", "g", "continuous")
BENCH = Scale("bench", Decimal(15000), Decimal(2), "III", "g", "continuous")
CUPS = {"cup 1": "86.90", "cup 2": "98.45", "cup 3": "131.20"}
NITRITE = {"sodium nitrite": Decimal("0.0625")}

RING = """
name = "test ring"
revision = 1
product = "cooked cured comminuted"
[[meat]]
name = "pork"
share = "100 %"
[[addition]]
name = "salt"
amount = "1.8 %"
role = "salt"
[[addition]]
name = "premix"
amount = "0.20 %"
role = "cure"
contains = { "sodium nitrite" = "6.25 %", "salt" = "93.75 %" }
[[addition]]
name = "pepper"
amount = "0.30 %"
role = "seasoning"
[[addition]]
name = "garlic"
amount = "0.50 %"
role = "seasoning"
"""


def as_shown(grams: str, scale: Scale) -> Decimal:
    """A weight as a scale shows it: the nearest division, with its decimals."""
    return (Decimal(grams) / scale.division_g).quantize(Decimal(1)) * scale.division_g


class Bench:
    """One bench in a test. `show` puts a weight on a pan and lets readings flow until settled."""

    def __init__(
        self,
        formula: str = RING,
        scales: tuple[Scale, ...] = (FINE, BENCH),
        thermometers: Sequence[Thermometer] = (),
    ) -> None:
        self.floor = Floor(scales, ("Ansel", "Brida"), thermometers)
        self.scales = scales
        self.formula = parse_formula(formula, "test.toml")
        self.limits = parse_limits(*Config().read("limits/us.toml"))
        self.now = 1000.0
        self.at = "2026-11-30T10:00:00.000Z"
        self.shown: dict[str, Reading] = {}
        self.events: list[ev.Event] = []
        for name in self.watches:
            self.floor.link(name, True)
        for scale in scales:
            self.show(scale.name, "0")
            self.move(scale.name, str(scale.division_g))  # it moves by its division
            self.show(scale.name, "0")

    # the world

    def show(self, scale: str, grams: str, seconds: float = 1.5, **reading: object) -> None:
        """The scale shows `grams` gross, settled, for some seconds at 10 Hz."""
        for _ in range(round(seconds * 10)):
            self.now += 0.1
            self.one(scale, grams, **reading)

    def one(
        self,
        scale: str,
        grams: str,
        stable: bool = True,
        unit: str = "g",
        kind: Kind = Kind.GROSS,
        condition: Condition = Condition.OK,
    ) -> None:
        """A single reading, rounded as the scale shows it, and one of the same as before on every
        other scale."""
        shown = as_shown(grams, self.watches[scale].scale)
        value = shown if condition is Condition.OK else None
        self.shown[scale] = Reading(value, unit, kind, stable, condition, self.now, grams.encode())
        for name, reading in self.shown.items():
            self.floor.observe(name, replace(reading, time_s=self.now))
        self.floor.tick(self.now)
        self.notice()

    def move(self, scale: str, grams: str) -> None:
        """One unsettled reading on the way to something else."""
        self.now += 0.1
        self.one(scale, grams, stable=False)

    def silence(self, seconds: float) -> None:
        self.now += seconds
        self.floor.tick(self.now)

    # deciding

    def notice(self) -> None:
        while (command := self.floor.notice()) is not None:
            if not self.decide(command).events:
                return

    def decide(self, command: do.Command) -> do.Decision:
        """What the desk does, with a list for a book."""
        try:
            decision = self.floor.decide(command, self.at)
        except Refusal as refusal:
            if refusal.records:
                self._record(refusal.records, self.floor.batch_of(command))
            raise
        if decision.events:
            self._record(decision.events, self.floor.batch_of(command))
        self.floor.tell(command, decision)
        return decision

    def _record(self, events: tuple[ev.Event, ...], batch: str | None) -> None:
        self.events += events
        self.floor.stand(self.floor.evolved(events, self.at, batch))

    def say(self, command: do.Command) -> str:
        answer = self.decide(command).answer
        self.notice()
        return answer

    def refused(self, command: do.Command) -> Refusal:
        try:
            self.decide(command)
        except Refusal as refusal:
            return refusal
        raise AssertionError(f"{command} was not refused")

    @property
    def station(self) -> Station:
        return self.floor.station

    @station.setter
    def station(self, station: Station) -> None:
        self.floor.stand(station)

    @property
    def watches(self) -> dict[str, PanWatch]:
        return self.floor.watches

    def pans(self) -> Pans:
        return self.floor.sight().pans

    @property
    def told(self) -> Guide:
        return self.floor.guide()

    @property
    def batch(self):  # type: ignore[no-untyped-def]
        assert self.station.batch is not None
        return self.station.batch

    def line(self, name: str):  # type: ignore[no-untyped-def]
        return self.batch.lines[name]

    def last(self, kind: type) -> ev.Event:
        return next(event for event in reversed(self.events) if isinstance(event, kind))

    # stories

    def open(self, plan_g: str = "12000", batch: str = "b-1") -> None:
        config = Config()
        opened = ev.BatchOpened(
            formula=self.formula,
            authority="us",
            limits=self.limits,
            bands=parse_bands(*config.read("bands.toml")).for_formula(self.formula),
            scales=self.scales,
            people=("Ansel", "Brida"),
            plan_g=Decimal(plan_g),
            planned_by=f"meat {plan_g} g",
            who="Ansel",
            station="test",
            version="0",
            simulated=True,
        )
        self.say(do.Open(batch, opened))

    def vessels(self) -> None:
        for name, grams in CUPS.items():
            self.show("fine", grams)
            self.say(do.RecordVessel(name, "fine"))
            self.show("fine", "0")
        self.show("bench", "1200")
        self.say(do.RecordVessel("tub", "bench"))
        self.show("bench", "0")

    def weigh_meat(self, grams: str = "12000") -> None:
        for meat in self.formula.meats:
            net = Decimal(grams) * meat.share
            self.say(do.Use("tub"))
            self.show("bench", str(1200 + net))
            self.say(do.Accept(meat.name))
            self.show("bench", "0")
            self.show("bench", "1200")
            self.show("bench", "0")
            self.say(do.End(meat.name, sure=True))

    def begin(self, meat_g: str = "12000") -> "Bench":
        """Vessels on record, batch open, meat weighed, the lot of the premix open."""
        self.vessels()
        self.open(meat_g)
        self.weigh_meat(meat_g)
        if "premix" in self.batch.lines:
            self.say(do.OpenLot("premix", "P-41", NITRITE, None, "2026-11-30"))
        return self

    def pour(self, cup: str, net: str, scale: str = "fine") -> Decimal:
        """Set a cup down, pour, and let it settle; its gross."""
        empty = Decimal(CUPS[cup])
        self.show(scale, str(empty))
        gross = empty + Decimal(net)
        for part in range(1, 40):  # four seconds, as a hand pours
            self.move(scale, str(empty + Decimal(net) * part / 40))
        self.show(scale, str(gross))
        return gross

    def lift(self, scale: str = "fine") -> None:
        self.move(scale, "20")
        self.show(scale, "0")

    def tip(self, cup: str, residue: str = "0.10", scale: str = "fine") -> None:
        self.show(scale, str(Decimal(CUPS[cup]) + Decimal(residue)))
        self.show(scale, "0")

    def add(self, line: str, cup: str, net: str) -> None:
        """One addition from the empty cup to the mix."""
        self.pour(cup, net)
        if line == "premix":
            self.say(do.Accept(line))
        self.lift()
        self.tip(cup)
