"""A scale's file from all that was worked out, and the reasons in sentences. Pure."""

import json
from dataclasses import dataclass

from drivers.infer.cutting import Cut, Step
from drivers.infer.number import Place
from drivers.infer.words import LETTERS, Columns, Field
from drivers.unread import Known, Suspicion

_RESERVED = set("vsutcx")
_UNTOLD: tuple[tuple[Step, str, str], ...] = (
    ("move", "moving", "a moving load: the station alone judges whether it stands still"),
    ("tared", "net", "its tare key: leave that key alone, or net passes for gross"),
)
"""What the frame should tell, the step that tried it, and what follows where it does not."""


@dataclass(frozen=True, slots=True)
class PortLine:
    """How the port was set, and what the scale was asked with (b"" where it sends by itself)."""

    baud: int
    asked: bytes = b""


@dataclass(frozen=True, slots=True)
class Unit:
    """The unit: its columns and its word as sent; none where it is not sent."""

    at: int
    end: int
    word: str
    absent: bool
    known: bool


@dataclass(frozen=True, slots=True)
class Made:
    """All that was worked out, as a file."""

    name: str
    line: PortLine
    cut: Cut
    weight: Place
    tare: Place | None
    gross: bool
    unit: str
    told: Unit | None
    columns: Columns
    check: set[int]
    suspected: Suspicion | None

    def text(self) -> str:
        parts = [head(self.name, self.cut), f"columns = {toml(self._picture())}\n"]
        if self.told is not None and self.told.known:
            words = [self.told.word] + [" " * len(self.told.word)] * self.told.absent
            parts.append(f"units = {json.dumps(words)}\n")
            parts.append('unit_absent = "moving"\n' if self.told.absent else "")
        else:
            parts.append(f"unit = {toml(self.unit)}\n")
        nets = any("net" in each.tells for each in self.columns.fields)
        parts.append('kind = "net"\n' if self.tare is not None and not nets else "")
        parts.append(form(self.weight))
        parts.append(f'\n[line]\nbaud = {self.line.baud}\nbits = "{self.cut.bits}"\n')
        if self.line.asked:
            parts.append(f"\n[poll]\nsend = {toml(self.line.asked.decode('latin-1'))}\n")
        if self.check and self.suspected is not None and self.suspected.known is not None:
            parts.append(_checksum(self.suspected.known))
        parts += [_table(letter, each) for letter, each in self._letters().items()]
        if (word := self._instead()) is not None:
            parts.append(f'\n[status.value]\n{toml(word)} = "overload"\n')
        return "".join(parts)

    def _picture(self) -> str:
        """The frame, column by column."""
        signs = ["x"] * self.cut.width
        for at, byte in self.columns.fixed.items():
            sign = chr(byte)
            signs[at] = f"\\{sign}" if sign == "\\" or "a" <= sign <= "z" else sign
        for letter, place in (("v", self.weight), ("t", self.tare)):
            for at in range(place.at, place.end) if place is not None else ():
                signs[at] = self.weight.decimal if place and at == place.point else letter
        for at in range(self.told.at, self.told.end) if self.told else ():
            byte = self.cut.last("known")[-1][at]
            known = self.told is not None and self.told.known
            signs[at] = "u" if known else f"\\{chr(byte)}" if chr(byte).islower() else chr(byte)
        for at in self.check:
            signs[at] = "c"
        if self.columns.sign is not None:
            signs[self.columns.sign] = "s"
        for letter, each in self._letters().items():
            signs[each.at : each.end] = [letter] * (each.end - each.at)
        return "".join(signs)

    def _letters(self) -> dict[str, Field]:
        free = [letter for letter in "mkonzabdefghijlpqrwy" if letter not in _RESERVED]
        found: dict[str, Field] = {}
        for each in self.columns.fields:
            first = next((LETTERS[told] for told in LETTERS if told in each.tells), "z")
            letter = first if first not in found else next(x for x in free if x not in found)
            found[letter] = each
        return found

    def _instead(self) -> str | None:
        """The word in the number's place with too much on it."""
        words = {frame[self.weight.at : self.weight.end] for frame in self.cut.last("over")}
        if len(words) != 1:
            return None
        word = words.pop()
        if any(48 <= byte < 58 or not 32 <= byte < 127 for byte in word):
            return None
        return word.decode().strip()

    def says(self) -> list[str]:
        """What was worked out, and what not."""
        weight, cut = self.weight, self.cut
        begins = f"begins with {_named(cut.start)}" if cut.start else ""
        marks = " and ".join(filter(None, [begins, f"ends with {_named(cut.end)}" * bool(cut.end)]))
        said = [f"a frame {marks}; between them are {cut.width} columns, in every frame"]
        how = "the last digit first" if weight.order == "low-first" else "as the display shows it"
        how += "" if weight.places is None else f", without its point ({weight.places} decimals)"
        steps = "but when the tare key was pressed" if self.gross else "in every step"
        said.append(f"columns {weight.at + 1} to {weight.end} read {how}, {steps} (v)")
        if self.gross:
            said.append("that number stayed when the tare key was pressed: it is the gross weight;"
                        " leave that key alone, the display would show less than the station"
                        )  # fmt: skip
        if self.tare is not None:
            said.append(f"columns {self.tare.at + 1} to {self.tare.end} held the load while it was"
                        " tared: the tare (t)")  # fmt: skip
        if self.told is None:
            said.append(f"the unit is not sent as the display's {self.unit!r}: the file says it")
        elif self.told.absent:
            said.append("the unit is left out while the weight moves (u)")
        if self.check and self.suspected is not None and self.suspected.known is not None:
            said.append(f"the columns c are a check: {self.suspected.known.kind} held in"
                        f" {self.suspected.held} of {self.suspected.frames} frames")  # fmt: skip
        for letter, each in self._letters().items():
            tells = ", ".join(each.tells) or "nothing of the weight (zero, perhaps)"
            said.append(f"column {each.at + 1} ({letter}) changed with what was done: {tells}")
        if self.columns.passed:
            where = ", ".join(str(at + 1) for at in sorted(self.columns.passed))
            said.append(f"columns {where} (x) changed, and nothing explains it: they are not read")
        return [*said, *self._missing()]

    def _missing(self) -> list[str]:
        """What was tried and no sign told."""
        told = {word for each in self.columns.fields for word in each.tells}
        if self.told is not None and self.told.absent:
            told.add("moving")
        return [
            f"nothing in the frame tells {what}"
            for step, word, what in _UNTOLD
            if step in self.cut.frames and word not in told and not (word == "net" and self.gross)
        ]


_NAMES = {2: "STX", 3: "ETX", 4: "EOT", 10: "LF", 13: "CR", 27: "ESC"}
"""Control signs by their names in ISO 646."""


def _named(mark: bytes) -> str:
    """A mark for a person."""
    return " ".join(
        _NAMES.get(byte, f"{byte:02x}") if byte < 32 else repr(chr(byte)) for byte in mark
    )


def _checksum(known: Known) -> str:
    lines = [f'kind = "{known.kind}"', f'code = "{known.code}"', f'order = "{known.order}"']
    lines.append(f'first = "{known.first}"')
    lines += [f'last = "{known.last}"'] if known.last is not None else []
    lines += [f"width = {known.width}"] if known.width != 8 else []
    return "\n[checksum]\n" + "\n".join(lines) + "\n"


def _table(letter: str, each: Field) -> str:
    if each.bits is not None:
        rows = [f'{bit} = ["{on}", "{off}"]' for bit, (on, off) in each.bits.items()]
        return f"\n[bits.{letter}]\n" + "\n".join(rows) + "\n"
    words = {word.decode("latin-1"): meaning for word, meaning in each.words.items()}
    return f"\n[status.{letter}]\n" + "".join(
        f"{toml(word)} = {toml(meaning)}\n" for word, meaning in words.items()
    )


def head(name: str, found: Cut) -> str:
    text = f'name = {toml(name)}\nabout = "Worked out from what it sent"\n'
    text += f"start = {toml(found.start.decode('latin-1'))}\n" if found.start else ""
    text += f"end = {toml(found.end.decode('latin-1'))}\n" if found.end else ""
    return text + (f"length = {found.length}\n" if found.length else "")


def form(weight: Place) -> str:
    """The keys that tell how the number is written; tables last."""
    text = f'decimal = "{weight.decimal}"\n' if weight.decimal != "." else ""
    text += '\n[number]\norder = "low-first"\n' if weight.order == "low-first" else ""
    return text + (f"\n[decimals]\nplaces = {weight.places}\n" if weight.places is not None else "")


def toml(text: str) -> str:
    """Text between single quotes where nothing in it forbids that, else with its escapes."""
    if "\\" in text and "'" not in text and text.isprintable():
        return f"'{text}'"
    return json.dumps(text)
