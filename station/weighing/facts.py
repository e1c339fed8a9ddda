"""What follows from the record alone, worked out once for each state of it.

A reading changes nothing here, so the limits, scales and vessels of a line are not worked out anew
ten times a second for every scale on the bench.
"""

from collections.abc import Sequence
from functools import cached_property

from station.batch.amounts import Salt, salt
from station.batch.cups import Cup, cups
from station.batch.line import Line, Load, MeatLine
from station.batch.overview import Row, rows
from station.batch.plan import MeatPlan, choice_for, free_vessels, limits_on, meat_plan, onto
from station.batch.progress import Phase, by_word, current, phase, wants_bag
from station.batch.state import Batch, Station, Vessel
from station.batch.tally import Item, Tally, strays
from station.batch.way_back import WayBack, too_much, way_back
from station.metrology.band import Limits
from station.metrology.fitness import Choice
from station.metrology.scale import Scale
from station.tomlfile import near
from station.weighing.commands import Refusal
from station.weighing.filling import why_not_filled, why_not_mixed


class Facts:
    """One state of the record, and the answers to questions about it."""

    def __init__(self, station: Station) -> None:
        self.station = station
        self._choices: dict[tuple[str, frozenset[str]], Choice | None] = {}
        self._limits: dict[tuple[str, str, int], Limits] = {}
        self._onto: dict[str, bool] = {}
        self._meat: dict[str, MeatPlan | None] = {}

    @property
    def batch(self) -> Batch | None:
        """The batch at the bench, ended or not."""
        return self.station.batch

    @cached_property
    def phase(self) -> Phase | None:
        return None if self.batch is None else phase(self.batch)

    @cached_property
    def current(self) -> str | None:
        """The meat line, addition or step whose turn it is."""
        return None if self.batch is None else current(self.batch)

    @cached_property
    def under_way(self) -> tuple[Line, ...]:
        """The additions with a vessel tared, or to be voided."""
        batch = self.station.open
        if batch is None:
            return ()
        return tuple(line for line in batch.lines.values() if line.tare or line.voiding)

    @cached_property
    def turn(self) -> Line | None:
        """The addition whose turn it is, if its weighing may begin; one that was put off wants its
        vessel named first."""
        line = self.batch.lines.get(self.current or "") if self.batch else None
        if line is None or line.tare is not None or line.voiding is not None or self.unopened:
            return None
        return None if line.put_off else line

    def counted_on(self, scale: str) -> Tally | None:
        """The pieces or packs that are counted on a scale now: no vessel is looked for there."""
        tally = self.station.open.tally if self.station.open else None
        return tally if tally is not None and tally.scale == scale else None

    @cached_property
    def turn_name(self) -> str | None:
        """The meat line or addition whose turn it is; None for a step or the end."""
        batch, name = self.batch, self.current
        return name if batch and (name in batch.lines or name in batch.meats) else None

    @cached_property
    def unopened(self) -> tuple[str, ...]:
        """Regulated lines that want a bag that is open and in date: no strength, no weighing."""
        batch = self.batch
        if batch is None:
            return ()
        return tuple(
            name
            for name, line in batch.lines.items()
            if batch.regulated(name) and wants_bag(batch, line)
        )

    @cached_property
    def free(self) -> list[Vessel]:
        """Vessels on record that hold nothing of any open batch, lightest first."""
        return free_vessels(self.station)

    def free_like(self, scale: Scale) -> list[str]:
        """The names of those recorded on a scale like this one, else of all: a tub for meat."""
        own = [vessel.name for vessel in self.free if vessel.division_g == scale.division_g]
        return own or [vessel.name for vessel in self.free]

    @cached_property
    def by_word(self) -> tuple[tuple[Line, Load], ...]:
        """What of a line that a rule limits, or that the batch must have, is in the mix by one
        person's word, in a vessel whose empty weight is known."""
        batch = self.station.open
        return (
            ()
            if batch is None
            else tuple(
                (line, load)
                for line in batch.lines.values()
                for load in by_word(batch, line)
                if load.vessel is not None and load.scale is not None
            )
        )

    @cached_property
    def way_back(self) -> WayBack | None:
        """What would make the batch at the bench right again."""
        return None if self.batch is None else way_back(self.batch)

    @cached_property
    def too_much(self) -> bool:
        """Whether more of some line is in the mix than its meat allows."""
        return self.batch is not None and too_much(self.batch)

    @cached_property
    def why_not_filled(self) -> Refusal | None:
        """Why nothing of the open batch may be filled or packed now."""
        return None if self.station.open is None else why_not_filled(self.station.open)

    @cached_property
    def why_not_mixed(self) -> Refusal | None:
        """Why the open batch may not be tasted now."""
        return None if self.station.open is None else why_not_mixed(self.station.open)

    @cached_property
    def strays(self) -> Sequence[Item]:
        """Of what is counted now, what weighs less or more than it may."""
        batch = self.station.open
        return () if batch is None or batch.tally is None else strays(batch.formula, batch.tally)

    @cached_property
    def overview(self) -> tuple[Row, ...]:
        """Every line and step of the batch at the bench."""
        return () if self.batch is None else rows(self.batch)

    @cached_property
    def salt(self) -> Salt | None:
        """The salt of the batch at the bench so far."""
        return None if self.batch is None else salt(self.batch)

    @cached_property
    def cups(self) -> list[Cup]:
        """Every vessel that stands and whose weight is known."""
        return cups(self.station)

    @cached_property
    def stands(self) -> str | None:
        """The first line of the batch at the bench that stands in a vessel."""
        lines = self.batch.lines.values() if self.batch else ()
        return next((line.name for line in lines if line.standing), None)

    def choice(self, name: str, without: frozenset[str] = frozenset()) -> Choice | None:
        """Scale, loads and limits for an addition; `without` names scales not to be had."""
        key = (name, without)
        if key not in self._choices:
            self._choices[key] = choice_for(self.station, name, without)
        return self._choices[key]

    def choice_on(self, name: str, scale: str) -> Choice | None:
        """Loads and limits for an addition on that scale; None where it has no room."""
        batch = self.station.open
        others = {other.name for other in batch.scales if other.name != scale} if batch else set()
        return self.choice(name, frozenset(others))

    def limits(self, name: str, scale: Scale, loads: int) -> Limits:
        """The line's limits if `loads` more loads of it are weighed on `scale`."""
        key = (name, scale.name, loads)
        if key not in self._limits:
            batch = self.station.open
            assert batch is not None
            self._limits[key] = limits_on(batch, name, scale, loads)
        return self._limits[key]

    def onto(self, name: str) -> bool:
        """Whether the line is poured onto the mix's own vessel."""
        if name not in self._onto:
            self._onto[name] = onto(self.station, name)
        return self._onto[name]

    def meat_plan(self, name: str) -> MeatPlan | None:
        """Scale and figures of a meat line."""
        if name not in self._meat:
            self._meat[name] = meat_plan(self.station, name)
        return self._meat[name]

    # what a command names

    def open_batch(self) -> Batch:
        """The batch at the bench. Raises `Refusal`."""
        batch = self.station.open
        if batch is None:
            raise Refusal("no-batch", "no batch is open", "open one")
        return batch

    def vessel(self, name: str, step: str, line: str | None = None) -> Vessel:
        """The vessel of that name. Raises `Refusal` with what to do where it is not on record."""
        vessel = self.station.vessels.get(name)
        if vessel is None:
            raise Refusal("no-vessel", f"no empty weight on record for {name}", step, line)
        return vessel

    def line(self, name: str) -> Line | MeatLine:
        """The line of that name. Raises `Refusal` with the nearest name."""
        batch = self.open_batch()
        found = batch.lines.get(name) or batch.meats.get(name)
        if found is None:
            what = f"no line is named {name}{near(name, [*batch.meats, *batch.lines])}"
            raise Refusal("unknown-line", what, "check the name")
        return found

    def addition(self, name: str) -> Line:
        """The addition of that name. Raises `Refusal`, for meat too."""
        found = self.line(name)
        if isinstance(found, MeatLine):
            step = "use accept, end and meat-out for it"
            raise Refusal("is-meat", f"{name} is meat", step, name)
        return found

    def meat(self, name: str) -> MeatLine:
        """The meat line of that name. Raises `Refusal`, for an addition too."""
        found = self.line(name)
        if isinstance(found, Line):
            raise Refusal("not-meat", f"{name} is no meat", "void it", name)
        return found
