"""A kitchen with its own truth of what is in the mix, whatever the station says.

Cups, a jar and scales are modelled as things: what is poured, spooned, tipped, carried past the
station or left on the pan is somewhere. Scales drift and are zeroed by anyone; the station dies and
begins anew.

What no scale can see is left out: which jar is open, what never was on a pan. So premix is poured
only into the vessel that is being weighed for it. What is taken to be true: a cup is empty when it
is first put on record, what a bag holds is told rightly once, only premix goes into its jar, and a
second person does not lie.
"""

from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cache

from msgspec.structs import replace

from station.metrology.scale import Device
from station.weighing import commands as do
from station.weighing.commands import Refusal
from station.weighing.floor import Floor
from tests.benchside import CUPS, FINE, RING, Bench

FORMULA = "[[addition]]".join(RING.split("[[addition]]")[part] for part in (0, 2, 3))
"""Without salt and garlic: premix and pepper are enough to slip with."""
MEAT_G = Decimal(12000)
MOST_G = Decimal(30)
"""156.25 mg/kg of sodium nitrite on 12 kg, in grams of a premix of 6.25 % (9 CFR 424.21(c))."""
LEAST_G = Decimal("23.04")
"""120 mg/kg, the least for cured products kept chilled (FSIS Directive 7620.3, p. 12)."""
DEVICES = Device("letters", "usb 1209:0001 A17"), Device("letters", "usb 1209:0001 B40")
UNSEEN_G = Decimal("0.5")
"""What may hide within three divisions of the fine scale, a few times over."""


@dataclass
class Cup:
    """A thing that holds premix (by its name on record) and what is not premix."""

    empty_g: Decimal
    premix_g: Decimal = Decimal(0)
    other_g: Decimal = Decimal(0)

    @property
    def mass_g(self) -> Decimal:
        return self.empty_g + self.premix_g + self.other_g


@dataclass
class Kitchen:
    """What is physically so, beside the station that is told of some of it."""

    bench: Bench
    cups: dict[str, Cup]
    jar: Cup = field(default_factory=lambda: Cup(Decimal(300), Decimal(5000)))
    mix_g: Decimal = Decimal(0)
    on: str | None = None
    off_g: Decimal = Decimal(0)
    device: Device = DEVICES[0]
    rest_g: Decimal = Decimal(0)
    """What lies on the pan beside any cup."""
    astray: bool = False
    """Premix was carried elsewhere, or something else weighed for it: nothing on a bench can tell
    how little is in the mix then. How much is in it at most must be right all the same."""

    # the scale

    @property
    def gross_g(self) -> Decimal:
        cup = self.cups[self.on].mass_g if self.on else Decimal(0)
        return cup + self.rest_g - self.off_g

    def settle(self, seconds: float = 1.5) -> None:
        self.bench.show("fine", str(self.gross_g), seconds)

    def sweep(self, to_g: Decimal, steps: int = 12) -> None:
        """Unsettled readings on the way from what was shown to another weight."""
        start = self.gross_g
        for step in range(1, steps):
            self.bench.move("fine", str(start + (to_g - start) * step / steps))

    def say(self, command: do.Command) -> bool:
        try:
            self.bench.say(command)
        except Refusal:
            return False
        return True

    # hands

    def set_down(self, name: str) -> None:
        if self.on is None:
            self.on = name
            self.settle()

    def lift(self, quick: bool = True) -> None:
        if self.on is not None:
            self.on = None
            if quick:
                self.bench.move("fine", "20")
            self.settle()

    def pour(self, grams: Decimal, steps: int = 12) -> None:
        if self.on is not None and self.bench.batch.lines["premix"].tare is not None:
            self.sweep(self.gross_g + grams, steps)
            self.cups[self.on].premix_g += grams
            self.jar.premix_g -= grams
            self.settle()

    def spoon(self, grams: Decimal, into_mix: bool) -> None:
        """Out of the cup on the pan, into the mix or back into the jar."""
        if self.on is not None:
            cup = self.cups[self.on]
            grams = min(grams, cup.premix_g)
            self.sweep(self.gross_g - grams, 6)
            cup.premix_g -= grams
            self._goes(grams, into_mix)
            self.astray |= self.bench.batch.lines["premix"].tare is None and not into_mix
            self.settle()

    def tip(self, name: str, into_mix: bool, clings: Decimal = Decimal("0.05")) -> None:
        """A cup that is in the hand is emptied."""
        if name != self.on:
            cup = self.cups[name]
            grams = max(cup.premix_g - clings, Decimal(0))
            cup.premix_g -= grams
            self._goes(grams, into_mix)
            self.astray |= not into_mix

    def _goes(self, grams: Decimal, into_mix: bool) -> None:
        if into_mix:
            self.mix_g += grams
        else:
            self.jar.premix_g += grams

    def leave(self, grams: Decimal, in_cup: bool) -> None:
        """A spoon, a lid, a thumb: not premix, and taken away again by `clear`."""
        self.astray = True
        if in_cup and self.on is not None:
            self.cups[self.on].other_g += grams
        else:
            self.rest_g += grams
        self.settle()

    def clear(self) -> None:
        self.rest_g = Decimal(0)
        for cup in self.cups.values():
            cup.other_g = Decimal(0)
        self.settle()

    # the scale and the station fail

    def drift(self, grams: Decimal) -> None:
        self.off_g += grams
        self.settle()

    def zero(self) -> None:
        """The scale's own key: whatever is on it weighs nothing from now on."""
        self.off_g += self.gross_g
        self.settle()

    def lose_link(self) -> None:
        self.bench.floor.link("fine", False)
        self.bench.silence(3)

    def find_link(self) -> None:
        self.bench.floor.link("fine", True, device=self.device)
        self._shiver()

    def _shiver(self) -> None:
        """What was just attached moves by its division, as scales do."""
        self.settle(0.3)
        self.bench.move("fine", str(self.gross_g + FINE.division_g))
        self.settle()

    def swap(self, off_g: Decimal) -> None:
        """The other scale of the kitchen takes this one's place, cable and cup and all."""
        self.lose_link()
        self.device = DEVICES[self.device == DEVICES[0]]
        self.off_g = off_g
        self.find_link()

    def die(self) -> None:
        record = self.bench.station
        self.bench.floor = Floor(self.bench.scales, ("Ansel", "Brida"))
        for scale in self.bench.scales:
            self.bench.floor.link(scale.name, True, device=self._behind(scale.name))
        self.bench.floor.resume(record)
        self._shiver()

    def _behind(self, scale: str) -> Device | None:
        return self.device if scale == "fine" else None

    # what is said

    def offered(self, number: int) -> None:
        """A press of one of the keys that mean something now."""
        guide = self.bench.told
        offers = [*guide.offers, *(guide.asks.answers if guide.asks else ())]
        if offers:
            offer = offers[number % len(offers)]
            if offer.verb in SAYS:
                self.say(SAYS[offer.verb](dict(offer.params)))

    def second_voids(self) -> None:
        """A second person says where premix went only of what is done, and only where all that was
        tipped is on record."""
        line = self.bench.batch.lines["premix"]
        if any(cup.premix_g > 1 for cup in self.cups.values()):
            return
        if self.mix_g <= Decimal(line.tipped_g) + UNSEEN_G / 4:
            self.say(do.Void("premix", "seen", second="Brida"))

    def second_says_standing(self) -> None:
        """A second person says that what was called tipped stands, where it does."""
        said = self.bench.batch.lines["premix"].last_said_tipped
        grams = sum((load.net_g or Decimal(0) for load in said), Decimal(0))
        cup = self.cups.get(said[-1].vessel or "") if said else None
        before = self.bench.batch.lines["premix"].tipped_g - grams
        if cup and abs(cup.premix_g - grams) < 1 and self.mix_g <= before + UNSEEN_G / 4:
            self.say(do.Void("premix", "seen", said_tipped=True, second="Brida"))

    def weigh_jar(self) -> None:
        self.bench.show("bench", str(self.jar.mass_g))
        self.say(do.WeighJar("premix", "bench"))
        self.bench.show("bench", "0")

    def close(self) -> None:
        """All that is left as a maker does it, then close; a pour of pepper is none of this."""
        self.say(do.Skip("pepper", "none"))
        self.say(do.Close(("pepper",)))
        self.say(do.Close(("pepper", "premix")))


SAYS: dict[str, Callable[[dict[str, object]], do.Command]] = {
    "accept": lambda said: do.Accept("premix", as_weighed=bool(said.get("as_weighed"))),
    "end": lambda said: do.End("premix"),
    "tip": lambda said: do.Tip(
        "premix", unaccepted=bool(said.get("unaccepted")), more=bool(said.get("more"))
    ),
    "void": lambda said: do.Void(
        "premix", "said at the bench", said_tipped=bool(said.get("said_tipped"))
    ),
    "skip": lambda said: do.Skip("premix", "later"),
    "confirm-scale": lambda said: do.ConfirmScale("fine"),
    "use": lambda said: do.Use(str(said["vessel"])),
}


@cache
def _begun() -> Bench:
    """Meat weighed, cups on record, the bag open; the rule for the least is enforced here."""
    bench = Bench(FORMULA)
    bench.limits = tuple(replace(row, seen=True) for row in bench.limits)
    bench.begin()
    bench.floor.link("fine", True, device=DEVICES[0])
    for grams in ("0", "0.05", "0"):  # it moves by its division
        bench.show("fine", grams)
    return bench


def kitchen() -> Kitchen:
    cups = {name: Cup(Decimal(empty)) for name, empty in CUPS.items()}
    return Kitchen(deepcopy(_begun()), cups)


def wrong(kitchen: Kitchen) -> str | None:
    """Why what is in the mix is not what a batch that closed without a hold may hold."""
    batch = kitchen.bench.batch
    if batch.end != "closed" or batch.hold:
        return None
    if kitchen.mix_g > MOST_G + UNSEEN_G:
        return f"{kitchen.mix_g} g are in the mix, {batch.lines['premix'].tipped_g} g on record"
    if kitchen.mix_g < LEAST_G - UNSEEN_G and not kitchen.astray:
        return f"only {kitchen.mix_g} g in the mix, {batch.lines['premix'].tipped_g} g on record"
    return None
