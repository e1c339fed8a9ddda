"""The floor of the station: the record, the watch over each pan, and the one way a command goes.

Pure: time comes in with the readings and with `tick`. The desk puts the lock, the book and the
clock around it.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from drivers.reading import Reading
from station.batch.events import Event
from station.batch.evolve import evolve
from station.batch.state import Station
from station.metrology.scale import Device, Scale
from station.pan.view import Pan, Trouble
from station.pan.watch import PanWatch
from station.weighing import commands as do
from station.weighing.commands import Command, Decision
from station.weighing.decide import batch_of, decide
from station.weighing.facts import Facts
from station.weighing.guide import guide
from station.weighing.notice import notice
from station.weighing.offers import Menu
from station.weighing.sight import Sight
from station.weighing.tasks import assign, resume, tell
from station.weighing.thermometer import Thermometer
from station.weighing.words import Guide


class Floor:
    """`observe` readings; then, as long as `notice` names a command, `decide` it, record its
    events, `stand` on what is recorded, and let the watches know by `tell`."""

    def __init__(
        self,
        scales: Iterable[Scale],
        people: Sequence[str] = (),
        thermometers: Iterable[Thermometer] = (),
    ) -> None:
        self._thermometers = {one.name: one for one in thermometers}
        self.watches = {scale.name: PanWatch(scale) for scale in scales}
        self._menu = Menu(tuple(people))
        self._facts = Facts(Station())
        self._pans: dict[str, Pan] = {name: w.view() for name, w in self.watches.items()}
        self._stirred = set(self.watches)
        self._sight: Sight | None = None

    @property
    def station(self) -> Station:
        return self._facts.station

    # what the world says

    def observe(self, scale: str, reading: Reading) -> bool:
        """Take in one reading; whether the pan shows anything else now. No other pan is looked
        at."""
        self.watches[scale].observe(reading)
        return self._stir(scale)

    def link(
        self,
        scale: str,
        up: bool,
        reason: str = "",
        next_step: str = "",
        device: Device | None = None,
    ) -> None:
        """A port opened, and `device` is behind it, or was lost."""
        self.watches[scale].link(up, reason, next_step, device)
        self._stir(scale)

    def babble(self, scale: str, sample: str) -> None:
        """Bytes came that are no frame."""
        self.watches[scale].babble(sample)
        self._stir(scale)

    def warmth(self, thermometer: Thermometer) -> bool:
        """What a thermometer shows, or why it shows nothing; whether that is new."""
        before = self._thermometers[thermometer.name]
        self._thermometers = {**self._thermometers, thermometer.name: thermometer}
        self._sight = None
        return (before.shows, before.still, before.says) != (
            thermometer.shows, thermometer.still, thermometer.says
        )  # fmt: skip

    def thermometer(self, name: str) -> Thermometer:
        """That thermometer as it was last."""
        return self._thermometers[name]

    def tick(self, now_s: float) -> None:
        """Time passes: silence is noticed only so."""
        for name, one in self._thermometers.items():
            if (now := one.silenced(now_s)) is not one:
                self._thermometers = {**self._thermometers, name: now}
                self._sight = None
        for name, watch in self.watches.items():
            watch.tick(now_s)
            self._stir(name)

    def _stir(self, name: str) -> bool:
        pan = self.watches[name].view()
        if pan is self._pans[name]:
            return False
        self._pans = {**self._pans, name: pan}  # a sight that was handed out stays as it was
        self._sight = None
        self._stirred.add(name)
        return True

    def _stir_all(self) -> None:
        self._pans = {name: watch.view() for name, watch in self.watches.items()}
        self._stirred = set(self.watches)
        self._sight = None

    # the record

    def stand(self, station: Station) -> None:
        """The record says this from now on."""
        self._facts = Facts(station)
        assign(self.watches, self._facts)
        self._stir_all()

    def resume(self, station: Station) -> None:
        """The same after a start: what was done to the pans meanwhile nobody saw."""
        self._facts = Facts(station)
        resume(self.watches, self._facts)
        self._stir_all()

    def offer_formulas(self, names: Sequence[str]) -> None:
        """These can be opened from now on, by the names of their files."""
        self._menu = replace(self._menu, formulas=tuple(names))

    # deciding

    def sight(self, at: str = "") -> Sight:
        """The record and the pans as they are now."""
        if self._sight is None or self._sight.at != at:
            self._sight = Sight(self._facts, self._pans, at, self._thermometers)
        return self._sight

    def notice(self) -> Command | None:
        """What the pans show that wants a decision. What was looked at and wants none is not
        looked at again before it changes."""
        if not self._stirred:
            return None
        command = notice(self.sight(), self._stirred)
        if command is None:
            self._stirred.clear()
        return command

    def decide(self, command: Command, at: str) -> Decision:
        """What to record for `command`. Raises `Refusal`. A lift is believed once: one that cannot
        be recorded accepts nothing."""
        sight = self.sight(at)
        if isinstance(command, (do.SeeLift, do.SeeItem)):
            self.watches[command.scale].lift_handled()
            self._stir(command.scale)
        return decide(sight, command)

    def batch_of(self, command: Command) -> str | None:
        """The batch that a command's events belong to."""
        return batch_of(self.station, command)

    def evolved(self, events: Iterable[Event], at: str, batch: str | None) -> Station:
        """The record with these events, for who keeps no book."""
        station = self.station
        for event in events:
            station = evolve(station, event, at, batch)
        return station

    def tell(self, command: Command, decision: Decision) -> None:
        """Let the watches know what a recorded decision means for them."""
        tell(self.watches, command, decision)
        self._stir_all()

    def guide(self, ledger: Trouble | None = None, now: str = "") -> Guide:
        """What to show at the moment `now` (RFC 3339); `ledger` is the trouble with writing."""
        return guide(self.sight(), ledger, self._menu, now)
