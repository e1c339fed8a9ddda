"""What the display shows: whole screens of text from what the station says. Pure.

Everything has its place, whatever the word: nothing jumps, scrolls or blinks. Black and white: STOP
and every alarm turn the whole screen inverse. A question takes the place of number and bar, with
all its answers.
"""

import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from station.bench import font
from station.bench.bar import bar
from station.units import shown as as_shown
from station.wire import Clock, Snapshot

LEAST = (40, 12)
"""The smallest screen, columns by rows."""
_WIDEST = font.width("SET DOWN")


@dataclass(frozen=True, slots=True)
class Size:
    columns: int
    rows: int


@dataclass(frozen=True, slots=True)
class Face:
    """One screen: as many rows as the terminal has, each as wide as it is."""

    rows: tuple[str, ...]
    inverse: bool


@dataclass(frozen=True, slots=True)
class Words:
    """What is said beside the station's own words: `notice` stands in for the sentence (an answer,
    a refusal), `looked` is a page of the overview, `caption` a line of the demo's, `keys` what the
    keys do now, `answers` what answers the question."""

    notice: str = ""
    looked: tuple[str, ...] = ()
    caption: str = ""
    keys: tuple[str, ...] = ()
    answers: tuple[str, ...] = ()


def inverse(shown: Snapshot) -> bool:
    """Whether the whole screen is inverse."""
    return shown.alarm or shown.word == "STOP"


def face(shown: Snapshot, size: Size, words: Words, ascii_only: bool) -> Face:
    """The screen for a snapshot of the station."""
    if size.columns < LEAST[0] or size.rows < LEAST[1]:
        rows = _too_small(shown, size)
    else:
        scale = _scale(size)
        if words.looked:
            rows = _page(shown, size, words)
        elif words.answers:
            rows = _question(shown, size, words, ascii_only, scale)
        elif scale:
            rows = _large(shown, size, words, ascii_only, scale)
        else:
            rows = _small(shown, size, words, ascii_only)
    fitted = [_fit(row, size.columns) for row in rows[: size.rows]]
    fitted += [" " * size.columns] * (size.rows - len(fitted))
    return Face(tuple(fitted), inverse(shown))


def _scale(size: Size) -> int:
    """How many rows a pixel gets; 0 where the screen is too small for whole pixels."""
    return min((size.columns - 2) // (2 * _WIDEST), (size.rows - 12) // (2 * font.HEIGHT))


def _large(shown: Snapshot, size: Size, words: Words, ascii_only: bool, scale: int) -> list[str]:
    wide = size.columns - 2
    pointer, line = _bar(shown, wide, ascii_only)
    tall = font.HEIGHT * scale
    room = size.rows - 2 * tall - 10
    text = _text(shown, words, wide, max(2, min(room, 5)))
    rows = [
        _header(shown, size.columns),
        f" {_aside(shown, wide)}",
        *_indent(font.blocks(shown.word, scale, ascii_only)),
        "",
        *_indent(_number(shown, wide, scale, ascii_only, tall)),
        "",
        f" {pointer}",
        f" {line}",
        f" {_digits(shown)}{_vessel(shown)}",
        "",
        *_indent(text),
    ]
    rows += [""] * (size.rows - 2 - len(rows))
    rows[size.rows - 2 :] = [f" {words.caption}", f" {_keys(words.keys, wide)}"]
    return rows


def _small(shown: Snapshot, size: Size, words: Words, ascii_only: bool) -> list[str]:
    pointer, line = _bar(shown, size.columns, ascii_only)
    number = to_go(shown)
    edge = min(size.columns - 2, _WIDEST + 4)
    digits = [row.rjust(edge) for row in font.halves(number, ascii_only)] if number else [""] * 3
    if font.width(number) > edge:
        digits = ["", f"{number} g", ""]
    joined = "".join(p if p.strip() else b for p, b in zip(pointer, line, strict=True))
    rows = [
        _header(shown, size.columns),
        *font.halves(shown.word, ascii_only),
        *digits,
        joined,
        *_text(shown, words, size.columns, size.rows - 9 - bool(words.caption)),
    ]
    rows += [""] * (size.rows - 1 - bool(words.caption) - len(rows))
    if not rows[-1]:  # nothing gives way for it
        rows[-1] = _aside(shown, size.columns)
    return [*rows, *([words.caption] if words.caption else []), _keys(words.keys, size.columns)]


def _question(shown: Snapshot, size: Size, words: Words, ascii_only: bool, scale: int) -> list[str]:
    """The word, what is asked, and every answer. What there is no room for gives way in this order:
    large letters, empty rows, a row for each answer."""
    below = [words.caption] if words.caption else []
    below.append(_keys(words.keys, size.columns - 2))
    asked = words.notice or shown.sentence
    text = [*_wrap(asked, size.columns - 2), "", *words.answers]
    packed = [*_wrap(asked, size.columns - 2), *_packed(words.answers, size.columns - 2)]
    small = list(font.halves(shown.word, ascii_only))
    large = ["", *font.blocks(shown.word, scale, ascii_only), ""] if scale else small
    for head, body in (
        (large, text),
        (small, text),
        (small, [row for row in text if row]),
        ([shown.word], [row for row in text if row]),
        ([shown.word], packed),
    ):
        rows = [_header(shown, size.columns), *_indent([*head, *body])]
        if len(rows) + len(below) <= size.rows:
            break
    rows += [""] * (size.rows - len(rows) - len(below))
    return [*rows[: size.rows - len(below)], *_indent(below)]


def page_rows(size: Size) -> int:
    """Rows of a page of the overview: without header, word and keys."""
    return max(size.rows - 3, 1)


def _page(shown: Snapshot, size: Size, words: Words) -> list[str]:
    """The word, small, and a page of the overview."""
    told = f"{shown.word} {to_go(shown)}".rstrip()
    rows = [_header(shown, size.columns), f" {told}", *_indent(words.looked)]
    rows += [""] * (size.rows - 1 - len(rows))
    return [*rows[: size.rows - 1], f" {_keys(words.keys, size.columns - 2)}"]


def _packed(answers: Sequence[str], wide: int) -> list[str]:
    """Several answers a row, none of them broken."""
    rows: list[str] = []
    for answer in answers:
        longer = f"{rows[-1]}  {answer}" if rows else answer
        if rows and len(longer) <= wide:
            rows[-1] = longer
        else:
            rows.append(answer)
    return rows


def _too_small(shown: Snapshot, size: Size) -> list[str]:
    """The word and the number all the same, as plain text."""
    told = f"{shown.word} {to_go(shown)}".rstrip()
    least = f"screen {size.columns}x{size.rows}, needs {LEAST[0]}x{LEAST[1]}"
    sentence = f"{shown.sentence}; {shown.next}"
    return [told, *textwrap.wrap(least, max(size.columns, 1)), *_wrap(sentence, size.columns)]


def to_go(shown: Snapshot) -> str:
    """Grams still to go to the aim, no digit finer than the division; below zero it is over.
    Dashes where the weight is not known and should be; empty where there is nothing to weigh."""
    aim, division = shown.aim_g or shown.target_g, shown.division_g
    if aim is None or division is None:
        return ""
    if shown.net_g is None:
        return "-----" if shown.word in ("BLOCKED", "ANSWER") else ""
    return as_shown(Fraction(aim) - Fraction(shown.net_g), Decimal(division))


def _number(shown: Snapshot, wide: int, scale: int, ascii_only: bool, tall: int) -> list[str]:
    """The number, its last digit always at the same place; as text where it is too wide."""
    number = to_go(shown)
    if not number:
        return [""] * tall
    if 2 * scale * font.width(number) > wide - 2:
        return [f"{number} g", *[""] * (tall - 1)]
    rows = list(font.blocks(number, scale, ascii_only))
    edge = min(2 * scale * _WIDEST, wide - 2)
    rows = [row.rjust(edge) for row in rows]
    rows[-1] += " g"
    return rows


def _bar(shown: Snapshot, width: int, ascii_only: bool) -> tuple[str, str]:
    lower = shown.accept_lower_g or shown.lower_g
    upper = shown.accept_upper_g or shown.upper_g
    if lower is None or upper is None or Decimal(upper) < Decimal(lower) or Decimal(upper) <= 0:
        return " " * width, " " * width
    net = None if shown.net_g is None else Decimal(shown.net_g)
    final = None
    if shown.word in ("POUR", "SLOWER", "STOP") and shown.final_g:
        final = Decimal(shown.final_g)
    return bar(width, max(Decimal(lower), Decimal(0)), Decimal(upper), net, ascii_only, final)


def _digits(shown: Snapshot) -> str:
    """What the scale itself shows, small."""
    scale = shown.scale
    if scale is None or scale not in shown.scales:
        return ""
    gross = shown.scales[scale].gross_g
    division = shown.division_g
    if gross is None or division is None:
        return f"{scale} -----"
    return f"{scale} {as_shown(Decimal(gross), Decimal(division))} g"


def _vessel(shown: Snapshot) -> str:
    return f"   {shown.vessel}" if shown.vessel else ""


def _header(shown: Snapshot, columns: int) -> str:
    """Batch, line n of m, scale and person; what there is no room for goes, the formula first."""
    batch = shown.batch or "no batch"
    place = ""
    if shown.place:
        place = f"line {shown.place} of {shown.places}"
    hold = "ON HOLD" if shown.hold else ""
    if not hold and (held := [other.batch for other in shown.parked if other.hold]):
        hold = f"{held[0]} ON HOLD"
    stamp = "SIMULATED" if shown.simulated else ""
    who, scale = shown.who or "", shown.scale or ""
    formula = shown.formula or ""
    if columns < 60:
        place = f"{shown.place}/{shown.places}" if place else ""
        parts = [batch, hold or place, _digits(shown), stamp]
        return " ".join(part for part in parts if part)
    right = "  ".join(part for part in (hold, place, scale, who, stamp) if part)
    room = columns - len(right) - len(batch) - 5
    if len(formula) > room:
        formula = formula[: max(room - 2, 0)] + ".." if room > 4 else ""
    left = f"{batch} {formula}".rstrip()
    return f" {left}{right.rjust(columns - len(left) - 2)} "


def _aside(shown: Snapshot, wide: int) -> str:
    """What is beside the work, in a line: the times that run, those that have run out first, and
    what is wrong with the backup where there is room; never beside an alarm."""
    if inverse(shown):
        return ""
    clocks = sorted(shown.clocks, key=lambda clock: (not clock.late, clock.batch != shown.batch))
    told = [_running(clock, shown) for clock in clocks]
    if shown.ledger is not None and shown.ledger.backup.says:
        backup = shown.ledger.backup
        in_full = f"{backup.says} > {backup.next}"
        told.append(in_full if not told and len(in_full) <= wide else backup.says)
    return _packed(told, wide)[0] if told else ""


def _running(clock: Clock, shown: Snapshot) -> str:
    """A time that runs; of another batch with its name."""
    return clock.says if clock.batch == shown.batch else f"{clock.batch} {clock.says}"


def _text(shown: Snapshot, words: Words, wide: int, most: int) -> list[str]:
    """The sentence and the next step, or what stands in for them."""
    if words.notice:
        lines = _wrap(words.notice, wide)
        if inverse(shown):  # what is wrong is never covered
            lines = [*_wrap(shown.sentence, wide), *lines]
    else:
        lines = [*_wrap(shown.sentence, wide), *_wrap(f"> {shown.next}", wide)]
        if len(lines) > most:
            lines = _wrap(f"{shown.sentence} > {shown.next}", wide)
    if len(lines) > most:
        lines = [*lines[: most - 1], lines[most - 1][: wide - 2] + ".."]
    return lines


def _keys(keys: Sequence[str], wide: int) -> str:
    """As many keys as there is room for, the most wanted first."""
    line = ""
    for key in keys:
        longer = f"{line}   {key}" if line else key
        if len(longer) > wide:
            break
        line = longer
    return line


def _wrap(text: str, wide: int) -> list[str]:
    return textwrap.wrap(text, max(wide, 1))


def _indent(rows: Iterable[str]) -> list[str]:
    return [f" {row}" for row in rows]


def _fit(row: str, columns: int) -> str:
    """Exactly as wide as the screen, without what could move the cursor."""
    if not row.isprintable():
        row = "".join(sign if sign.isprintable() else "?" for sign in row)
    return row[:columns].ljust(columns)
