"""The pour watch: what is in the vessel now, what will be once the hand stops, and what to say.

From readings alone, floats, constant memory; advice only, never a decision.

A scale shows the average over its last moments, so it shows the past; `flow.py` undoes that. What
is still in the air is in the reading already, since a stream that lands presses with flow x fall
time, just what is falling: it is not added again.
"""

import math
from decimal import Decimal
from typing import Literal, NamedTuple

from station.pan.flow import FlowFilter

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
MARGIN = 4.5
"""Margins kept by the station: what tests/bench/pours.py finds for 99 % of pours that end at or
under the limit, the largest of its cases rounded up."""

_HEARD_S = 0.45
"""So long after "slower" the flow is taken to be (0.4 +/- 0.3) of what it was, heard or not."""
_HEARD_SHARE, _HEARD_SPREAD = 0.4, 0.3
_USUAL_INTERVAL_S = 0.1
"""A scale that prints more seldom costs the rest of its interval: nothing can be said between."""
_YOUNG, _SLACK = 1.5, 1.2
"""A pour is young for so many windows; its flow may be so many times what its readings show."""
_WHOLE_S = 20.0
"""A hand that begins may pour the whole amount in so many seconds."""


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
        if not (division_g > 0 and math.isfinite(limit_g) and math.isfinite(target_g)):
            raise ValueError("a division of more than nothing, and finite limits, are needed")
        self._limit_g, self._target_g = limit_g, target_g
        self._interval_s = interval_s
        self._division_g = division_g
        self._window_s = max(window_s, 1e-3)
        self._reaction_s = reaction_s
        self._margin = margin
        self._two_cues = two_cues
        self._gap_s = max(2.0, 3 * window_s, 5 * interval_s)
        self._calm_g_s = bearable_flow_g_s(limit_g - target_g, division_g, window_s, interval_s)
        self._filter: FlowFilter | None = None
        self._time_s = 0.0
        self._slower_s: float | None = None
        self._slower_left_g = 0.0
        self._stopped_at_g_s: float | None = None
        self._known_s = 0.0
        self._rest_s = self._rest_g = self._reading_g = 0.0
        self._last: Advice | None = None
        self.spare = math.inf
        """How many margins were left to the limit at the last reading."""

    def aim(self, limit_g: float, target_g: float) -> None:
        """The limits moved while the pour goes on."""
        self._limit_g, self._target_g = limit_g, target_g

    def advise(self, time_s: float, reading_g: float) -> Advice:
        """Take in one reading, in the order of time, and say what the hand should do now. Nothing
        is said before a whole window was seen. Raises `ValueError` for what is no number."""
        if not (math.isfinite(time_s) and math.isfinite(reading_g)):
            raise ValueError(f"{reading_g} g at {time_s} s is no reading")
        if self._filter is None or time_s - self._time_s > self._gap_s:
            self._filter = self._begin(time_s, reading_g)
        elif time_s <= self._time_s and self._last is not None:
            return self._last
        else:
            if self._slower_s is not None and self._two_cues:
                heard_s = self._slower_s + _HEARD_S
                if self._time_s < heard_s <= time_s:
                    self._filter.scale_flow(_HEARD_SHARE, _HEARD_SPREAD)
            self._filter.predict(time_s - self._time_s)
            self._filter.correct(reading_g)
        self._time_s, self._reading_g = time_s, reading_g
        self._last = self._judge(self._filter, time_s, reading_g)
        return self._last

    def rest(self) -> None:
        """The weight has settled: nothing flows, and what was said is over."""
        if self._filter is not None and self._last is not None:
            self._filter.rest()
            self._rest_s, self._rest_g = self._time_s, self._reading_g
        self._slower_s = self._stopped_at_g_s = None

    def stand(self, time_s: float) -> None:
        """The weight that has been at rest for a whole window still is: only time passes. The
        filter is where the same reading would bring it again."""
        self._time_s = self._rest_s = time_s

    def _judge(self, now: FlowFilter, time_s: float, reading_g: float) -> Advice:
        flow, mass = min(now.flow_g_s, self._at_most(time_s, reading_g)), now.mass_g
        # what is there now is no less than what was there on average, and no more than the flow
        # could have brought within the window
        late_g = flow * self._window_s + 2 * self._division_g
        mass = min(max(mass, reading_g - self._division_g), reading_g + late_g)
        soon = flow * self._heard(time_s)
        final = mass + soon * self._reaction_s
        late_g = soon * max(self._interval_s - _USUAL_INTERVAL_S, 0.0)  # until it can be said again
        self.spare = (self._limit_g - final - late_g) / (self._division_g / 2 + 0.1 * soon)
        left = self._limit_g - mass
        word: Advised = "pour"
        if self._slower_s is None and self._calm_g_s < flow and left <= AHEAD_S * flow:
            self._slower_s, self._slower_left_g = time_s, left
        elif self._slower_s is not None and left > 1.5 * self._slower_left_g:
            self._slower_s = None  # taken out again
        if self._slower_s is not None and self._two_cues:
            word = "slower"
        grain = flow * (self._reaction_s + self._interval_s) < self._division_g
        if self.spare <= self._margin and not (grain and mass < self._target_g):
            self._stopped_at_g_s = flow
        elif self._stopped_at_g_s is not None and (
            flow <= self._stopped_at_g_s / 4 or self.spare > 3 * self._margin
        ):
            self._stopped_at_g_s = None  # it was obeyed
        if time_s < self._known_s:
            return Advice("pour", mass, flow, final)
        if self._stopped_at_g_s is not None:
            word = "stop"
        return Advice(word, mass, flow, final)

    def _at_most(self, time_s: float, reading_g: float) -> float:
        """The flow that a pour which has just begun can have: what is shown since the rest, over
        the time there was, for a spoonful at once looks like a torrent to the filter."""
        if abs(reading_g - self._rest_g) <= 1.5 * self._division_g:
            self._rest_s = time_s
        since_s, half_s = time_s - self._rest_s, self._window_s / 2
        if since_s > _YOUNG * self._window_s + 3 * self._interval_s:
            return math.inf
        shown_g = max(reading_g - self._rest_g, 0.0) + 2 * self._division_g
        return _SLACK * shown_g / max(since_s - half_s, half_s)

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

    def _begin(self, time_s: float, reading_g: float) -> FlowFilter:
        self._rest_s, self._rest_g = time_s, reading_g
        self._known_s = time_s + self._window_s
        self._slower_s = self._stopped_at_g_s = None
        restless_g_s = self._limit_g / _WHOLE_S
        return FlowFilter(reading_g, self._division_g, self._window_s, restless_g_s)
