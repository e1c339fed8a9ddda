"""What nobody saw: readings missing while a vessel stood on the pan."""

from decimal import Decimal

from station.metrology.scale import Scale
from station.pan.view import Task, Trouble
from station.units import shown

_WAYS = "tip --unaccepted if it went in; or void"


class GapWatch:
    """Remembers the weight before the readings were missing, and asks what became of it.

    A weighing goes on by itself only if the first weight seen is within 3 d of the last one. If it
    was another, a person is asked, for salt and regulated lines only once it is back there. After a
    new start of the station what was last recorded is known at least, and it is asked in any case.
    """

    def __init__(self, scale: Scale) -> None:
        self._scale = scale
        self.broken = False  # another weight was seen since
        self.from_g: Decimal | None = None
        self.resumed = False

    def begin(self, task: Task | None, gross_g: Decimal | None) -> None:
        """Readings are missing from here on; `gross_g` was the last one."""
        if task is None or task.tare_g is None or self.from_g is not None:
            return
        if gross_g is not None and gross_g > self._scale.near_g:
            self.from_g = gross_g

    def resume(self, weighing: bool, seen_g: Decimal | None) -> None:
        """The station starts anew in a weighing: what was last recorded of it is known at least."""
        self.resumed, self.from_g = weighing, seen_g if weighing else None

    def settled(self, gross_g: Decimal) -> None:
        """A settled weight."""
        if self.from_g is None:
            return
        if abs(gross_g - self.from_g) > self._scale.near_g:
            self.broken = True
        elif not self.broken:
            self.from_g = None

    def explain(self) -> None:
        """A person has answered."""
        self.from_g = None
        self.broken = self.resumed = False

    def moving(self) -> Trouble | None:
        """What is said until the weight settles and can be asked about, or None."""
        if self.from_g is None:
            return None
        was = shown(self.from_g, self._scale.division_g)
        return Trouble("gap", f"{self._scale.name}: {was} g before it fell silent", "let it settle")

    def trouble(self, task: Task | None, gross_g: Decimal) -> Trouble | None:
        """The question about the settled weight on the pan, or None."""
        name, d = self._scale.name, self._scale.division_g
        if self.from_g is not None:
            was, now = shown(self.from_g, d), shown(gross_g, d)
            sentence = f"{name}: {was} g before it fell silent, {now} g now"
            there = abs(gross_g - self.from_g) <= self._scale.near_g
            if there or not (task and task.guarded):
                return Trouble(
                    "gap", sentence, f"accept if only this line is in it; {_WAYS}", "away"
                )
            return Trouble("gap", sentence, f"put back what was on it; {_WAYS}", "gone")
        if self.resumed:
            sentence = f"{name}: the station was away: is the vessel as it was?"
            return Trouble("gap", sentence, f"accept if it is; {_WAYS}", "away")
        return None
