"""The loads that a person puts on an unknown scale, and what its own display shows of them."""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal
from io import StringIO
from pathlib import Path

from drivers.infer.cutting import Heard, Step
from drivers.infer.describe import read_somewhere
from drivers.recording import Recorder
from station.cli.common import say, write_new
from station.cli.confirm import ask_person
from station.cli.listening import Answering, heard_for
from station.service.clock import stamp
from station.units import SCALE_UNITS, UnitError, grams, mass, more_than_nothing

_DISPLAYED = re.compile(r"[-+]?[0-9]{1,9}(?:[.,][0-9]{1,6})?")
"""A number as a display shows it."""
_MOVES_S = 5.0
"""How long a moving load is listened to."""
_POUNDS = ("lb", "oz")
_IN_POUNDS = re.compile("lb|oz|pound|ounce")
_LEAST_OF_MAX = Decimal("0.01")
"""A load is at least this part of Max: a display taken for another of a thousandth is seen."""


_UNREAD = "  nothing that it sends reads {:f}. Wait until it stands still, look again:"
_UNLIKE = """\
  it sends {:f}, but not as it did in the step before. Does its display change its unit or its
  decimals with the load? Then put on one where it shows them as before. Look again:"""


class Loads:
    """Every step that was not skipped, as far as it came; the unit of the display, and Max."""

    def __init__(self, line: Answering) -> None:
        self._line = line
        self.heard: dict[Step, Heard] = {}
        self.unit = ""
        self.max_text = ""

    def ask(self) -> None:
        """All loads in turn. Ends the command where nobody answers."""
        say(
            "\nNow some loads. Wait each time until it stands still, then press Enter; s skips one."
        )
        self.max_text, max_g = _max()
        if _ready("Take everything off the pan."):
            self._take("empty", lambda: _number(Decimal(0)))
        say("Put something on, the heavier the better, that the scale can bear.")
        ask_person("press Enter")
        load = self._take("known", lambda: self._load(max_g))
        if _ready(f"Press Enter, then lift it and set it down again, for {_MOVES_S:.0f} seconds."):
            self.heard["move"] = heard_for(self._line, _MOVES_S)
        if _ready("Press gently with the hand until the display shows too much; hold it there."):
            self.heard["over"] = heard_for(self._line)
        if _ready("Put the load of before on again, and press the scale's own tare key."):
            self._take("tared", lambda: _number(load * 0))
            if _ready("Take the load off; leave the tare."):
                self._take("lifted", lambda: _number(-load))
        say("Take everything off, and clear the tare.")
        ask_person("press Enter")

    def _take(self, step: Step, displayed: Callable[[], Decimal]) -> Decimal:
        """What the display shows at the end of a step; looked at once more, and heard once more,
        where nothing that is sent reads it."""
        shows = self._hear(step, displayed)
        if not read_somewhere(self.heard):
            alone = step == "known" and read_somewhere({step: self.heard[step]})
            say(_UNLIKE.format(shows) if alone else _UNREAD.format(shows))
            shows = self._hear(step, displayed)
        return shows

    def _hear(self, step: Step, displayed: Callable[[], Decimal]) -> Decimal:
        shows = displayed()
        self.heard[step] = replace(heard_for(self._line), shows=shows)
        return shows

    def _load(self, max_g: Decimal) -> Decimal:
        """What the display shows of the known load; its unit is kept."""
        while True:
            text = ask_person("  what does its display show, with every digit and its unit?")
            word, _, unit = (part.strip() for part in text.partition(" "))
            load, wrong = a_load(word, unit, max_g, self.max_text)
            if load is not None:
                self.unit = unit
                return load
            say(f"  {wrong}")

    def write(self, file: Path) -> None:
        """What was heard, as a capture. Ends the command where it cannot be written."""
        line = self._line
        head = {"what": "loads for station scale new", "when": stamp(datetime.now(UTC)),
                "settings": f"{line.baud} 8N1"}  # fmt: skip
        head |= {
            f"display {step}": f"{heard.shows:f}"
            for step, heard in self.heard.items()
            if heard.shows is not None
        }
        out = StringIO()
        recorder = Recorder(out, head)
        for step, each in self.heard.items():
            out.write(f"# {step}: {len(each.chunks)} chunks\n")
            for chunk, at_s in zip(each.chunks, each.at_s, strict=True):
                recorder.take(chunk, at_s)
        write_new(file, out.getvalue(), "choose another --config")


def a_load(word: str, unit: str, max_g: Decimal, max_text: str) -> tuple[Decimal | None, str]:
    """What a display shows of a load, or what is wrong with it as such, in a sentence."""
    found = _decimal(word)
    if found is None or found <= 0:
        return None, "type the number as the display shows it, a blank and the unit: 216.40 g"
    load_g = grams(found, unit)
    if load_g is None:
        return None, f"type the unit behind it, one of {', '.join(SCALE_UNITS)}"
    if (unit in _POUNDS) is not bool(_IN_POUNDS.search(max_text)):
        return None, (
            f"the display shows {unit}, and Max is {max_text}: switch the scale to the unit of its"
            " plate, or begin again with Max in that of the display"
        )
    if len({*str(found)} - {"0", "."}) < 2:
        return None, "its digits tell too little: take a load with different digits"
    if load_g > max_g:
        return None, f"{word} {unit} is more than Max: look at the display once more, at its unit"
    if load_g < _LEAST_OF_MAX * max_g:
        return None, (
            f"{word} {unit} is less than a hundredth of Max: look at its unit once more, or put"
            " something heavier on"
        )
    return found, ""


def _ready(what: str) -> bool:
    """Whether a person did what was asked; False where it is skipped."""
    say(what)
    while (answer := ask_person("press Enter (s: skip)")) not in ("", "s"):
        say("  press Enter, or type s")
    return answer == ""


def _max() -> tuple[str, Decimal]:
    """Max as its plate gives it, and in grams."""
    while True:
        text = ask_person("What is Max on its plate, with its unit (such as 15 kg)?")
        try:
            return text, more_than_nothing(mass(text), text)
        except UnitError as error:
            say(f"  {error}")


def _number(usual: Decimal) -> Decimal:
    while True:
        text = ask_person(f"  what does its display show? (Enter: {usual:f})")
        word, _, unit = text.partition(" ")
        found = usual if not text else _decimal(word if unit in SCALE_UNITS else text)
        if found is not None:
            return found
        say("  type the number as the display shows it, such as -216.40")


def _decimal(text: str) -> Decimal | None:
    """A display's number, its decimal mark a point or a comma."""
    return Decimal(text.replace(",", ".")) if _DISPLAYED.fullmatch(text) else None
