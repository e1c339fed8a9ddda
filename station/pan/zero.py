"""Where the zero of a pan is: an empty pan that shows something, a load that was zeroed away."""

from decimal import Decimal

from station.metrology.scale import Scale
from station.pan.complaints import wandered, zeroed
from station.pan.jump import LEAST_DIVISIONS
from station.pan.view import Task, Trouble
from station.units import shown


class ZeroWatch:
    """Follows the settled weights under and around zero."""

    def __init__(self, scale: Scale) -> None:
        self._scale = scale
        self._undershot = False
        self.short_g: Decimal | None = None

    def settled(self, gross_g: Decimal, task: Task | None) -> None:
        """A settled weight. Too far under zero for a wandered one, something was zeroed away that
        has been lifted since; that is over only with a true zero, not with the next vessel."""
        near = self._scale.near_g
        if gross_g < -max(near, self._least_vessel_g(task)):
            if not self._undershot:
                self.short_g = -gross_g
            self._undershot = True
        elif gross_g <= near:
            self._undershot, self.short_g = False, None

    def handled(self) -> None:
        """What hangs on the pan's zero is reopened; it stays blocked until it is well."""
        self.short_g = None

    def zeroed(self, tared: bool) -> Trouble | None:
        """It was tared (the readings say so) or zeroed with something on it."""
        return zeroed(self._scale.name, tared) if tared or self._undershot else None

    def wandered(self, settled_g: Decimal | None, task: Task | None) -> Trouble | None:
        """Settled beyond 3 d of zero, on either side, with less than any vessel weighs."""
        if settled_g is None or abs(settled_g) <= self._scale.near_g:
            return None
        if abs(settled_g) > self._least_vessel_g(task):
            return None
        return wandered(self._scale.name, shown(settled_g, self._scale.division_g))

    def _least_vessel_g(self, task: Task | None) -> Decimal:
        most = LEAST_DIVISIONS * self._scale.division_g
        if task and task.empty_below_g is not None:
            return min(most, task.empty_below_g)
        return most
