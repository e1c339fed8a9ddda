"""A frame drawn column by column becomes the regex that a parser matches. Pure.

One sign of the picture is one byte of the frame. A small letter is a field, as wide as its letter
is repeated; every other sign stands for itself, and so does a letter behind a backslash.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from msgspec.structs import replace

from drivers.grammar_file import File

VALUE, TARE, UNIT, CHECKSUM, SIGN, PASSED = "v", "t", "u", "c", "s", "x"
NAMES = {VALUE: "value", TARE: "tare", UNIT: "unit", CHECKSUM: "checksum"}
"""Letters whose field has a name of its own; any other letter is the name of its table."""
SIGNS = {"+": "", "-": "negative", " ": ""}
"""What stands in a column of sign, where no [status.s] says it."""
_LETTER = re.compile("[a-z]")
_BYTE = re.compile(r"\\(?:x[0-9A-Fa-f]{2}|u[0-9A-Fa-f]{4})")
_SPECIAL = re.compile(r"([\\\]^-])")


@dataclass(slots=True)
class _Run:
    """Neighbouring columns of one letter, or fixed signs (`letter` ""); `point` is the column of a
    decimal mark among them, counted from the run's first."""

    letter: str
    at: int
    signs: list[str] = field(default_factory=list)
    point: int | None = None

    @property
    def width(self) -> int:
        return len(self.signs)


def drawn(file: File) -> File:
    """The file with the regex that its picture stands for; as it is where it has a regex.

    Raises `ValueError` for the first mistake, with its key.
    """
    if file.columns is None and file.regex is None:
        raise ValueError("columns: this key is missing, or regex in its place")
    if file.columns is not None and file.regex is not None:
        raise ValueError("columns and regex: each describes the whole frame, keep one of them")
    if file.columns is None:
        if file.units:
            raise ValueError("units: they go with columns; a regex lists them in its group unit")
        return file
    runs = _runs(file, file.columns)
    _check_letters(file, runs)
    columns = sum(run.width for run in runs)
    if file.length is not None and file.length != columns:
        raise ValueError(f"columns: {columns} columns, but length says {file.length}")
    status = dict(file.status)
    if any(run.letter == SIGN for run in runs):
        status.setdefault(SIGN, dict(SIGNS))
    file = replace(file, status=status)
    return replace(file, regex="".join(_pattern(file, run) for run in runs))


def _runs(file: File, picture: str) -> list[_Run]:
    if (found := _BYTE.search(picture)) is not None:
        raise ValueError(
            f"columns: {found[0]} between single quotes is {len(found[0])} signs and no byte; write"
            " the picture between double quotes"
        )
    runs: list[_Run] = []
    for at, (letter, sign) in enumerate(_signs(picture), 1):
        last = runs[-1] if runs else None
        if last is not None and last.letter == letter:
            last.signs.append(sign)
        elif last is not None and letter == "" and _is_point(file, last, sign):
            last.point = last.width
            last.signs.append(sign)
        else:
            runs.append(_Run(letter, at, [sign]))
    return _without_last_points(runs)


def _signs(picture: str) -> Iterator[tuple[str, str]]:
    """Each column: its letter, "" for a fixed sign, and the sign."""
    signs = iter(picture)
    for sign in signs:
        if sign == "\\":
            fixed = next(signs, None)
            if fixed is None:
                raise ValueError("columns: a backslash at the end stands before nothing")
            yield "", fixed
        elif not sign.isascii():
            raise ValueError(f"columns: {sign!r} is no sign of one byte that a scale sends")
        else:
            yield (sign if _LETTER.fullmatch(sign) else ""), sign


def _is_point(file: File, run: _Run, sign: str) -> bool:
    """Whether a fixed sign behind the columns of a figure may be its decimal mark."""
    text = file.number.code == "text" and file.decimals is None
    return text and sign == file.decimal and run.letter in (VALUE, TARE) and run.point is None


def _without_last_points(runs: list[_Run]) -> list[_Run]:
    """A decimal mark has columns of its figure on both sides; else it is a sign like any other."""
    found: list[_Run] = []
    for run in runs:
        ends = run.point is not None and run.point == run.width - 1
        if ends:
            found.append(_Run(run.letter, run.at, run.signs[:-1]))
            run = _Run("", run.at + run.width - 1, run.signs[-1:])
        found.append(run)
    return found


def _check_letters(file: File, runs: list[_Run]) -> None:
    places: dict[str, int] = {}
    for run in runs:
        if run.letter in places and run.letter not in ("", PASSED):
            raise ValueError(
                f"columns: {run.letter} stands in two places, from columns {places[run.letter]} and"
                f" {run.at} on; a field is one run"
            )
        places.setdefault(run.letter, run.at)
    if VALUE not in places:
        raise ValueError("columns: no column has the letter v, and v is where the number stands")
    decided_by = None if file.decimals is None else file.decimals.group
    tables = {*file.status, *file.bits, *file.patterns, *([decided_by] if decided_by else [])}
    reserved = {*NAMES, PASSED, SIGN, ""}
    for letter, at in places.items():
        if letter not in reserved | tables:
            raise ValueError(
                f"columns: {letter} in column {at} has no table: add [status.{letter}] or"
                f" [bits.{letter}], or write \\{letter} where the frame always has that letter"
            )
    for name in sorted(tables - {"value"}):
        if name not in places or name in {*NAMES, PASSED}:
            raise ValueError(f"{name}: it has a table, but no field of the columns is {name}")
    if (UNIT in places) != bool(file.units):
        raise ValueError('units: the words in the columns of u, such as ["kg", "g"]; give both')
    if (CHECKSUM in places) != (file.checksum is not None):
        raise ValueError("checksum: columns of c and the table [checksum] go together")


def _pattern(file: File, run: _Run) -> str:
    letter, width = run.letter, run.width
    if letter == "":
        return re.escape("".join(run.signs))
    if letter == PASSED:
        return f".{{{width}}}"
    name = NAMES.get(letter, letter)
    if letter in (VALUE, TARE):
        inside = _figure(file, run, signed=letter == TARE or SIGN not in file.status)
        if letter == VALUE:
            inside = "|".join([inside, *_instead(file, width)])
    elif letter == UNIT:
        inside = "|".join(_padded("units", file.units, width))
    elif letter == CHECKSUM:
        code = file.checksum.code if file.checksum else "binary"
        inside = f"{ {'hex': '[0-9A-Fa-f]', 'decimal': '[0-9]', 'binary': '.'}[code] }{{{width}}}"
    elif letter in file.bits or letter not in {*file.status, *file.patterns}:
        inside = f".{{{width}}}"  # any byte has bits; whether it may stand there, its table says
    elif letter == SIGN and width == 1 and SIGN not in file.patterns:
        inside = _of("".join(file.status[SIGN]))
    else:
        _padded(f"status.{letter}", file.status.get(letter, {}), width)
        inside = f"[ -~]{{{width}}}"  # the table knows the words, and tells one that it does not
    return f"(?P<{name}>{inside})"


def _figure(file: File, run: _Run, signed: bool) -> str:
    """The columns of a figure: digits, blanks, and the marks that may be among them."""
    if file.number.code != "text":
        return f".{{{run.width}}}"
    more = ("+-" if signed else "") + (file.number.thousands or "")
    if run.point is None:
        return f"{_of(' 0123456789' + file.decimal + more)}{{{run.width}}}"
    before, behind = run.point, run.width - run.point - 1
    whole, broken = _of(" 0123456789" + more), "[0-9]"
    if file.number.order == "low-first":
        whole, broken = broken, whole
    point = re.escape(file.decimal)
    return f"{whole}{{{before}}}{point}{broken}{{{behind}}}"


def _instead(file: File, width: int) -> list[str]:
    """What may stand in the number's place: the words of [status.value], and with patterns
    whatever is no figure."""
    found = list(_padded("status.value", file.status.get("value", {}), width))
    if file.patterns.get("value"):
        found.append(rf"(?![-+ .,0-9]{{{width}}})[ -~]{{{width}}}")
    return found


def _padded(key: str, words: Iterable[str], width: int) -> list[str]:
    """Every way in which the words fill so many columns, blanks around them."""
    found = dict[str, None]()
    for word in words:
        if len(word) > width:
            raise ValueError(f"{key}: {word!r} is longer than its columns (there are {width})")
        for before in range(width - len(word) + 1):
            found[re.escape(" " * before + word + " " * (width - len(word) - before))] = None
    return list(found)


def _of(signs: str) -> str:
    """A set of a regex that holds these signs."""
    return "[" + _SPECIAL.sub(r"\\\1", signs) + "]"
