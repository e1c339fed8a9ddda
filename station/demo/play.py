"""Your own hands: arrow keys set down, pour, lift and pull the plug on the simulated scales."""

import asyncio
from collections.abc import Callable

from station.client import ClientError
from station.demo.hands import Hands
from station.demo.stage import Stage
from station.demo.story import BOWL, CUPS, TUB

THINGS = {"tub 1": TUB, "cup 3": CUPS["cup 3"], "cup 2": CUPS["cup 2"], "cup 1": CUPS["cup 1"],
          "bowl": BOWL}  # fmt: skip
SPOON = 0.02
"""What the spoon takes out at a time, as a share of the target."""
POUR_S = 8.0
"""Seconds in which a steady hand pours the whole target."""
MEAT_G = 4000
"""What a hand means to put into a tub where no weight is planned."""
PRESS_S = 0.3
"""How long one press of the key pours; a held key repeats sooner."""


class Play:
    """One person's hands. `key` takes a key of the terminal; True if it was for the hands."""

    def __init__(self, stage: Stage, tell: Callable[..., None]) -> None:
        self._stage = stage
        self._tell = tell
        self._content = dict.fromkeys(THINGS, 0.0)
        self._held = next(iter(THINGS))
        self._on: dict[str, str] = {}  # thing -> the scale it stands on
        self._was: dict[str, str] = {}
        self._unplugged: set[str] = set()
        self._keys: dict[str, Callable[[], None]] = {
            "tab": self._next,
            "up": self._set_down,
            "down": self._lift,
            "right": lambda: self._pour(1),
            "left": lambda: self._pour(-1),
            "t": self._tip,
            "p": self._plug,
        }

    async def prepare(self) -> None:
        """Vessels on record and a batch open, so that there is something to do."""
        self._tell(
            "One moment: the empty vessels are weighed and recorded.",
            "One moment: vessels are recorded.",
        )
        hands = Hands(self._stage)
        for thing, grams in THINGS.items():
            await hands.record("bench" if grams >= BOWL else "fine", thing, grams)
        await self._stage.say("open", formula="garlic-ring", meat="12 kg", who="Ansel")
        self._say()

    async def lots(self) -> None:
        """Open the premix's lot when it is wanted: the one thing that needs a bag in the hand."""
        while True:
            await self._stage.until(
                lambda shown: "curing premix" in shown.lots_wanted, "a lot is wanted", 1e9
            )
            strength = ["sodium nitrite=6.25 %"]
            try:
                await self._stage.say("lot", line="curing premix", lot="P-41", contains=strength)
            except ClientError:
                await asyncio.sleep(1)

    def key(self, key: str) -> bool:
        """Do what the key says with the thing in hand."""
        if key not in self._keys:
            return False
        self._keys[key]()
        self._say()
        return True

    def _scale(self) -> str:
        """Where the thing in hand is, or was last, or is wanted."""
        on, was = self._on.get(self._held), self._was.get(self._held)
        return on or self._stage.shown.scale or was or "bench"

    def _next(self) -> None:
        things = list(THINGS)
        self._held = things[(things.index(self._held) + 1) % len(things)]

    def _set_down(self) -> None:
        if self._held not in self._on:
            scale = self._scale()
            weight = THINGS[self._held] + self._content[self._held]
            self._stage.scales[scale].scale.set_down(self._held, weight)
            self._on[self._held] = scale

    def _lift(self) -> None:
        if self._held in self._on:
            scale = self._was[self._held] = self._on.pop(self._held)
            weight = self._stage.scales[scale].scale.lift(self._held)
            self._content[self._held] = weight - THINGS[self._held]

    def _pour(self, sign: int) -> None:
        shown = self._stage.shown
        target = float(shown.target_g or (MEAT_G if shown.role == "meat" else 100))
        grams = target / POUR_S * PRESS_S if sign > 0 else -SPOON * target
        if self._held not in self._on:
            self._content[self._held] = max(self._content[self._held] + grams, 0.0)
            return
        physics = self._stage.scales[self._on[self._held]].scale
        physics.pour(self._held, grams, abs(grams) / PRESS_S)

    def _tip(self) -> None:
        """Out of the hand into the mix; a little clings."""
        if self._held not in self._on:
            self._content[self._held] = min(self._content[self._held], 0.1)

    def _plug(self) -> None:
        scale = self._scale()
        if scale in self._unplugged:
            self._stage.scales[scale].plug()
        else:
            self._stage.scales[scale].unplug()
        self._unplugged ^= {scale}

    def _say(self) -> None:
        where = f"on {self._on[self._held]}" if self._held in self._on else "in hand"
        plug = f", {', '.join(sorted(self._unplugged))} OUT" if self._unplugged else ""
        now = f"{self._held} {where}{plug}"
        self._tell(
            f"{now}: Tab thing, Up/Down set/lift, Left/Right pour, t tip, p plug, Ctrl-C ends",
            f"{now}: Tab, Up/Down, Right/Left, t tip, p plug, Ctrl-C",
            f"{self._held} {where}: Tab ^v <> t p",
        )
