"""One simulated pour: a hand, a stream, a plate, and the digits that its scale prints."""

import math
import random
from dataclasses import dataclass, field
from typing import Any

from drivers.physics import STEP_S, Hand, Plate, PlateKind, Stream

REST_S = 1.0
LEAD_S = 12.0
"""A pour is watched from so long before its limit: what comes earlier changes nothing."""


@dataclass(frozen=True)
class Case:
    """One scale and one ingredient; `window` is the scale's, `believed` what the station takes."""

    name: str
    target: float
    lower: float
    limit: float
    division: float
    window: float
    interval: float
    believed: float
    flow: tuple[float, float]
    grid: dict[str, Any] = field(hash=False)


class Pouring:
    """One pour on one scale: a hand, a stream, a plate, and the digits it prints."""

    def __init__(self, case: Case, chance: random.Random) -> None:
        grid = case.grid
        low, high = (math.log(flow) for flow in case.flow)
        self.case = case
        self.flow_g_s = math.exp(chance.uniform(low, high))
        lead = LEAD_S * chance.uniform(0.8, 1.2)
        self.start_g = (
            max(0.0, case.target - lead * self.flow_g_s) + case.division * chance.random()
        )
        self.hand = Hand(self.flow_g_s, _fork(chance))
        manner = chance.choice(grid["manners"])
        self.stream = Stream(manner, chance.uniform(*grid["fall_m"]), _fork(chance))
        kind = PlateKind(
            chance.uniform(*grid["f0_hz"]),
            chance.uniform(*grid["damping"]),
            case.window,
            grid.get("average", "boxcar"),
            grid["noise_d"] * case.division,
        )
        self.plate = Plate(kind, _fork(chance), self.start_g)
        self.time_s = 0.0
        self.slowed = False
        self.left_g = [0.0]
        """What had left the hand at each step."""
        self._steps = round(case.interval / STEP_S)
        self._first = chance.randrange(self._steps)

    def fork(self) -> "Pouring":
        copy = object.__new__(Pouring)
        copy.__dict__.update(self.__dict__)
        copy.hand, copy.stream, copy.plate = self.hand.fork(), self.stream.fork(), self.plate.fork()
        copy.left_g = self.left_g.copy()
        return copy

    def step(self) -> None:
        self.time_s += STEP_S
        self.stream.step(self.wanted_g_s)
        self.left_g.append(self.stream.left_g)
        self.plate.step(self.start_g + self.stream.presses_g)

    def reading(self) -> float:
        """Pour on until the next digits are printed."""
        for _ in range(self._first or self._steps):
            self.step()
        self._first = 0
        division = self.case.division
        return round(self.plate.average_g / division) * division

    @property
    def wanted_g_s(self) -> float:
        """The mean flow that the hand means to pour now; it rests before it begins."""
        return self.hand.flow_g_s(self.time_s) if self.time_s > REST_S else 0.0

    @property
    def flow_now_g_s(self) -> float:
        """The flow as it is just now, taps and clumps evened out."""
        return self.wanted_g_s * (1 + self.stream.wander)

    @property
    def mass_g(self) -> float:
        """What has left the hand: in the vessel or falling into it."""
        return self.start_g + self.stream.left_g

    def mass_at(self, time_s: float) -> float:
        return self.start_g + self.left_g[min(round(time_s / STEP_S), len(self.left_g) - 1)]

    def time_of(self, mass_g: float) -> float:
        """When so much had left the hand."""
        left = mass_g - self.start_g
        return next((n for n, g in enumerate(self.left_g) if g >= left), len(self.left_g)) * STEP_S

    def slower(self) -> "Pouring":
        """The same pour, with a hand that hears "slower" now."""
        copy = self.fork()
        copy.hand.hear("slower", copy.time_s)
        copy.slowed = True
        return copy

    def stopped(self) -> tuple[float, float]:
        """If the hand hears "stop" now: the mass, and the time, once it has obeyed."""
        copy = self.fork()
        copy.hand.hear("stop", copy.time_s)
        while copy.wanted_g_s > 0:
            copy.step()
        return copy.mass_g, copy.time_s


class Tapering(Pouring):
    """A hand that watches the digits, slows down by itself, and ends at the aim."""

    shown_g = 0.0

    @property
    def done(self) -> bool:
        """Whether the hand has ended by itself and all has landed and settled."""
        return self.time_s > REST_S and self.wanted_g_s == 0.0 and self._still_s > 1.5

    _still_s = 0.0

    def step(self) -> None:
        super().step()
        self._still_s = 0.0 if self.wanted_g_s > 0 else self._still_s + STEP_S

    def reading(self) -> float:
        self.shown_g = super().reading()
        return self.shown_g

    @property
    def wanted_g_s(self) -> float:
        left = self.case.target - self.shown_g
        if self.time_s <= REST_S or left <= 0:
            return 0.0
        return self.flow_g_s * min(1.0, max(0.08, left / (4 * self.flow_g_s)))


def _fork(chance: random.Random) -> random.Random:
    return random.Random(chance.getrandbits(64))
