"""One pan in a test: a watch without port and clock, fed readings by hand."""

from decimal import Decimal

from drivers.reading import Condition, Kind, Reading
from station.metrology.scale import Scale
from station.pan.view import Lift, Pan, Task
from station.pan.watch import PanWatch
from tests.benchside import FINE

STABLE_ONLY = Scale("s", Decimal(600), Decimal("0.05"), "II", "g", "stable")
CURE = Task(
    "premix",
    Decimal("100.00"),
    accept=(Decimal("23.40"), Decimal("24.30")),
    aim_g=Decimal(24),
    jump_g=Decimal("7.20"),
    empty_below_g=Decimal(40),
    guarded=True,
)
"""24 g of a cure in a cup of 100 g: in band from 123.40 to 124.30 g."""


def reading(
    grams: str, time_s: float, stable: bool | None = True, unit: str | None = "g"
) -> Reading:
    return Reading(Decimal(grams), unit, Kind.GROSS, stable, Condition.OK, time_s, grams.encode())


class Side:
    """A watch at 10 Hz; `stable` is the flag that its scale sends with a weight that stands."""

    def __init__(
        self, task: Task | None = None, scale: Scale = FINE, stable: bool | None = True
    ) -> None:
        self.watch = PanWatch(scale)
        self.watch.link(True)
        self.watch.task(task)
        self.stable = stable
        self.count = 0

    @property
    def now(self) -> float:
        return self.count / 10

    def one(self, grams: str, stable: bool | None) -> Pan:
        self.count += 1
        self.watch.observe(reading(grams, self.now, stable))
        self.watch.tick(self.now)
        return self.watch.view()

    def moves(self, *grams: str) -> Pan:
        """One unsettled reading of each."""
        for value in grams:
            self.one(value, False)
        return self.watch.view()

    def stands(self, grams: str, readings: int = 10) -> Pan:
        """So many readings of a weight that stands."""
        for _ in range(readings):
            self.one(grams, self.stable)
        return self.watch.view()

    def silent(self, seconds: float) -> Pan:
        self.count += round(seconds * 10)
        self.watch.tick(self.now)
        return self.watch.view()

    def filled(self, grams: str = "124.00") -> "Side":
        """The empty pan, the empty cup, and a weight that has settled in it."""
        self.stands("0.00")
        self.stands("100.00")
        for step in range(1, 8):
            self.moves(f"{100 + 3 * step}.15")
        self.stands(grams)
        return self

    def lift(self, *falling: str) -> Lift | None:
        """The fall, and the empty pan settled; what the watch tells of it."""
        self.moves(*(falling or ("20.00",)))
        return self.stands("0.00").lift
