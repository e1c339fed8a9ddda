"""The pour watch: what is in the vessel now, what will be once the hand stops, and what to say.

From readings alone, floats, constant memory; advice only, never a decision.

A scale shows the average over its last moments, so it shows the past. The state of a Kalman filter
(R. E. Kalman, A New Approach to Linear Filtering and Prediction Problems, 1960) is the flow, the
mass, and what was seen at each reading within the averaging window; a reading corrects it through
that window. What is still in the air is in the reading already, since a stream that lands presses
with flow x fall time, just what is falling: it is not added again.
"""

import math
from decimal import Decimal
from operator import mul
from typing import Literal, NamedTuple

Advised = Literal["pour", "slower", "stop"]


class Advice(NamedTuple):
    """What to say; the true mass now in grams, the flow in grams a second, and the final mass if
    the hand is told to stop now."""

    word: Advised
    mass_g: float
    flow_g_s: float
    final_g: float


class Poured(NamedTuple):
    """What was said in one pour and how it ended, grams net of the line. `said_g` is the mass in
    the vessel when "stop" was first shown, None where it never was; `flow_g_s` the flow then;
    `ended_g` where it came to rest after that, None while it has not; `slower` whether that was
    shown before."""

    said_g: float | None = None
    flow_g_s: float = 0.0
    slower: bool = False
    ended_g: Decimal | None = None


REACTION_S = 0.35
"""A hand obeys 0.25 to 0.4 s after the word (common practice for simple visual reactions)."""
AHEAD_S = 3.0
"""Seconds of flow before the limit at which "slower" is said; the hand then drops to a quarter."""
MARGIN = 4.0
"""Margins kept by the station: what tests/bench/pours.py finds for 99 % of pours that end at or
under the limit, the largest of its cases rounded up."""

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
_SURPRISE_S = 0.5
_REST_S = 8.0
_ONSET = 4.0
_BEGAN, _HALTED = 1.5, -2.5
"""Mean of the last half second's innovations, in standard deviations, that says that the hand began
or halted."""
_HEARD_S = 0.45
"""So long after "slower" the flow is taken to be (0.4 +/- 0.3) of what it was, heard or not."""
_HEARD_SHARE, _HEARD_SPREAD = 0.4, 0.3
_MOST_NODES = 20


def bearable_flow_g_s(
    band_g: float, division_g: float, window_s: float, interval_s: float
) -> float:
    """The flow up to which one "stop" alone ends the pour in a band so wide: grams a second.

    A single cue needs about flow x (1.27 + 0.24 window + 0.62 interval) + d/2 (measured on
    simulated pours at 99 % safe).
    """
    need_s = 1.27 + 0.24 * window_s + 0.62 * interval_s
    return max(band_g - division_g / 2, 0.0) / need_s


class PourWatch:
    """Advises on one pour into one vessel; every mass is the net of the line, grams.

    `limit_g` is the upper acceptance limit, `target_g` the aim; `window_s` the scale's averaging
    window (too long costs a little of the band, too short is dangerous), `interval_s` the usual
    time between its readings, `reaction_s` how long a hand needs to obey, `margin` how many margins
    of d/2 + 0.1 s x flow to keep from the limit. Without `two_cues` only "stop" is ever said.
    """

    def __init__(
        self,
        limit_g: float,
        target_g: float,
        division_g: float,
        window_s: float,
        interval_s: float,
        reaction_s: float = REACTION_S,
        *,
        margin: float = MARGIN,
        two_cues: bool = True,
    ) -> None:
        self._limit_g = limit_g
        self._division_g = division_g
        self._window_s = max(window_s, 1e-3)
        self._reaction_s = reaction_s
        self._margin = margin
        self._two_cues = two_cues
        self._spacing_s = self._window_s / _MOST_NODES
        self._gap_s = max(2.0, 3 * window_s, 5 * interval_s)
        self._calm_g_s = bearable_flow_g_s(limit_g - target_g, division_g, window_s, interval_s)
        self._restless_g = (limit_g / 20) ** 2  # variance of a flow that nothing is known of
        self._time_s: float | None = None
        self._slower_s: float | None = None
        self._slower_left_g = 0.0
        self._stopped_at_g_s: float | None = None
        # flow, mass, then what was seen at each age, newest first
        self._state: list[float] = []
        self._spread: list[list[float]] = []
        self._ages: list[float] = []
        self._surprise = 0.0
        self._step_s = 0.0
        self._last: Advice | None = None
        self.spare = math.inf
        """How many margins were left to the limit at the last reading."""

    def advise(self, time_s: float, reading_g: float) -> Advice:
        """Take in one reading, in the order of time, and say what the hand should do now."""
        if self._time_s is None or time_s - self._time_s > self._gap_s:
            self._begin(reading_g)
        elif time_s <= self._time_s and self._last is not None:
            return self._last
        else:
            self._predict(time_s - self._time_s, time_s)
            self._correct(reading_g)
        self._time_s = time_s
        self._last = self._judge(time_s, reading_g)
        return self._last

    def rest(self) -> None:
        """The weight has settled: nothing flows, and what was said is over."""
        if not self._state:
            return
        self._state[0] = 0.0
        self._spread[0] = [0.0] * len(self._state)
        for row in self._spread:
            row[0] = 0.0
        self._spread[0][0] = (0.02 * self._division_g) ** 2
        self._slower_s = self._stopped_at_g_s = None
        self._surprise = 0.0

    def _judge(self, time_s: float, reading_g: float) -> Advice:
        flow, mass = max(self._state[0], 0.0), self._state[1]
        # what is there now is no less than what was there on average, and no more than the flow
        # could have brought within the window
        late_g = flow * self._window_s + 2 * self._division_g
        mass = min(max(mass, reading_g - self._division_g), reading_g + late_g)
        soon = flow * self._heard(time_s)
        final = mass + soon * self._reaction_s
        self.spare = (self._limit_g - final) / (self._division_g / 2 + 0.1 * soon)
        left = self._limit_g - mass
        word: Advised = "pour"
        if self._slower_s is None and self._calm_g_s < flow and left <= AHEAD_S * flow:
            self._slower_s, self._slower_left_g = time_s, left
        elif self._slower_s is not None and left > 1.5 * self._slower_left_g:
            self._slower_s = None  # taken out again
        if self._slower_s is not None and self._two_cues:
            word = "slower"
        if self.spare <= self._margin:
            self._stopped_at_g_s = flow
        elif self._stopped_at_g_s is not None and flow < self._stopped_at_g_s / 4:
            self._stopped_at_g_s = None  # it was obeyed
        if self._stopped_at_g_s is not None:
            word = "stop"
        return Advice(word, mass, flow, final)

    def _heard(self, time_s: float) -> float:
        """The share of the flow that a hand lets go in the next moments, which may be about to pour
        slower because it was told so."""
        if self._slower_s is None or not self._two_cues:
            return 1.0
        left = self._slower_s + _HEARD_S - time_s
        if left <= 0:  # the flow itself is taken to have changed
            return 1.0
        full = min(left / self._reaction_s, 1.0)
        return full + (1 - full) * _HEARD_SHARE

    def _begin(self, reading_g: float) -> None:
        noise = self._division_g**2
        self._ages = [0.0]
        self._state = [0.0, reading_g, reading_g]
        self._spread = [[self._restless_g, 0.0, 0.0], [0.0, noise, noise], [0.0, noise, 2 * noise]]
        self._slower_s = self._stopped_at_g_s = None

    def _predict(self, dt: float, now_s: float) -> None:
        """Let time pass: the flow wanders, the mass grows by it; what was seen now is one node more
        in the window, and what has left the window is forgotten."""
        self._step_s = dt
        state, spread = self._state, self._spread
        if self._slower_s is not None and self._two_cues:
            heard_s = self._slower_s + _HEARD_S
            if now_s - dt < heard_s <= now_s:
                self._scale_flow(_HEARD_SHARE, _HEARD_SPREAD)
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
        wander = (_DRIFT * flow) ** 2 + (0.02 * self._division_g) ** 2
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

    def _correct(self, reading_g: float) -> None:
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
            self._spread[0][0] += self._restless_g
            self._spread[1][1] += (_ONSET * innovation) ** 2
        elif self._surprise < _HALTED and flow > 0:
            self._scale_flow(0.5, 0.25)
        else:
            return False
        self._surprise = 0.0
        return True

    def _scale_flow(self, share: float, spread: float) -> None:
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
