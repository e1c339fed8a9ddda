"""How late a scale is: its averaging window, from the steps of what is set down and lifted.

A moving average of length W answers a step with a straight ramp of length W, a one-pole filter of
time constant T with an exponential; both are late by the same as a window of W, or of 2 T. Weights
set down by hand make the ramp a little longer, which is the safe side.
"""

import math
from collections import deque
from collections.abc import Callable, Sequence
from statistics import median
from typing import Literal, NamedTuple

Shape = Literal["boxcar", "one-pole"]

DEFAULT_WINDOW_S = 1.0
"""Taken until a scale's own was measured: longer than most, which costs a little of the band."""
LEAST_STEP_D = 50
"""A step of fewer divisions cannot tell the shape of its ramp."""
LEAST_POINTS = 3
"""So many readings within a ramp, or the scale prints too seldom to tell."""
LONGEST_S = 5.0
"""A ramp longer than that is a hand's, not a filter's."""
KEPT = 9
"""So many of the last steps are kept."""
_FLAT_S = 0.5
_TOLD = 1.3
"""By how much one shape must fit better than the other to be believed."""


class WeightStep(NamedTuple):
    """One step: when it ended, how many grams, the shape and the window in seconds that fit it;
    window None where the ramp could not be told, `why` then says why."""

    time_s: float
    grams: float
    shape: Shape
    window_s: float | None
    why: str = ""


class StepWatch:
    """Follows one scale's readings and keeps its last steps."""

    def __init__(self, division_g: float) -> None:
        self._division_g = division_g
        self.steps: deque[WeightStep] = deque(maxlen=KEPT)
        self._seen: deque[tuple[float, float]] = deque(maxlen=512)
        self._level_g: float | None = None
        self._left_s = 0.0

    def forget(self) -> None:
        """Readings are missing: what comes next is no step."""
        self._seen.clear()
        self._level_g = None

    def take(self, time_s: float, reading_g: float) -> bool:
        """Take in one reading; whether a step has come to rest with it, which is one more."""
        step = self._step(time_s, reading_g)
        if step is not None:
            self.steps.append(step)
        return step is not None

    def again(self, time_s: float) -> bool:
        """The same for the last reading once more."""
        return bool(self._seen) and self.take(time_s, self._seen[-1][1])

    def _step(self, time_s: float, reading_g: float) -> WeightStep | None:
        if self._seen and time_s <= self._seen[-1][0]:
            return None
        self._seen.append((time_s, reading_g))
        if self._level_g is not None and abs(reading_g - self._level_g) <= self._division_g:
            self._left_s = time_s
            return None
        if time_s - self._seen[0][0] < _FLAT_S:
            return None
        last = []
        for t, g in reversed(self._seen):
            if t < time_s - _FLAT_S - 1e-6:
                break
            last.append(g)
        if len(last) < 3:
            return None
        if max(last) - min(last) > self._division_g:
            return None
        before, self._level_g = self._level_g, median(last)
        ramp = [(t, g) for t, g in self._seen if t >= self._left_s]
        self._left_s = time_s
        near = 3 * self._division_g
        if before is None or min(abs(before), abs(self._level_g)) > near:
            return None  # poured, not set down on the empty pan or lifted off it
        return fit_step(ramp, before, self._level_g, self._division_g)


def fit_step(
    ramp: Sequence[tuple[float, float]], before_g: float, after_g: float, division_g: float
) -> WeightStep | None:
    """The window that a ramp from one level to another tells; None for a step of a few divisions.

    `ramp` is (seconds, grams) from the last reading at the first level on.
    """
    height = after_g - before_g
    if abs(height) < 10 * division_g:
        return None
    end_s = next((t for t, g in ramp if abs(g - after_g) <= division_g), ramp[-1][0])
    edge = max(1.5 * division_g / abs(height), 0.03)  # less than that may be the cell ringing
    points = [(t, (g - before_g) / height) for t, g in ramp if t <= end_s]
    inside = [(t, f) for t, f in points if edge < f < 1 - edge]
    step = WeightStep(ramp[-1][0], height, "boxcar", None)
    if end_s - ramp[0][0] > LONGEST_S:
        return step._replace(why="it came to rest too slowly: set it down and lift it at once")
    if abs(height) < LEAST_STEP_D * division_g:
        return step._replace(why=f"too light: at least {LEAST_STEP_D} divisions are needed")
    over = max((g - after_g) * (1 if height > 0 else -1) for _, g in ramp)
    if over > max(2 * division_g, 0.05 * abs(height)):
        return step._replace(why="something pressed on it: set it down and let go at once")
    if len(inside) < LEAST_POINTS:
        return step._replace(why="the scale prints too seldom to tell its window")
    middle_s = next((t for t, f in points if f >= 0.5), end_s)
    rough_s = max(end_s - ramp[0][0], 0.1)
    straight, curved = (_fit(points, model, middle_s, rough_s) for model in (_boxcar, _one_pole))
    if curved.off * _TOLD < straight.off:
        return step._replace(shape="one-pole", window_s=curved.window_s)
    return step._replace(window_s=straight.window_s)


Points = Sequence[tuple[float, float]]
Model = Callable[[float, float], float]
"""(seconds since the step, window in seconds) -> share of the step that is shown."""


def _boxcar(since_s: float, window_s: float) -> float:
    return min(max(since_s / window_s, 0.0), 1.0)


def _one_pole(since_s: float, window_s: float) -> float:
    return 1 - math.exp(-2 * max(since_s, 0.0) / window_s)


class _Fit(NamedTuple):
    """How far a model misses the points (root of the mean square) with its best window."""

    off: float
    window_s: float


def _fit(points: Points, model: Model, middle_s: float, rough_s: float) -> _Fit:
    """The window with which a model misses the points least: a search in ever smaller steps from
    several beginnings, since ends that are cut off leave no formula."""
    best = _Fit(math.inf, rough_s)
    for guess_s in (rough_s, rough_s / 2, rough_s / 4):
        window_s, began_s, step_s = guess_s, middle_s - guess_s / 2, guess_s / 4
        off = _off(points, model, began_s, window_s)
        while step_s > 1e-4:
            least = min(
                (_off(points, model, began_s + b * step_s, wide), began_s + b * step_s, wide)
                for b, w in _MOVES
                if (wide := window_s + w * step_s) > 1e-3
            )
            if least[0] < off:
                off, began_s, window_s = least
            else:
                step_s /= 2
        best = min(best, _Fit(off, window_s))
    return best


_MOVES = [(b, w) for b in (-1, 0, 1) for w in (-1, 0, 1) if b or w]


def _off(points: Points, model: Model, began_s: float, window_s: float) -> float:
    missed = sum((f - model(t - began_s, window_s)) ** 2 for t, f in points)
    return math.sqrt(missed / len(points)) + 1e-6


class Told(NamedTuple):
    """What several steps tell together: seconds, the spread between them, and how many."""

    shape: Shape
    window_s: float
    spread_s: float
    steps: int


def told_by(steps: Sequence[WeightStep]) -> Told | None:
    """The middle of what the newest steps tell, and of the older ones that agree with them; None
    where fewer than three tell anything, or those three disagree."""
    clear = [(step.shape, step.window_s) for step in reversed(steps) if step.window_s is not None]
    newest = [window for _, window in clear[:LEAST_STEPS]]
    if len(newest) < LEAST_STEPS or max(newest) > AGREE * min(newest):
        return None
    agreeing = list(clear[:LEAST_STEPS])
    for step in clear[LEAST_STEPS:]:
        if not median(newest) / AGREE <= step[1] <= median(newest) * AGREE:
            break
        agreeing.append(step)
    shapes = [shape for shape, _ in agreeing]
    shape: Shape = "boxcar" if shapes.count("boxcar") * 2 > len(shapes) else "one-pole"
    windows = sorted(window for of, window in agreeing if of == shape)
    return Told(shape, median(windows), windows[-1] - windows[0], len(windows))


def refined(
    known_s: float | None, steps: Sequence[WeightStep], may_shorten: bool = True
) -> Told | None:
    """What the steps of ordinary work tell, where that differs from what is known by more than a
    tenth; None where it does not, or too few tell anything.

    A hand that sets down slowly only makes a ramp longer: the shortest count, three that agree.
    What a person measured is never shortened so.
    """
    clear = sorted((step.window_s, step.shape) for step in steps if step.window_s is not None)
    if len(clear) < REFINED_BY or clear[LEAST_STEPS - 1][0] > AGREE * clear[0][0]:
        return None
    window_s, shape = clear[LEAST_STEPS - 1]
    if known_s is not None and abs(window_s - known_s) <= 0.1 * known_s:
        return None
    if known_s is not None and window_s < known_s and not may_shorten:
        return None
    return Told(shape, window_s, clear[-1][0] - clear[0][0], len(clear))


AGREE = 1.2
"""Steps agree where the longest window is at most so many times the shortest."""
LEAST_STEPS = 3
REFINED_BY = 8
"""So many steps of ordinary work say something about a scale."""
