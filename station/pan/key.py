"""The key of a line that wants one before the lift: good for what was settled when it was pressed,
and for nothing more or less."""

from decimal import Decimal

from station.metrology.scale import Scale
from station.pan.view import Task

LINGERS_S = 0.25
"""A weight that is being lifted is nowhere for so long; one that something was taken out of is."""
LIFTED_BY = 50
"""In that time a lift takes off at least this part of the weight: an averaging window of 2 s, or a
filter of 1 s, still takes off seven times as much of what is there."""


class KeyWatch:
    """A pressed key and the gross that it was pressed for."""

    def __init__(self, scale: Scale) -> None:
        self._division_g = scale.division_g
        self._gross_g: Decimal | None = None
        self._below: tuple[float, Decimal] | None = None

    @property
    def pressed(self) -> bool:
        return self._gross_g is not None

    def press(self, gross_g: Decimal | None) -> None:
        """The key was pressed for a settled gross, grams; None where nothing is held by now."""
        self._gross_g, self._below = gross_g, None

    def void(self) -> None:
        """It wants pressing again."""
        self._gross_g = None

    def moves(self, gross_g: Decimal, now_s: float) -> None:
        """An unsettled weight. More than a division above the key's may be grains that came after
        it, and nothing tells them from a hand that leans on the cup: the key is void at once. Below
        it the cup is being lifted, unless the weight stays there: then something was taken out."""
        if self._gross_g is None:
            return
        if gross_g > self._gross_g + self._division_g:
            self.void()
        elif gross_g >= self._gross_g - self._division_g:
            self._below = None
        elif self._below is None:
            self._below = (now_s, gross_g)
        elif now_s - self._below[0] > LINGERS_S and 2 * gross_g > self._gross_g:
            if LIFTED_BY * (self._below[1] - gross_g) < self._gross_g:
                self.void()
            self._below = (now_s, gross_g)

    def settles(self, gross_g: Decimal, task: Task | None) -> None:
        """A settled weight: the key stands for the same one, and in the limits."""
        if self._gross_g is None:
            return
        if abs(gross_g - self._gross_g) > self._division_g:
            self.void()
        elif task and task.accept and task.tare_g is not None:
            net = gross_g - task.tare_g + task.base_g
            if not task.accept[0] <= net <= task.accept[1]:
                self.void()
