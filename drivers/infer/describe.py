"""From recordings of an unknown scale to its file, with the reasons as comments. Pure.

What the file says was seen: a sign that never changed must stay, a word that was never sent is a
fault, and whatever it reads in its own recordings is what the display showed.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from drivers.grammar import compile_grammar
from drivers.infer.check import check_reads, items_of, stands_still, tells_overload
from drivers.infer.cutting import SETTLED, Cut, Heard, Step, Unclear, cut
from drivers.infer.number import Place, Shown, number_of, others_of, reads_all, tare_of
from drivers.infer.words import Columns, columns_of, of_figures
from drivers.infer.writing import Made, PortLine, Unit, form, head, toml
from drivers.reading import Fault, Reading
from drivers.unread import Suspicion, suspicion

_SKIPPED: dict[Step, str] = {
    "empty": "an empty pan was not recorded: a mark of zero would be a fault",
    "move": "a moving load was not recorded: how it says that it moves is not known",
    "over": "too much on it was not recorded: how it says so is not known",
    "tared": "its own tare key was not recorded: leave that key alone, net would pass for gross",
    "lifted": "a load below nothing was not recorded: how its sign looks is not known",
}
"""What a step would have shown."""


@dataclass(frozen=True, slots=True)
class Described:
    """A scale's file, and what it says and does not know, in sentences."""

    text: str
    bits: str
    says: tuple[str, ...]


def described(name: str, heard: Mapping[Step, Heard], unit: str, line: PortLine) -> Described:
    """The file of a scale whose display shows `unit`. `heard` has the step "known" with what the
    display showed, and any others.

    Raises `Unclear` with what could not be worked out.
    """
    found = cut({step: each for step, each in heard.items() if each.chunks})
    shown = _shown(heard, found)
    weight, gross = number_of(found, shown)
    if weight.places is not None:
        _one_range(heard)
    tare = None if gross else tare_of(found, shown, weight)
    signed = any(frame[at] in b"+-" for frame in found.last("lifted") + found.last("known")
                 for at in range(weight.at, weight.end))  # fmt: skip
    told = _unit(found, unit, weight)
    if len(words := _units_behind(found, weight)) > 1:
        raise Unclear(
            f"behind the number it sends {' and '.join(map(repr, words))}: its display changes its"
            " unit, and what tells them apart is written by hand"
        )
    if told is None and (other := _another_unit(found, unit, weight)) is not None:
        raise Unclear(
            f"behind the number it sends {other!r}, and its display was said to show {unit!r}: look"
            " at the display once more; where it does show that, its file is written by hand"
        )
    taken = {at for place in (weight, tare, told) if place for at in range(place.at, place.end)}
    suspected = _check(found, weight, unit)
    check = set[int]()
    if suspected is not None and suspected.known is not None:
        begin = suspected.at - len(found.start)
        check = set(range(begin, begin + suspected.size)) - taken
    columns = columns_of(found, taken | check, others_of(found, shown), signed, gross)
    _sign_known(found, columns, signed)
    made = Made(name, line, found, weight, tare, gross, unit, told, columns, check, suspected)
    if not stands_still(compile_grammar(made.text(), f"{name}.toml"), found):
        made = replace(made, columns=columns.without("stable", "moving"))
    text = made.text()
    grammar = compile_grammar(text, f"{name}.toml")
    check_reads(grammar, found, shown, gross)
    says = [*made.says(), *(_SKIPPED[step] for step in _SKIPPED if step not in found.frames)]
    if "over" in found.frames:
        says.append(
            {
                "told": "too much on it is read as an overload",
                "unread": "too much on it is a fault: its frame has another form, and no weight",
                "": "nothing in the frame tells too much on it: its last weight is read",
            }[tells_overload(grammar, found)]
        )
    if (unread := suspicion(grammar, _all_items(found, text))) is not None:
        says.append(unread.says)
    comments = "".join(f"# {said}\n" for said in says)
    return Described(comments + text, found.bits, tuple(says))


def _sign_known(found: Cut, columns: Columns, signed: bool) -> None:
    """Raise where something changes that nobody can read, and a weight below nothing was never
    seen: its sign may be in there."""
    if signed or columns.sign is not None or "lifted" in found.frames:
        return
    unread = [at + 1 for at in sorted(columns.passed) if not of_figures(found, at)]
    if unread:
        where = ", ".join(map(str, unread))
        raise Unclear(
            f"columns {where} change, nothing explains them, and a weight below nothing was not"
            " recorded: its sign may be there; do the steps with the scale's own tare key, too"
        )


def read_somewhere(heard: Mapping[Step, Heard]) -> bool:
    """Whether something that is sent reads what the display is said to show, in every step so far;
    also where that cannot be told yet."""
    try:
        found = cut({step: each for step, each in heard.items() if each.chunks})
        return reads_all(found, _shown(heard, found))
    except Unclear:
        return True


def _all_items(found: Cut, text: str) -> list[Reading | Fault]:
    grammar = compile_grammar(text, "x")
    return [item for step in found.frames for item in items_of(grammar, found, step)]


def _shown(heard: Mapping[Step, Heard], found: Cut) -> Shown:
    """What the display showed, all with the decimals of the known load."""
    shown = {s: heard[s].shows for s in SETTLED if s in heard and found.frames.get(s)}
    known = shown.get("known")
    if known is None or known == 0:
        raise Unclear("no load was recorded whose weight the display shows")
    decimals = Decimal(1).scaleb(int(known.as_tuple().exponent))
    return {step: number.quantize(decimals) for step, number in shown.items() if number is not None}


def _one_range(heard: Mapping[Step, Heard]) -> None:
    """Raise where the display had other decimals in another step: where no point is sent, the same
    digits may then be another weight."""
    places = {
        -int(each.shows.as_tuple().exponent)
        for step in SETTLED
        if (each := heard.get(step)) is not None and each.shows is not None
        if each.shows or each.shows.as_tuple().exponent  # a bare 0 is what Enter says
    }
    if len(places) > 1:
        told = " and ".join(str(number) for number in sorted(places))
        raise Unclear(
            f"its display shows {told} decimals, and no point is sent: the same digits are another"
            " weight then, and what tells them apart is written by hand"
        )


def _another_unit(found: Cut, unit: str, weight: Place) -> str | None:
    """Another unit than the display's, right behind the number in every step; None where there is
    none."""
    words = {_word_behind(frame, weight) for step in SETTLED for frame in found.last(step)}
    word = words.pop() if len(words) == 1 else ""
    return word if word in _UNITS and word != unit else None


def _units_behind(found: Cut, weight: Place) -> list[str]:
    """Every word of a unit that was sent right behind the number."""
    usual = (frame for step in found.frames if step != "over" for frame in found.frames[step])
    words = {_word_behind(frame, weight) for frame in usual if weight.reads(frame) is not None}
    return sorted(words & {*_UNITS})


def _word_behind(frame: bytes, weight: Place) -> str:
    """The letters that follow the number, behind blanks or none, in small letters."""
    behind = frame[weight.end :].lstrip(b" ").decode("latin-1")
    size = next((n for n, sign in enumerate(behind) if not sign.isalpha()), len(behind))
    return behind[:size].lower()


_UNITS = ("g", "kg", "mg", "t", "lb", "oz")
"""The units of a scale, as they are sent."""


def _unit(found: Cut, unit: str, weight: Place) -> Unit | None:
    """Where the display's word for the unit stands, the nearest behind the number first."""
    wanted, frame = unit.encode().lower(), found.last("known")[-1]
    size = len(wanted)
    starts = [at for at in range(found.width - size + 1) if frame[at : at + size].lower() == wanted
              and not any(weight.holds(n) for n in range(at, at + size))
              and not _letters(frame, at, at + size)]  # fmt: skip
    for at in sorted(starts, key=lambda at: (at < weight.end, abs(at - weight.end))):
        word = frame[at : at + size]
        seen = {
            each[at : at + size] for s in found.frames if s != "over" for each in found.frames[s]
        }
        if seen <= {word, b" " * size}:
            settled = {f[at : at + size] for s in SETTLED for f in found.last(s)}
            if settled == {word}:
                absent = len(seen) > 1
                return Unit(at, at + size, word.decode(), absent, word.decode() == unit)
    return None


def _letters(frame: bytes, at: int, end: int) -> bool:
    """Whether a letter stands right before or behind: then it is part of another word."""
    beside = [frame[n] for n in (at - 1, end) if 0 <= n < len(frame)]
    return any(chr(byte).isalpha() for byte in beside)


def _check(found: Cut, weight: Place, unit: str) -> Suspicion | None:
    """A sum that the project knows, in the columns that are not the number."""
    picture = "x" * weight.at + "v" * (weight.end - weight.at) + "x" * (found.width - weight.end)
    text = head("x", found) + f"columns = {toml(picture)}\nunit = {toml(unit)}\n" + form(weight)
    text += '[patterns.value]\n".*" = "error"\n'
    seen = suspicion(compile_grammar(text, "x"), _all_items(found, text))
    return seen if seen is not None and seen.known is not None and not seen.behind_end else None
