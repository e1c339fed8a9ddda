"""station.toml: the bench, its people and its scales."""

from dataclasses import dataclass
from decimal import Decimal

from drivers.grammar import GrammarError
from drivers.grammar_file import Line
from drivers.kinds import Kind, load_kind
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
    kind: Kind


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
    for twice in sorted({name for name in names if names.count(name) > 1}):
        top.mistake("scale", f"two scales are named {twice!r}")
    ports = [scale.port.port for scale in scales if scale]
    for twice in sorted({port for port in ports if ports.count(port) > 1}):
        top.mistake("scale", f"two scales are at {twice!r}")
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
    )


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
    line = kind.line if kind else Line()
    baud = table.value("baud", int, "a number such as 9600", line.baud)
    bits = table.text("bits", line.bits)
    try:
        Line(baud, bits)
    except ValueError as error:
        table.mistake("bits", str(error))
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
    return ScaleSettings(scale, PortSettings(port, baud, bits, line.dtr, line.rts), kind)


def _kind(table: Table, name: str, config: Config) -> Kind | None:
    if not name:
        return None
    try:
        return load_kind(*config.read(f"scales/{name}.toml"))
    except (ResourceError, GrammarError) as error:
        table.mistake("grammar", str(error))
        return None
