"""The pour watch at work on one pan: fed while a vessel is being filled, and what came of it."""

from decimal import Decimal

from station.metrology.scale import Scale
from station.pan.lag import DEFAULT_WINDOW_S
from station.pan.pour import Advice, Poured, PourWatch
from station.pan.view import Settled, Task


class PourFollower:
    """Keeps a `PourWatch` for the task of one pan, and the first "stop" it said."""

    def __init__(self, scale: Scale) -> None:
        self._scale = scale
        self.window_s = DEFAULT_WINDOW_S
        self._task: Task | None = None
        self._watch: PourWatch | None = None
        self.advice: Advice | None = None
        self.poured = Poured()
        self._moved = self._over = self._lifted = False
        self._taken_s = DEFAULT_WINDOW_S
        self._rest_s: float | None = None

    def lag(self, window_s: float) -> None:
        """The scale's averaging window, as it was measured last; a pour under way goes on with the
        one it began with."""
        self.window_s = window_s

    def task(self, task: Task | None) -> None:
        """What is weighed from now on. Another line, vessel or load begins another pour; limits
        that moved do not."""
        old, self._task = self._task, task
        if task is None or old is None or task.pour != old.pour:
            self._anew()
        elif self._watch is not None and (task.accept, task.aim_g) != (old.accept, old.aim_g):
            if task.accept is None or task.aim_g is None:
                self._anew()
            else:
                self._watch.aim(float(task.accept[1]), float(task.aim_g))

    def _anew(self) -> None:
        self._watch = self.advice = None
        self.poured = Poured()
        self._moved = self._over = self._lifted = False

    def forget(self) -> None:
        """Readings are missing: what was going on before them is over."""
        self._watch = self.advice = None

    def stands(self, time_s: float) -> bool:
        """The last reading once more; whether it need not be taken in: nothing is poured here, or
        what was poured has been at rest for a whole window."""
        if self._watch is None:
            return True
        if self._rest_s is None or time_s - self._rest_s <= self._taken_s:
            return False
        self._watch.stand(time_s)
        return True

    def take(
        self, time_s: float, gross_g: Decimal, period_s: float, settled: Settled | None
    ) -> None:
        """Take in one reading of the pan."""
        task = self._task
        if self._scale.sends == "stable" or task is None or task.accept is None:
            return
        if task.tare_g is None or task.aim_g is None:
            return
        net = gross_g - task.tare_g + task.base_g
        if gross_g < task.tare_g - self._scale.near_g:  # lifted: nothing is poured here
            self.forget()
            self._lifted = True
            return
        if settled is not None and self._taken_s != self.window_s:
            self._watch = None
        if self._watch is None:
            if settled is None:  # it began, or is being set back, while nobody looked
                return
            if self._lifted:  # set back: what was poured before may still be accepted until here
                self._anew()
            self._taken_s, self._rest_s = self.window_s, None
            self._watch = PourWatch(
                float(task.accept[1]),
                float(task.aim_g),
                float(self._scale.division_g),
                self.window_s,
                period_s,
            )
        self.advice = self._watch.advise(time_s, float(net))
        if settled is None:
            self._rest_s = None
        else:
            self._rest_s = time_s if self._rest_s is None else self._rest_s
            self._watch.rest()
            self.advice = self.advice._replace(word="pour", flow_g_s=0.0, final_g=float(net))
        self._note(net, task.aim_g, settled)

    def _note(self, net: Decimal, aim_g: Decimal, settled: Settled | None) -> None:
        advice, poured = self.advice, self.poured
        assert advice is not None
        shown = advice.word == "stop" or net >= aim_g
        if poured.said_g is None and settled is None and shown:
            poured = poured._replace(said_g=advice.mass_g, flow_g_s=advice.flow_g_s)
        if poured.said_g is None and advice.word == "slower":
            poured = poured._replace(slower=True)
        if settled is None:
            self._moved = True
        elif self._moved and net > 0 and not self._over:
            poured = poured._replace(ended_g=net)
            self._over = poured.said_g is not None  # what is added or taken out now is another pour
        self.poured = poured
