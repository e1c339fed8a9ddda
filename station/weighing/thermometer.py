"""A thermometer of the bench: one that is read at a port, or one that a person reads."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from station import units
from station.tomlfile import near
from station.weighing.commands import Refusal

SILENT_S = 10.0
"""Seconds without a reading after which nothing is known: thermometers send slowly."""


@dataclass(frozen=True, slots=True)
class Thermometer:
    """`at_port`: whether the station reads it; else a person does. `shows`: the temperature with
    its unit as it was sent, None while it is not known, and then `says` and `next` tell why.
    `still`: it does not say that it moves; `raw`: the frame; `at_s`: when that came."""

    name: str
    at_port: bool = False
    shows: str | None = None
    still: bool = True
    raw: str = ""
    at_s: float = 0.0
    says: str = ""
    next: str = ""

    def silenced(self, now_s: float) -> "Thermometer":
        """The same at the moment `now_s`: what it showed long ago it does not show any more."""
        if self.shows is None or now_s - self.at_s <= SILENT_S:
            return self
        return self.lost("it is silent", "switch it on; check its cable")

    def lost(self, says: str, next_step: str) -> "Thermometer":
        """The same while nothing is known of what it shows."""
        return replace(self, shows=None, raw="", says=says, next=next_step)


Thermometers = Mapping[str, Thermometer]


@dataclass(frozen=True, slots=True)
class Found:
    """What was found at a step, the thermometer that it was read from, and the frame."""

    value: str | None
    thermometer: str | None = None
    raw: str = ""


def found(thermometers: Thermometers, value: str | None, name: str | None) -> Found:
    """What a step ends with: `value` as it was typed, and what the thermometer `name` shows where
    the station reads it. Raises `Refusal`."""
    if name is None:
        return Found(value)
    thermometer = thermometers.get(name)
    if thermometer is None:
        what = f"no thermometer is named {name}{near(name, thermometers)}"
        known = ", ".join(thermometers)
        step = f"one of {known}" if known else "name it in station.toml: [[thermometer]]"
        raise Refusal("unknown-thermometer", what, step)
    if not thermometer.at_port:
        return Found(value, name)
    if value is not None and units.temperatures(value):
        what = f"{name} is read by the station, and {value} was typed"
        raise Refusal("typed", what, "leave the temperature out, or leave the thermometer out")
    if thermometer.shows is None:
        step = thermometer.next or "wait for its first reading"
        raise Refusal("no-reading", f"{name}: {thermometer.says or 'nothing yet'}", step)
    if not thermometer.still:
        raise Refusal("moving", f"{name} still moves: {thermometer.shows}", "wait until it stands")
    shows = thermometer.shows
    return Found(shows if value is None else f"{shows}, {value}", name, thermometer.raw)


def at_ports(thermometers: Thermometers) -> list[Thermometer]:
    """Those that show something now."""
    return [one for one in thermometers.values() if one.at_port and one.shows is not None]


def by_eye(thermometers: Thermometers) -> list[str]:
    """The names of those that a person reads."""
    return [one.name for one in thermometers.values() if not one.at_port]
