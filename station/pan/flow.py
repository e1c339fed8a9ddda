"""Mass and flow now, from readings that are averages of the last moments: a Kalman filter whose
state is seen through the scale's own averaging window (R. E. Kalman, A New Approach to Linear
Filtering and Prediction Problems, 1960). Floats, no time of its own, constant memory.
"""

import math
from operator import mul

# How a hand's flow changes, found with tests/bench/pours.py on other seeds than it judges with.
_DRIFT = 0.2
"""The flow wanders by this share of itself in a second (standard deviation)."""
_LUMPS = 0.25
"""Grams that come in lumps, in a second, as a share of the flow (standard deviation)."""
_NOISE_D = 0.35
"""Noise of what a scale shows before rounding, in divisions (our guess, 0.2 to 0.5)."""
_ROUNDING_D2 = 1 / 12
_UNLIKE_S = 0.03
"""Seconds of flow by which a reading may be off because the window is not quite as it is taken."""
_AT_REST_D = 0.02
"""The flow of a settled weight wanders by so many divisions in a second."""
_SURPRISE_S = 0.5
_BEGAN, _HALTED = 1.5, -2.5
"""Mean of the last half second's innovations, in standard deviations, that says that the hand began
or halted."""
_REST_S = 8.0
"""A hand begins where what is new is more than so many seconds of the flow that is known."""
_ONSET = 4.0
"""What a hand that began may have brought by now, in innovations: an average shows little of it."""
_MOST_NODES = 20


class FlowFilter:
    """The filter of one pour. The state is flow and mass, then what was seen at each age within the
    window, newest first; `restless_g_s` is the flow that a hand may begin with."""

    def __init__(
        self, reading_g: float, division_g: float, window_s: float, restless_g_s: float
    ) -> None:
        self._division_g = division_g
        self._window_s = window_s
        self._spacing_s = window_s / _MOST_NODES
        self._restless = restless_g_s**2
        noise = division_g**2
        self._ages = [0.0]
        self._state = [0.0, reading_g, reading_g]
        self._spread = [[self._restless, 0.0, 0.0], [0.0, noise, noise], [0.0, noise, 2 * noise]]
        self._surprise = 0.0
        self._step_s = 0.0

    @property
    def flow_g_s(self) -> float:
        return max(self._state[0], 0.0)

    @property
    def mass_g(self) -> float:
        return self._state[1]

    @property
    def size(self) -> int:
        """How many numbers the state has."""
        return len(self._state)

    def rest(self) -> None:
        """The weight has settled: nothing flows."""
        self.scale_flow(0.0, 0.0)
        self._spread[0][0] = (_AT_REST_D * self._division_g) ** 2
        self._surprise = 0.0

    def predict(self, dt: float) -> None:
        """Let time pass: the flow wanders, the mass grows by it; what was seen now is one node more
        in the window, and what has left the window is forgotten."""
        self._step_s = dt
        state, spread = self._state, self._spread
        flow, mass = state[0], state[1]
        ages = [0.0, *(age + dt for age in self._ages)]
        first = 2 if len(ages) < 3 or self._ages[1] >= self._spacing_s else 3
        if first == 3:  # readings come faster than the window needs nodes: the last one makes room
            del ages[1]
        keep = len(ages)
        while keep > 2 and ages[keep - 2] >= self._window_s:
            keep -= 1
        self._ages = ages[:keep]
        wander = (_DRIFT * flow) ** 2 + (_AT_REST_D * self._division_g) ** 2
        lumps = (_LUMPS * flow) ** 2 * dt
        of_flow, of_mass = spread[0], spread[1]
        moved = [m + dt * f for m, f in zip(of_mass, of_flow, strict=True)]
        mass_var = moved[1] + dt * moved[0] + wander * dt**3 / 3 + lumps
        cross = moved[0] + wander * dt**2 / 2
        # each node is louder than the average of the window by the root of how many it averages
        loud = (_NOISE_D * self._division_g) ** 2 * max(1.0, self._window_s / dt)
        now = mass + flow * dt
        end = first + keep - 1
        self._state = [flow, now, now, *state[first:end]]
        rows = [
            [of_flow[0] + wander * dt, cross, cross, *of_flow[first:end]],
            [cross, mass_var, mass_var, *moved[first:end]],
            [cross, mass_var, mass_var + loud, *moved[first:end]],
        ]
        for node in range(first, end):
            row = spread[node]
            rows.append([row[0], moved[node], moved[node], *row[first:end]])
        self._spread = rows

    def correct(self, reading_g: float) -> None:
        """What the scale shows now, through its window."""
        weights = self._weights()
        innovation = reading_g - sum(map(mul, self._state, weights))
        seen = [sum(map(mul, row, weights)) for row in self._spread]
        own = _ROUNDING_D2 * self._division_g**2 + (_UNLIKE_S * self._state[0]) ** 2
        variance = sum(map(mul, seen, weights)) + own
        fade = math.exp(-self._step_s / _SURPRISE_S)
        self._surprise = fade * self._surprise + (1 - fade) * innovation / math.sqrt(variance)
        if self._surprised(innovation):
            seen = [sum(map(mul, row, weights)) for row in self._spread]
            variance = sum(map(mul, seen, weights)) + own
        gain = [value / variance for value in seen]
        self._state = [x + g * innovation for x, g in zip(self._state, gain, strict=True)]
        self._spread = [
            [value - g * other for value, other in zip(row, seen, strict=True)]
            for row, g in zip(self._spread, gain, strict=True)
        ]

    def _surprised(self, innovation: float) -> bool:
        """Whether the hand began or halted, which no wandering flow explains; the state is made
        open to it. What taps and clumps do up and down is none."""
        flow = self._state[0]
        if self._surprise > _BEGAN and flow * _REST_S < innovation:
            self._spread[0][0] += self._restless
            self._spread[1][1] += (_ONSET * innovation) ** 2
        elif self._surprise < _HALTED and flow > 0:
            self.scale_flow(0.5, 0.25)
        else:
            return False
        self._surprise = 0.0
        return True

    def scale_flow(self, share: float, spread: float) -> None:
        """The flow is taken to be a share of what it was, give or take another share of it."""
        flow = self._state[0]
        self._state[0] = flow * share
        for row in self._spread:
            row[0] *= share
        self._spread[0] = [value * share for value in self._spread[0]]
        self._spread[0][0] += (spread * flow) ** 2

    def _weights(self) -> list[float]:
        """How much each part of the state counts in a reading: the mean over the window of what was
        seen, straight between the nodes; before the first node nothing moved."""
        ages, window = self._ages, self._window_s
        weights = [0.0] * (len(ages) + 2)
        covered = 0.0
        for n in range(len(ages) - 1):
            begin, end = ages[n], ages[n + 1]
            if begin >= window:
                break
            part = min(end, window) - begin
            far = part * part / (2 * (end - begin))
            weights[n + 2] += part - far
            weights[n + 3] += far
            covered += part
        weights[-1] += max(window - covered, 0.0)
        return [weight / window for weight in weights]
