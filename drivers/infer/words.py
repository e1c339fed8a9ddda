"""What the columns beside the number mean, by the steps in which they changed. Pure."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace

from drivers.infer.cutting import Cut, Step

_MOST_WORDS = 6
"""Different bytes of a column of status at most: what has more is a figure or a counter."""
_ASPECTS: dict[Step, str] = {
    "move": "moving", "over": "overload", "tared": "net", "lifted": "negative", "empty": "",
}  # fmt: skip
"""What a sign means that stands there in that step and not while the known load stood."""
_BASE = {"moving": "stable", "net": "gross"}
"""What the sign of the known load means, beside another that means this."""
LETTERS = {"moving": "m", "net": "k", "overload": "o", "negative": "n", "": "z"}
"""The letter of a field, by the first thing that it tells; others follow the alphabet."""


@dataclass(frozen=True, slots=True)
class Field:
    """Columns `at` to `end` (not included) that tell something: words with their meanings, or bits
    (number of a bit: meaning set, meaning clear)."""

    at: int
    end: int
    words: Mapping[bytes, str]
    bits: Mapping[int, tuple[str, str]] | None = None

    @property
    def tells(self) -> list[str]:
        """What it tells, without repeats."""
        meanings = list(self.words.values())
        if self.bits is not None:
            meanings = [word for pair in self.bits.values() for word in pair if word != "error"]
        return list(dict.fromkeys(meaning for meaning in meanings if meaning))

    def without(self, *meanings: str) -> "Field":
        """The same, telling none of these."""
        none = dict.fromkeys(meanings, "")
        words = {word: none.get(meaning, meaning) for word, meaning in self.words.items()}
        bits = self.bits and {
            bit: (none.get(on, on), none.get(off, off)) for bit, (on, off) in self.bits.items()
        }
        return Field(self.at, self.end, words, bits)


@dataclass(frozen=True, slots=True)
class Columns:
    """What stands beside the number: fixed signs by their column, fields, columns of a sign, and
    columns that change for a reason that nobody knows."""

    fixed: Mapping[int, int]
    fields: tuple[Field, ...]
    sign: int | None
    passed: frozenset[int]

    def without(self, *meanings: str) -> "Columns":
        """The same, telling none of these."""
        return replace(self, fields=tuple(each.without(*meanings) for each in self.fields))


def columns_of(cut: Cut, taken: set[int], figures: set[int], signed: bool, gross: bool) -> Columns:
    """Every column that is not `taken` (by the number, the unit, the check). `figures` belong to
    other numbers; `signed`: the number has its sign among its own columns; `gross`: it stays gross
    when the tare key is pressed, so that what changes then is no matter."""
    fixed: dict[int, int] = {}
    passed, sign = figures - taken, None
    changing: dict[int, frozenset[str]] = {}
    by_bits: list[Field] = []
    signed = signed or gross
    free = sorted(set(range(cut.width)) - taken - passed)
    if not signed:
        sign = next((at for at in free if _is_sign(cut, at)), None)
    for at in free:
        seen = {frame[at] for frame in cut.all()}
        if at == sign:
            continue
        if len(seen) == 1 and max(seen) < 0x80:
            fixed[at] = seen.pop()
        elif (bits := _bits(cut, at, signed or sign is not None)) is not None:
            by_bits.append(Field(at, at + 1, {}, bits))
        elif len(seen) > _MOST_WORDS or (told := _told(cut, at)) is None:
            passed.add(at)
        else:
            changing[at] = told
    for at in [*changing, *reversed(changing)]:  # from either side, digit by digit
        if at in changing and {at - 1, at + 1} & passed and of_figures(cut, at):
            del changing[at]
            passed.add(at)
    for at in _slower(cut, fixed, passed):
        del fixed[at]
        passed.add(at)
    of_words = [_field(cut, run, signed or sign is not None) for run in _runs(changing)]
    fields = tuple(sorted([*by_bits, *of_words], key=lambda each: each.at))
    if gross:
        fields = tuple(each.without("net", "gross") for each in fields)
    return Columns(fixed, fields, sign, frozenset(passed))


def _slower(cut: Cut, fixed: Mapping[int, int], passed: Collection[int]) -> set[int]:
    """The digits in front of a figure that changes, also in front of a colon: of a counter or a
    clock those that did not turn yet."""
    found = set[int]()
    for at in filter(lambda at: of_figures(cut, at), passed):
        before = at - 1
        while before in fixed and chr(fixed[before]) in "0123456789:":
            found.add(before)
            before -= 1
    return {at for at in found if chr(fixed[at]) != ":"}


def of_figures(cut: Cut, at: int) -> bool:
    """Whether a column is one of a figure: it holds digits, blanks, points and signs."""
    return all(frame[at] in b" +-.,0123456789" for frame in cut.all())


def _is_sign(cut: Cut, at: int) -> bool:
    """Whether a column holds a minus just where the load was taken off its tare."""
    plain = {frame[at] for step in ("empty", "known") for frame in cut.last(step)}
    lifted = {frame[at] for frame in cut.last("lifted")}
    return lifted == {0x2D} and plain <= {0x20, 0x2B}


def _told(cut: Cut, at: int) -> frozenset[str] | None:
    """The steps in which a column was another than with the known load; None for one that did not
    stand still where the weight did."""
    base = {frame[at] for frame in cut.last("known")}
    found = set[str]()
    for step in cut.frames:
        seen = {frame[at] for frame in (cut.last(step) if step != "move" else cut.frames[step])}
        if step != "move" and len(seen) > 1:
            return None
        if seen - base:
            found.add(step)
    return frozenset(found) if len(base) == 1 else None


def _runs(changing: Mapping[int, frozenset[str]]) -> Iterable[range]:
    """Neighbouring columns that change in a common step make one word."""
    at: int | None = None
    for column in sorted(changing):
        if at is not None and column - 1 in changing and changing[column] & changing[column - 1]:
            continue
        if at is not None:
            yield range(at, _end(changing, at, column))
        at = column
    if at is not None:
        yield range(at, _end(changing, at, max(changing) + 1))


def _end(changing: Mapping[int, frozenset[str]], at: int, before: int) -> int:
    return next(n for n in range(at, before + 1) if n not in changing or n == before)


def _field(cut: Cut, run: range, signed: bool) -> Field:
    words = _words(cut, run, signed)
    told = set(words.values())
    base = _word(cut.last("known")[-1], run)
    meaning = next((_BASE[each] for each in ("moving", "net") if each in told), "")
    words = {word: means if word != base else meaning for word, means in words.items()}
    if meaning == "stable":  # a mark of zero stands still like the load
        words = {w: means if means or w == base else meaning for w, means in words.items()}
    return Field(run.start, run.stop, words)


def _words(cut: Cut, run: range, signed: bool) -> dict[bytes, str]:
    """Every word that was seen, by the first step that explains it. One that stands there with too
    much on it and while the load moves says that it moves, as too much does."""
    words = {_word(cut.last("known")[-1], run): ""}
    on_the_way = {_word(frame, run) for frame in cut.frames.get("move", [])}
    for step in ("empty", "tared", "lifted", "over", "move"):
        frames = cut.frames.get(step, []) if step == "move" else cut.last(step)
        meaning = _ASPECTS[step]
        if step == "lifted":
            tared = {_word(frame, run) for frame in cut.last("tared")}
            departs = tared - words.keys() or {w for w in tared if words.get(w) == "net"}
            meaning = "net" if departs else "" if signed else "negative"
        for frame in frames:
            moves = step == "over" and _word(frame, run) in on_the_way
            words.setdefault(_word(frame, run), "moving" if moves else meaning)
    for step, frames in cut.frames.items():  # a word on the way to the end of a step
        for frame in frames:
            words.setdefault(_word(frame, run), "overload" if step == "over" else "moving")
    return words


def _word(frame: bytes, run: range) -> bytes:
    return frame[run.start : run.stop]


def _bits(cut: Cut, at: int, signed: bool) -> dict[int, tuple[str, str]] | None:
    """The bits of a column, each with what it tells set and clear; None where they are none: every
    bit must stand still where the weight did, tell one thing, and that alone of them, and there are
    two such things at least. Bits that never changed must not change: then something is so that
    nobody showed."""
    told: dict[int, str] = {}
    for bit in range(8):
        seen = _steps_of_bit(cut, at, bit)
        if seen is None:
            return None
        if seen:
            if (meaning := _meaning(seen, signed, frozenset(cut.frames))) is None:
                return None
            told[bit] = meaning
    meanings = [meaning for meaning in told.values() if meaning]
    if len(meanings) < 2 or len(set(meanings)) < len(meanings):
        return None
    known, found = cut.last("known")[-1][at], dict[int, tuple[str, str]]()
    for bit in range(8):
        here = told.get(bit, "error")
        usual = _BASE.get(here, "") if bit in told else ""
        found[bit] = (usual, here) if known >> bit & 1 else (here, usual)
    return found


def _steps_of_bit(cut: Cut, at: int, bit: int) -> frozenset[str] | None:
    """The steps in which a bit was another than with the known load; None for one that did not
    stand still where the weight did."""
    values = {
        step: {frame[at] >> bit & 1 for frame in (cut.last(step) if step != "move" else frames)}
        for step, frames in cut.frames.items()
    }
    if any(len(seen) > 1 for step, seen in values.items() if step not in ("move", "over")):
        return None
    return frozenset(step for step, seen in values.items() if seen - values["known"])


def _meaning(seen: frozenset[str], signed: bool, recorded: frozenset[str]) -> str | None:
    """What a bit tells that was another in these steps, of those that were `recorded`; None where
    nothing does that."""
    still = seen & {"empty", "tared", "lifted"}
    if not still:
        return "moving" if "move" in seen else "overload"
    if "tared" in still and still == {"tared", "lifted"} & recorded:
        return "net"
    if still == {"lifted"}:
        return "" if signed else "negative"
    return "" if "empty" in still else None  # a mark of zero, of the net weight or of the gross
