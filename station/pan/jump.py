"""Something set down is not poured: a rise faster than any pour freezes acceptance."""

from decimal import Decimal

from station.metrology.scale import Scale
from station.pan.settle import Settling
from station.pan.view import Jump, Task

WINDOW_S = 0.6
LEAST_DIVISIONS = 12
"""A rise of fewer divisions within the window is never a jump."""


class JumpWatch:
    """Watches a vessel that has settled on the pan for a rise that no pour makes."""

    def __init__(self, scale: Scale) -> None:
        self._scale = scale
        self._seated_s: float | None = None
        self.jump: Jump | None = None

    def forget(self) -> None:
        """Another weighing begins."""
        self.jump = self._seated_s = None

    def unseat(self) -> None:
        """The vessel left the pan; a jump is still to be explained."""
        self._seated_s = None

    def explain(self, now_s: float) -> None:
        """A person says that what was set down belongs in."""
        self.jump = None
        self._seated_s = now_s

    def follow(self, task: Task | None, gross_g: Decimal, now_s: float, settling: Settling) -> None:
        """Take in one gross weight."""
        if task is None or task.tare_g is None or task.jump_g is None:
            return
        near, settled = self._scale.near_g, settling.now is not None
        if self.jump is not None:
            if settled and task.tare_g - near <= gross_g <= self.jump.before_g + near:
                self.jump = None  # it is gone, and the vessel is still there
            return
        if self._seated_s is None:
            if settled and gross_g >= task.tare_g - near:
                self._seated_s = now_s
            return
        window = settling.since(max(self._seated_s, now_s - WINDOW_S))
        lowest = min((gross for _, gross in window), default=gross_g)
        if gross_g - lowest > max(task.jump_g, LEAST_DIVISIONS * self._scale.division_g):
            self.jump = Jump(lowest)
