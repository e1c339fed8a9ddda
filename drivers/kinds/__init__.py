"""Kinds of scales: how readings come from a port. A kind is a module here, found by its name.

The first line of a scale's file that says `driver = "NAME"` names it; without one it is `text`. A
module has `compile_kind(text, filename) -> ScaleFile`. To add one, copy `skeleton.py`: it says what
must hold. Nothing elsewhere needs an edit.
"""

import tomllib
from collections.abc import Callable
from importlib import import_module
from importlib.util import find_spec
from pkgutil import iter_modules
from typing import Protocol, cast

from drivers.grammar import GrammarError
from drivers.grammar_file import LineSettings, not_toml
from drivers.link import Clock, LinkState, PortSettings
from drivers.measured import Measured
from drivers.reading import Fault, Reading

OnItems = Callable[[list[Reading | Fault], float], None]
OnMeasured = Callable[[list[Measured | Fault], float], None]
OnState = Callable[[LinkState], None]


class Source(Protocol):
    """One port at work."""

    @property
    def hangs_s(self) -> float:
        """Seconds that something has hung which ought to return at once; 0 while all is well."""

    async def run(self) -> None:
        """Read for ever; tell every change of the link; never raise but when cancelled."""

    async def order(self, name: str) -> str | None:
        """Tell the scale to do something ("zero", "clear-tare"); None once it said that it did,
        else why not."""


class _Named(Protocol):
    """What any file says."""

    @property
    def name(self) -> str: ...

    @property
    def measures(self) -> str:
        """ "weight" for a scale, else "temperature" or "pH"."""

    @property
    def line(self) -> LineSettings:
        """The line settings the scale is usually sent with."""

    @property
    def asked(self) -> bool:
        """Whether it must be asked for every reading."""


class ScaleFile(_Named, Protocol):
    """A scale's file, checked."""

    @property
    def orders(self) -> frozenset[str]:
        """What the scale can be told to do."""

    def source(
        self, port: PortSettings, clock: Clock, on_items: OnItems, on_state: OnState
    ) -> Source:
        """A source for one port."""


class Instrument(_Named, Protocol):
    """The file of an instrument that is no scale, checked."""

    def source(
        self, port: PortSettings, clock: Clock, on_items: OnMeasured, on_state: OnState
    ) -> Source:
        """A source for one port."""


LONGEST_FILE = 1 << 16
"""Characters of a scale's file at most: the longest of ours has some two thousand."""
LONGEST_LINE = 2000
"""Characters of a line of it: TOML takes time with the square of a dotted key's parts."""


def names() -> list[str]:
    """The kinds there are."""
    return sorted(m.name for m in iter_modules(__path__) if m.name != "skeleton")


def load_kind(text: str, filename: str) -> ScaleFile:
    """A scale's file as a kind. Raises `GrammarError`, also for an instrument that is no scale."""
    found = load_any(text, filename)
    if found.measures != "weight":
        raise GrammarError(
            f"{filename}: it measures a {found.measures} and no weight: name a scale's file"
        )
    return cast(ScaleFile, found)


def load_any(text: str, filename: str) -> ScaleFile | Instrument:
    """A file as a scale or another instrument, its module imported when wanted. Raises
    `GrammarError`."""
    if len(text) > LONGEST_FILE or max(map(len, text.splitlines()), default=0) > LONGEST_LINE:
        most = f"{LONGEST_FILE} characters in all, {LONGEST_LINE} in a line"
        raise GrammarError(f"{filename}: too long, expected at most {most}")
    try:
        driver = tomllib.loads(text).get("driver", "text")
    except (ValueError, RecursionError) as error:  # not TOML, or a number of thousands of digits
        raise GrammarError(f"{filename}: {not_toml(error)}") from None
    if driver not in names() or find_spec(f"{__name__}.{driver}") is None:
        known = ", ".join(names())
        raise GrammarError(f"{filename}: driver: found {driver!r}, there are {known}")
    try:
        module = import_module(f"{__name__}.{driver}")
    except ModuleNotFoundError as error:
        raise GrammarError(
            f"{filename}: driver {driver!r} needs {error.name}: install the station with its extra,"
            f" pip install 'bench-weighing-station[{driver}]'"
        ) from None
    found: ScaleFile | Instrument = module.compile_kind(text, filename)
    return found
