"""What is so at one moment: the record and what every pan shows. Each question about a line is
answered once, and handed to `notice`, `guide` and `decide` alike."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from types import MappingProxyType

from station.batch.line import Line, MeatLine
from station.batch.state import Batch, Station
from station.metrology.band import Limits
from station.metrology.fitness import Choice
from station.metrology.scale import Scale
from station.pan.view import Pan, Settled, Trouble
from station.tomlfile import near
from station.weighing.blocked import line_troubles, vessel_troubles
from station.weighing.commands import Refusal
from station.weighing.facts import Facts
from station.weighing.thermometer import Thermometers

Pans = Mapping[str, Pan]


@dataclass(frozen=True, slots=True)
class Look:
    """An addition at one moment. `choice`: scale, loads and limits, None where no scale has room;
    `pan`: what that scale shows; `net_g`: the line's sum with what is on the pan now, grams, None
    where that is not known; `troubles`: every reason why nothing can be accepted, the first to be
    shown first."""

    facts: Facts
    batch: Batch
    line: Line
    choice: Choice | None
    pan: Pan | None
    net_g: Decimal | None
    troubles: tuple[Trouble, ...]

    @property
    def scale(self) -> Scale | None:
        """The scale of the weighing; None before one is chosen."""
        if self.line.tare is not None:
            return self.batch.scale(self.line.tare.scale)
        return self.choice.scale if self.choice else None

    @property
    def settled(self) -> Settled | None:
        """What is settled on the pan with the vessel on it; None while it is lifted or moves."""
        if self.line.tare is None or self.pan is None or self.pan.settled is None:
            return None
        seated = self.line.tare.tare_g - self.pan.scale.near_g
        return self.pan.settled if self.pan.settled.gross_g >= seated else None

    @property
    def settled_g(self) -> Decimal | None:
        """The line's sum with what is settled on the pan, grams."""
        return None if self.settled is None else _net_g(self.line, self.settled.gross_g)

    @property
    def unfit(self) -> bool:
        """Whether the scale of the weighing is not fit for it."""
        return self.choice is None or self.choice.unfit is not None

    def limits(self, loads: int = 1) -> Limits:
        """The limits if so many more loads of the line are weighed on this scale."""
        assert self.scale is not None
        return self.facts.limits(self.line.name, self.scale, loads)

    @property
    def poured_elsewhere_g(self) -> Decimal:
        """What settled in another vessel than that of the weighing since it was set down, grams, as
        far as it is not on record. A device in question may be right."""
        pan = self.pan
        if pan is None or pan.settled is None or pan.recorded_g is None:
            return Decimal(0)
        more = pan.settled.gross_g - pan.recorded_g
        if more <= 0 or any(trouble.reason != "device" for trouble in pan.troubles):
            return Decimal(0)
        return Decimal(0) if self._its_own(replace(pan, troubles=())) else more

    def _its_own(self, pan: Pan) -> bool:
        """Whether what such a pan shows may be the vessel of the weighing."""
        wrong = vessel_troubles(self.facts, self.batch, self.line, pan)
        return all(trouble.asks == "missing" for trouble in wrong)

    def lifted_wrong(self) -> list[Trouble]:
        """Why what was lifted off the pan may not be the vessel of the weighing with all its
        content; empty where it is."""
        if self.pan is None or self.pan.lift is None:
            return []
        lift = self.pan.lift
        seen = replace(self.pan, settled=lift.held, troubles=(), placed_g=lift.placed_g)
        return vessel_troubles(self.facts, self.batch, self.line, seen)


class Sight:
    """The record, the pans and the thermometers at one moment; `at` is that moment for the record,
    RFC 3339 UTC."""

    def __init__(
        self,
        facts: Facts,
        pans: Pans,
        at: str = "",
        thermometers: Thermometers = MappingProxyType({}),
    ) -> None:
        self.facts = facts
        self.pans = pans
        self.thermometers = thermometers
        self.at = at
        self._looks: dict[str, Look] = {}

    @property
    def station(self) -> Station:
        return self.facts.station

    def pan(self, scale: str) -> Pan:
        """The pan of the scale that a command names. Raises `Refusal` with the nearest name."""
        pan = self.pans.get(scale)
        if pan is None:
            what = f"no scale is named {scale}{near(scale, self.pans)}"
            raise Refusal("unknown-scale", what, f"one of {', '.join(self.pans)}")
        return pan

    def well(self, scale: str, line: str | None = None) -> Pan:
        """The same, if nothing is wrong with it. Raises `Refusal`."""
        pan = self.pan(scale)
        refuse_if_blocked(pan.troubles, line)
        return pan

    def choice(self, name: str) -> Choice | None:
        """The scale for a line among those at hand: one whose cable is out gives way to another fit
        one, but never to one that is not fit."""
        wanted = self.facts.choice(name)
        if wanted is None or not _out(self.pans.get(wanted.scale.name)):
            return wanted
        out = frozenset(scale for scale, pan in self.pans.items() if _out(pan))
        other = self.facts.choice(name, out)
        return other if other is not None and other.unfit is None else wanted

    def look(self, line: Line) -> Look:
        """That line now."""
        if line.name not in self._looks:
            self._looks[line.name] = self._look(line)
        return self._looks[line.name]

    def _look(self, line: Line) -> Look:
        batch = self.facts.open_batch()
        choice = self.choice(line.name)
        where = line.tare.scale if line.tare else choice.scale.name if choice else ""
        pan = self.pans.get(where)
        net = None if pan is None or pan.gross_g is None else _net_g(line, pan.gross_g)
        troubles = tuple(line_troubles(self.facts, batch, line, choice, pan))
        return Look(self.facts, batch, line, choice, pan, net, troubles)

    def meat_pan(self, meat: MeatLine) -> Pan | None:
        """The pan that a meat line is weighed on."""
        plan = self.facts.meat_plan(meat.name)
        return self.pans.get(plan.scale.name) if plan else None


def _net_g(line: Line, gross_g: Decimal) -> Decimal | None:
    """The line's sum with so much on the pan; None before a vessel is tared."""
    return None if line.tare is None else gross_g - line.tare.tare_g + line.actual_g


def refuse_if_blocked(troubles: tuple[Trouble, ...], line: str | None = None) -> None:
    """Raise the first trouble as a `Refusal`."""
    if troubles:
        first = troubles[0]
        raise Refusal(f"blocked-{first.reason}", first.sentence, first.next, line)


def _out(pan: Pan | None) -> bool:
    return pan is not None and any(trouble.reason == "link" for trouble in pan.troubles)
