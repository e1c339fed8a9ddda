"""station.toml: the bench, its people and its scales."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import cast

from drivers.grammar import GrammarError
from drivers.grammar_file import LineSettings
from drivers.kinds import Instrument, ScaleFile, load_any, load_kind
from drivers.link import PortSettings
from station import units
from station.formula.limits import AUTHORITIES
from station.metrology.scale import Scale
from station.names import bare
from station.resources import Config, ResourceError
from station.tomlfile import Table, TomlFile
from station.units import SCALE_UNITS


@dataclass(frozen=True, slots=True)
class ScaleSettings:
    """One scale: what it is for the decisions, where it is plugged in, and how it speaks."""

    scale: Scale
    port: PortSettings
    kind: ScaleFile


@dataclass(frozen=True, slots=True)
class Port:
    """Where a thermometer is plugged in, and how it speaks."""

    port: PortSettings
    kind: Instrument


@dataclass(frozen=True, slots=True)
class ThermometerSettings:
    """A thermometer of the bench; `at` None: a person reads it."""

    name: str
    at: Port | None = None


@dataclass(frozen=True, slots=True)
class Settings:
    name: str
    authority: str
    people: tuple[str, ...]
    simulated: bool
    scales: tuple[ScaleSettings, ...]
    metrics: str = ""
    """The file that is written for a monitoring system, or none."""
    backup_days: int | None = None
    """How old the last good backup may be, in days, or no matter."""
    currency: str = ""
    """What costs are in; empty where nobody said it."""
    backup_to: str = ""
    """The folder that the ledger is copied to when a batch ends, or none."""
    thermometers: tuple[ThermometerSettings, ...] = ()


def load_settings(config: Config) -> Settings:
    """Read station.toml and the grammars it names. Raises `FileMistakes` or `ResourceError`."""
    text, filename = config.read("station.toml")
    file = TomlFile(text, filename)
    top = file.top
    name = top.text("name")
    authority = top.choice("authority", AUTHORITIES)
    people = top.texts("people")
    if not people:
        top.mistake("people", "missing, expected at least one name")
    for mistake in _unclear(people):
        top.mistake("people", mistake)
    simulated = top.flag("simulated", False)
    metrics = top.text("metrics", "")
    backup_days = top.value("backup_days", int, "a number of days such as 7", 0) or None
    if top.holds("backup_days", int) and (backup_days or 0) < 1:
        top.mistake("backup_days", "expected one day at least")
    currency = top.text("currency", "")
    backup_to = top.text("backup_to", "")
    if backup_to and not backup_to.startswith("/"):
        top.mistake("backup_to", f"found {backup_to!r}, expected a folder's whole path, from / on")
    scales = [_scale(table, config) for table in top.tables("scale")]
    names = [scale.scale.name for scale in scales if scale]
    for twice in _twice(names):
        top.mistake("scale", f"two scales are named {twice!r}")
    thermometers = [_thermometer(table, config) for table in top.tables("thermometer")]
    for twice in _twice([one.name for one in thermometers if one]):
        top.mistake("thermometer", f"two thermometers are named {twice!r}")
    ports = [scale.port.port for scale in scales if scale]
    ports += [one.at.port.port for one in thermometers if one and one.at]
    for twice in _twice(ports):
        top.mistake("scale", f"two devices are at {twice!r}")
    if authority in AUTHORITIES and authority not in config.names("limits"):
        there = ", ".join(config.names("limits"))
        top.mistake("authority", f"there is no limits/{authority}.toml; there is {there}")
    top.finish()
    file.finish()
    return Settings(
        name,
        authority,
        people,
        simulated,
        tuple(scale for scale in scales if scale),
        metrics,
        backup_days,
        currency,
        backup_to,
        tuple(one for one in thermometers if one),
    )


def _twice(names: Sequence[str]) -> list[str]:
    return sorted({name for name in names if names.count(name) > 1})


def _unclear(people: tuple[str, ...]) -> list[str]:
    """What is wrong with the names: two of them that are one person are no second pair of eyes."""
    found = []
    known: dict[str, str] = {}
    for person in people:
        name = bare(person)
        if not name or not person.isprintable():
            found.append(f"found {person!r}, expected a name that can be read")
        elif name in known:
            found.append(f"{known[name]!r} and {person!r} are one name")
        known.setdefault(name, person)
    return found


def _scale(table: Table, config: Config) -> ScaleSettings | None:
    name = table.text("name")
    port = table.text("port")
    grammar_name = table.text("grammar")
    accuracy = table.choice("class", ("I", "II", "III", "IIII"))
    unit = table.choice("unit", SCALE_UNITS)
    most = table.parsed("max", units.mass)
    division = table.parsed("division", units.mass)
    kind = _kind(table, grammar_name, config)
    usual = "asked" if kind is not None and kind.asked else "continuous"
    sends = table.choice("sends", ("continuous", "stable", "asked"), default=usual)
    if kind is not None and kind.asked != (sends == "asked"):
        says = "must be asked" if kind.asked else "sends by itself, it has no [poll]"
        table.mistake("sends", f"found {sends!r}, but {grammar_name} {says}")
    at = _port(table, port, kind.line if kind else LineSettings())
    for key, value in (("max", most), ("division", division)):
        if value is not None and value <= 0:
            table.mistake(key, "expected more than nothing")
            return None
    table.finish()
    if most is None or division is None or kind is None:
        return None
    if most < 100 * division:
        table.mistake("division", f"{division} g is too coarse for a Max of {most} g")
        return None
    scale = Scale(name, Decimal(most), Decimal(division), accuracy, unit, sends)  # type: ignore[arg-type]
    return ScaleSettings(scale, at, kind)


def _thermometer(table: Table, config: Config) -> ThermometerSettings | None:
    name, port = table.text("name"), table.text("port", "")
    grammar = table.text("grammar") if port else ""
    kind = _instrument(table, grammar, config) if grammar else None
    at = _port(table, port, kind.line if kind else LineSettings()) if port else None
    if not name.isprintable() or not name.strip():
        table.mistake("name", f"found {name!r}, expected a name that can be read")
    table.finish()
    if at is not None and kind is None:
        return None
    return ThermometerSettings(name, Port(at, kind) if at and kind else None)


def _port(table: Table, port: str, line: LineSettings) -> PortSettings:
    """The port, with the line that the grammar is usually sent with unless the table says
    another."""
    baud = table.value("baud", int, "a number such as 9600", line.baud)
    bits = table.text("bits", line.bits)
    try:
        LineSettings(baud, bits)
    except ValueError as error:
        table.mistake("bits", str(error))
    return PortSettings(port, baud, bits, line.dtr, line.rts)


def _instrument(table: Table, name: str, config: Config) -> Instrument | None:
    """The grammar of a thermometer."""
    try:
        found = load_any(*config.read(f"scales/{name}.toml"))
    except (ResourceError, GrammarError) as error:
        table.mistake("grammar", str(error))
        return None
    if found.measures != "temperature":
        table.mistake("grammar", f"{name} measures a {found.measures} and no temperature")
        return None
    return cast(Instrument, found)


def _kind(table: Table, name: str, config: Config) -> ScaleFile | None:
    if not name:
        return None
    try:
        return load_kind(*config.read(f"scales/{name}.toml"))
    except (ResourceError, GrammarError) as error:
        table.mistake("grammar", str(error))
        return None
