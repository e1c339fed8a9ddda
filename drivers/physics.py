"""What happens between a hand and the digits of a scale: stream, fall, impact, cell, averaging.

Plain steps of `STEP_S`, grams and seconds. Every part can be forked: the copy goes on by itself
from where the original stands, with the same chance.
"""

import math
import random
from collections import deque
from dataclasses import dataclass
from typing import Literal

STEP_S = 0.005
"""Short enough for the fastest cell here: a tenth of the period of 20 Hz."""

Average = Literal["boxcar", "one-pole"]
Manner = Literal["stream", "taps", "clumps"]

GRAVITY_M_S2 = 9.81


def _again(chance: random.Random) -> random.Random:
    copy = random.Random()
    copy.setstate(chance.getstate())
    return copy


@dataclass(frozen=True, slots=True)
class PlateKind:
    """A load cell (a damped spring: natural frequency, damping ratio) and what averages it.

    `window_s` is the length of the moving average, or twice the time constant of a one-pole filter:
    the delay is half of it either way. `noise_g` is the standard deviation of the average.
    """

    f0_hz: float = 12.0
    damping: float = 0.2
    window_s: float = 0.5
    average: Average = "boxcar"
    noise_g: float = 0.0


class Plate:
    """A cell and its average, stepped with what presses on it."""

    def __init__(self, kind: PlateKind, chance: random.Random, load_g: float = 0.0) -> None:
        self.kind = kind
        self._chance = chance
        self._x, self._v = load_g, 0.0
        samples = max(1, round(kind.window_s / STEP_S))
        self._window: deque[float] = deque([load_g] * samples, maxlen=samples)
        self._sum = load_g * samples
        self.average_g = load_g
        self._keep = math.exp(-2 * STEP_S / kind.window_s)
        # each sample is louder than their average by the root of how many it averages
        loud = samples if kind.average == "boxcar" else (1 + self._keep) / (1 - self._keep)
        self._noise = kind.noise_g * loud**0.5
        self._spring = _spring(kind)

    def fork(self) -> "Plate":
        copy = Plate(self.kind, _again(self._chance))
        copy._x, copy._v = self._x, self._v
        copy._window, copy._sum = self._window.copy(), self._sum
        copy.average_g = self.average_g
        return copy

    def step(self, load_g: float) -> None:
        """Let `STEP_S` pass under a load."""
        xx, xv, vx, vv = self._spring
        off, speed = self._x - load_g, self._v
        self._x = load_g + xx * off + xv * speed
        self._v = vx * off + vv * speed
        seen = self._x + self._chance.gauss(0.0, self._noise) if self._noise else self._x
        if self.kind.average == "boxcar":
            window = self._window
            self._sum += seen - window[0]
            window.append(seen)
            self.average_g = self._sum / len(window)
        else:
            self.average_g = seen + self._keep * (self.average_g - seen)


def _spring(kind: PlateKind) -> tuple[float, float, float, float]:
    """The exact step of a damped spring about its rest: offset and speed to offset and speed."""
    omega = 2 * math.pi * kind.f0_hz
    decay, ring = kind.damping * omega, omega * math.sqrt(1 - kind.damping**2)
    fade = math.exp(-decay * STEP_S)
    cos, sin = math.cos(ring * STEP_S), math.sin(ring * STEP_S)
    return (
        fade * (cos + decay / ring * sin),
        fade * sin / ring,
        -fade * omega**2 / ring * sin,
        fade * (cos - decay / ring * sin),
    )


class Stream:
    """What leaves a hand's vessel and how it lands: unsteady, in taps or with clumps, falling.

    A stream that lands presses with flow x speed: as a weight that is flow x fall time, just what
    is in the air of a steady stream.
    """

    def __init__(self, manner: Manner, fall_m: float, chance: random.Random) -> None:
        self.manner = manner
        self._chance = chance
        self._fall_s = math.sqrt(2 * fall_m / GRAVITY_M_S2)
        steps = max(1, round(self._fall_s / STEP_S))
        self._air: deque[float] = deque([0.0] * steps, maxlen=steps)
        self.wander = 0.0
        """By what share the flow is off its mean now."""
        self._tap_s = 0.0
        self._rest_s = 0.0
        self._tapped = 0.0
        self.left_g = 0.0
        self.landed_g = 0.0
        self.presses_g = 0.0

    def fork(self) -> "Stream":
        copy = object.__new__(Stream)
        copy.__dict__.update(self.__dict__)
        copy._chance, copy._air = _again(self._chance), self._air.copy()
        return copy

    def step(self, flow_g_s: float, most_g: float = math.inf) -> None:
        """Let `STEP_S` pass while the hand wants a mean flow, and lets go `most_g` at most."""
        left = max(0.0, self._lets_go(flow_g_s)) if flow_g_s > 0 else 0.0
        left = min(left, max(most_g, 0.0))
        self.left_g += left
        landing = self._air[0]
        self._air.append(left)
        self.landed_g += landing
        self.presses_g = self.landed_g + landing / STEP_S * self._fall_s

    def _lets_go(self, flow_g_s: float) -> float:
        chance = self._chance
        self.wander += -self.wander * STEP_S / _DRIFT_S + chance.gauss(0.0, _DRIFT_STEP)
        flow = flow_g_s * (1.0 + self.wander)
        if self.manner == "taps":
            self._tap_s -= STEP_S
            if self._tap_s <= 0:
                every = chance.uniform(*_TAP_EVERY_S)
                self._tap_s = every
                self._tapped = chance.lognormvariate(-0.5 * _TAP_SPREAD**2, _TAP_SPREAD)
                self._tapped *= every / _TAP_S
                self._rest_s = every - _TAP_S
            return flow * self._tapped * STEP_S if self._tap_s > self._rest_s else 0.0
        if self.manner == "clumps":
            grams = flow * (1 - _CLUMPED) * STEP_S
            if chance.random() < STEP_S * _CLUMPS_HZ:
                grams += flow * _CLUMPED / _CLUMPS_HZ * chance.expovariate(1.0)
            return grams
        return flow * STEP_S


_DRIFT_S = 0.7
_DRIFT = 0.2
_DRIFT_STEP = _DRIFT * math.sqrt(2 * STEP_S / _DRIFT_S)
"""A hand's flow wanders by 20 % within 0.7 s (our guess)."""
_TAP_EVERY_S = (0.2, 0.4)
_TAP_S = 0.1
_TAP_SPREAD = 0.4
"""A spoon tapped three times a second, each tap a tenth of a second long, 40 % unlike the last."""
_CLUMPS_HZ = 1.0
_CLUMPED = 0.2
"""One clump a second, in which 20 % of the flow comes."""


class Hand:
    """A hand that pours, hears words, and obeys each after its reaction time."""

    def __init__(self, flow_g_s: float, chance: random.Random) -> None:
        self._flow_g_s = flow_g_s
        self.reaction_s = {word: chance.uniform(*REACTION_S) for word in ("slower", "stop")}
        self._slowed = chance.uniform(*SLOWED)
        self._heard: dict[str, float] = {}

    def fork(self) -> "Hand":
        copy = object.__new__(Hand)
        copy.__dict__.update(self.__dict__)
        copy._heard = dict(self._heard)
        return copy

    def hear(self, word: str, time_s: float) -> None:
        """A word is shown at a time; only the first of each counts."""
        if word in self.reaction_s:
            self._heard.setdefault(word, time_s)

    def flow_g_s(self, time_s: float) -> float:
        """What the hand lets go at a time."""
        flow = self._flow_g_s
        for word, share in (("slower", self._slowed), ("stop", 0.0)):
            if word in self._heard and time_s >= self._heard[word] + self.reaction_s[word]:
                flow *= share
        return flow


REACTION_S = (0.25, 0.4)
SLOWED = (0.2, 0.3)
"""To what share of its flow a hand drops that is told to pour slower: a quarter, more or less."""
