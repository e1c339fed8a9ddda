"""Reading a person's TOML file: one message per mistake, each with file, line, key and hint."""

import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal
from difflib import get_close_matches
from typing import Any, TypeVar

LONGEST = 1 << 17
"""Characters of a file at most: what people write has some thousands."""

LONGEST_LINE = 2000
"""Characters of a line at most. The parser takes time with the square of a dotted key's parts: one
of 50 000 parts took 99 s."""

MOST = 50
"""Mistakes that are told of a file: more of them are one mistake."""

T = TypeVar("T")
_NONE: Any = object()


class FileMistakes(ValueError):
    """A file that cannot be used, with every mistake found in it; `str()` is one line each."""

    def __init__(self, mistakes: Iterable[str]) -> None:
        self.mistakes = tuple(mistakes)
        super().__init__("\n".join(self.mistakes))


class TomlFile:
    """The parsed text of one file and the mistakes found so far."""

    def __init__(self, text: str, filename: str) -> None:
        self.filename = filename
        self.mistakes: list[str] = []
        lines = text.splitlines()
        if len(text) > LONGEST or max(map(len, lines), default=0) > LONGEST_LINE:
            most = f"{LONGEST} characters in all, {LONGEST_LINE} in a line"
            raise FileMistakes([f"{filename}: too long, expected at most {most}"])
        try:
            data = tomllib.loads(text.removeprefix("\ufeff"), parse_float=Decimal)
        except ValueError as error:
            raise FileMistakes([f"{filename}: not TOML: {error}{_quotes(error, lines)}"]) from None
        except RecursionError:
            raise FileMistakes([f"{filename}: lists or tables nested too deep"]) from None
        self._lines = _key_lines(lines)
        self.top = Table(self, data, "")

    @property
    def full(self) -> bool:
        """Whether so much is wrong that no more is told."""
        return len(self.mistakes) > MOST

    def mistake(self, path: str, what: str) -> None:
        if self.full:
            return
        if len(self.mistakes) == MOST:
            self.mistakes.append(f"{self.filename}: and more mistakes")
            return
        line = self._lines.get(path)
        while line is None and path:
            path_up = path.rpartition(".")[0]
            line = self._lines.get(path_up)
            if not path_up:
                break
            if line is not None:
                break
            path = path_up
        where = self.filename if line is None else f"{self.filename}:{line}"
        self.mistakes.append(f"{where}: {what}")

    def finish(self) -> None:
        """Raise `FileMistakes` if anything was wrong."""
        if self.mistakes:
            raise FileMistakes(self.mistakes)


class Table:
    """One table of the file; each key is asked for once, what was not asked for is a mistake."""

    def __init__(self, file: TomlFile, data: Mapping[str, Any], path: str) -> None:
        self._file = file
        self._data = data
        self._known: set[str] = set()
        self._refused: set[str] = set()
        self.path = path

    def mistake(self, key: str, what: str) -> None:
        """Note a mistake at `key` of this table."""
        self._file.mistake(self._at(key), f"{self._at(key)}: {what}")

    def _at(self, key: str) -> str:
        return f"{self.path}.{key}".lstrip(".")

    def has(self, key: str) -> bool:
        self._known.add(key)
        return key in self._data

    def refuse(self, key: str, why: str) -> None:
        """Note a key that may be written and is not read, with the reason."""
        if key in self._data:
            self._refused.add(key)
            self.mistake(key, why)

    def holds(self, key: str, kind: type) -> bool:
        """Whether `key` is there and of that type."""
        return isinstance(self._data.get(key), kind)

    def value(self, key: str, kind: type[T], what: str, default: T = _NONE) -> T:
        """The value of `key`, of type `kind`; if not, a mistake and the default or an empty one."""
        self._known.add(key)
        if key not in self._data:
            if default is _NONE:
                self.mistake(key, f"missing, expected {what}")
                return kind()
            return default
        found = self._data[key]
        if not isinstance(found, kind) or (kind is int and isinstance(found, bool)):
            self.mistake(key, f"found {_bare(found)}, expected {what}")
            return kind() if default is _NONE else default
        return found

    def text(self, key: str, default: str = _NONE) -> str:
        found = self.value(key, str, "a text in quotes", default)
        if key in self._data and not found.strip() and isinstance(self._data[key], str):
            self.mistake(key, "is empty")
        elif not found.isprintable() and found:
            self.mistake(key, f"found {found!r}, expected signs that can be shown")
        return found

    def flag(self, key: str, default: bool) -> bool:
        return self.value(key, bool, "true or false", default)

    def parsed(self, key: str, parse: Callable[[str], T], default: T = _NONE) -> T | None:
        """A text put through `parse`, whose ValueError becomes a mistake; None if there was one."""
        self._known.add(key)
        if key not in self._data and default is not _NONE:
            return default
        before = len(self._file.mistakes)
        text = self.text(key)
        if len(self._file.mistakes) > before:
            return None
        try:
            return parse(text)
        except ValueError as error:
            self.mistake(key, str(error))
            return None

    def choice(self, key: str, allowed: Iterable[str], default: str = _NONE) -> str:
        found = self.text(key, default)
        allowed = list(allowed)
        if key in self._data and found and found not in allowed:
            self.mistake(
                key, f"found {found!r}, allowed {', '.join(allowed)}{near(found, allowed)}"
            )
        return found

    def texts(self, key: str) -> tuple[str, ...]:
        found = self.value(key, list, "a list of texts", [])
        if not all(isinstance(item, str) for item in found):
            self.mistake(key, f"found {_bare(found)}, expected a list of texts")
            return ()
        return tuple(found)

    def known(self, key: str, found: Iterable[str], allowed: Iterable[str]) -> None:
        """Note every word that is none of the allowed: a misspelling must not pass in silence."""
        allowed = list(allowed)
        for word in found:
            if self._file.full:
                return
            if word not in allowed:
                self.mistake(key, f"found {word!r}{near(word, allowed)}")

    def tables(self, key: str) -> list["Table"]:
        """The tables of an array of tables (or an inline list of them)."""
        found = self.value(key, list, f"one or more [[{key}]]", [])
        tables = []
        for number, item in enumerate(found):
            if isinstance(item, dict):
                tables.append(Table(self._file, item, self._at(f"{key}[{number + 1}]")))
            else:
                self.mistake(key, f"found {_bare(item)}, expected a table")
        return tables

    def table(self, key: str) -> "Table":
        return Table(self._file, self.value(key, dict, f"a table [{key}]", {}), self._at(key))

    @property
    def names(self) -> list[str]:
        """The keys of the table, whatever they are."""
        return list(self._data)

    def finish(self) -> None:
        """Every key that nobody asked for is a mistake: a misspelling must not pass in silence."""
        for key in self._data:
            if self._file.full:
                return
            if key not in self._known | self._refused:
                self.mistake(key, f"unknown key{near(key, self._known)}")


def _bare(value: object) -> str:
    """A value as it stands in the file, but for the inside of what may hold anything."""
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list" if any(isinstance(item, (dict, list)) for item in value) else repr(value)
    return str(value) if isinstance(value, Decimal) else repr(value)


def near(word: str, allowed: Iterable[str]) -> str:
    """A hint at the nearest allowed word, or nothing."""
    close = get_close_matches(word, sorted(allowed), n=1)
    return f"; did you mean {close[0]!r}?" if close else ""


_PLACE = re.compile(r"\(at line ([0-9]+),")
_BARE = re.compile(r"""\s*([A-Za-z_]+)\s*=\s*([^"'\[{#\s][^"'#]*?)\s*(?:#.*)?""")


def _quotes(error: ValueError, lines: list[str]) -> str:
    """A hint where a value stands without its quotes, the slip of those who never saw TOML."""
    place = _PLACE.search(str(error))
    number = int(place[1]) if place else 0
    bare = _BARE.fullmatch("".join(lines[number - 1 : number]))
    return f'; words and amounts stand in quotes: {bare[1]} = "{bare[2]}"' if bare else ""


def _key_lines(found: list[str]) -> dict[str, int]:
    """Path of a key -> its line, by a plain scan: good for what people write, no second parser."""
    lines: dict[str, int] = {}
    counts: dict[str, int] = {}
    table = ""
    for number, line in enumerate(found, 1):
        line = line.strip()
        if line.startswith("[["):
            name = line.strip("[] ").split("]")[0]
            counts[name] = counts.get(name, 0) + 1
            table = f"{name}[{counts[name]}]"
            lines[table] = number
        elif line.startswith("["):
            table = line[1:].split("]")[0].strip()
            lines[table] = number
        elif "=" in line and not line.startswith("#"):
            key = line.split("=")[0].strip().strip("\"'")
            lines.setdefault(f"{table}.{key}".lstrip("."), number)
    return lines
