"""bench.toml: keys, sounds, and what is switched outside."""

from dataclasses import dataclass
from typing import Literal

from station.bench.actions import ACTIONS
from station.bench.keys import NAMES, is_key
from station.resources import Config, packaged
from station.tomlfile import Table, TomlFile, near

_SIGNS = {"plus": "+", "minus": "-", "enter": "Enter", "slash": "/", "star": "*", "point": "."}

Line = Literal["rts", "dtr"]


@dataclass(frozen=True, slots=True)
class Outside:
    """What is told outside: a command, a control line of a port; either may be missing."""

    command: tuple[str, ...] = ()
    port: str | None = None
    line: Line = "rts"


@dataclass(frozen=True, slots=True)
class BenchSettings:
    """`keys`: key -> action; `notes`: those that can be chosen as they are."""

    characters: str
    bell: bool
    keys: dict[str, str]
    outside: Outside
    notes: tuple[str, ...] = ()

    def key_of(self, action: str) -> str | None:
        """The first key of an action, as the screen names it."""
        for key, wanted in self.keys.items():
            if wanted == action:
                return _SIGNS.get(key, key)
        return None


def load_bench(config: Config) -> BenchSettings:
    """Read bench.toml. Raises `FileMistakes` or `ResourceError`."""
    file = TomlFile(*config.read("bench.toml"))
    top = file.top
    characters = top.choice("characters", ("auto", "ascii", "unicode"), default="auto")
    bell = top.flag("bell", True)
    notes = top.texts("notes")
    if top.has("keys"):
        keys = _keys(top.table("keys"))
    else:  # a file about the lamp alone leaves the keys as they are
        keys = _keys(TomlFile((packaged() / "bench.toml").read_text("utf-8"), "").top.table("keys"))
    if "accept" not in keys.values():
        top.mistake("keys", "accept has no key")
    told = top.table("outside")
    command, port = told.texts("command"), told.text("port", "") or None
    line: Line = "dtr" if told.choice("line", ("rts", "dtr"), default="rts") == "dtr" else "rts"
    told.finish()
    top.finish()
    file.finish()
    return BenchSettings(characters, bell, keys, Outside(command, port, line), notes)


def _keys(table: Table) -> dict[str, str]:
    """Key -> action; a key that is none, or has two actions, is a mistake."""
    keys: dict[str, str] = {}
    for action in ACTIONS:
        for key in table.texts(action):
            if not is_key(key):
                table.mistake(action, f"found {key!r}, no key{near(key, NAMES)}")
            elif key in keys:
                table.mistake(action, f"{key!r} is the key of {keys[key]!r} already")
            keys[key] = action
    table.finish()
    return keys
