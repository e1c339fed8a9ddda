"""The watch over one pan: settling, the empty pan, the lift, jumps, gaps. Fed by every reading and
never recorded; only what it sees enters a decision, as a `Pan`."""

from decimal import Decimal

from drivers.reading import Kind, Reading
from station.metrology.scale import Scale
from station.pan.complaints import (
    backwards,
    other_unit,
    reported,
    silent,
    wandered,
    zeroed,
)
from station.pan.gap import GapWatch
from station.pan.jump import LEAST_DIVISIONS, JumpWatch
from station.pan.lag import StepWatch
from station.pan.pouring import PourFollower
from station.pan.settle import Settling
from station.pan.view import Lift, Pan, Settled, Task, Trouble
from station.units import grams, shown

LIFT_WITHIN_S = 1.0
STALE_S = 1.0
LEAVING_S = 1.5
SERVES_S = 5.0
"""How long one reading of a scale that sends only on stable serves a decision."""


class PanWatch:
    """The watch of one scale. `observe` a reading, `tick` the clock, ask for `view`."""

    def __init__(self, scale: Scale) -> None:
        self.scale = scale
        self._task: Task | None = None
        self._link: tuple[str, str] | None = ("has not been opened yet", "wait")
        self._babble = ""
        self._last: Reading | None = None
        self._last_s: float | None = None
        self._now_s = 0.0
        self._period_s = STALE_S / 3
        self._gross: Decimal | None = None
        self._settling = Settling(scale)
        self._held: Settled | None = None
        self._fell_s: float | None = None
        self._left = False  # the held weight was seen to be gone, without settling
        self._last_g: Decimal | None = None  # more than that was on it before it went
        self._lift: Lift | None = None
        self._empty_g = Decimal(0)
        self._undershot = False
        self._short_g: Decimal | None = None
        self._gap = GapWatch(scale)
        self._backwards = False
        self._unit: str | None = None
        self._tared = False
        self._keyed = False
        self._jumps = JumpWatch(scale)
        self._placed_g: Decimal | None = None
        self._stayed_on = False
        self._tipped_line: str | None = None
        self._foreign = False
        self._pour = PourFollower(scale)
        self._stepping = StepWatch(float(scale.division_g))
        self._view = self._look()

    # what the world says

    def link(self, up: bool, reason: str = "", next_step: str = "") -> None:
        """The port opened or was lost."""
        self._link = None if up else (reason, next_step)
        if up:
            self._last = self._last_s = None  # silence is counted anew
        else:
            self._interrupt()

    def babble(self, sample: str) -> None:
        """Bytes came that are no frame; cleared by the next reading."""
        self._babble = sample

    def task(self, task: Task | None) -> None:
        """What the batch expects here from now on; another weighing forgets the last one's key,
        jump, lift and gap."""
        self._pour.task(task)
        old, self._task = self._task, task
        if old and task and task.pour == old.pour:
            return
        self._keyed = False
        self._lift = None
        self._jumps.forget()
        if old is not None:  # the first task after a start still has its question
            self._gap.explain()

    def key(self) -> None:
        """The key of a line that wants one before the lift, pressed while settled in the limits."""
        self._keyed = True

    def lag(self, window_s: float) -> None:
        """How late the scale is, as the record says."""
        self._pour.lag(window_s)

    def lag_told(self) -> None:
        """What the steps tell is recorded: others count from now on."""
        self._stepping.steps.clear()

    def explain_jump(self) -> None:
        """A person says that what was set down belongs in; it must settle again."""
        self._jumps.explain(self._now_s)
        self._settling.unsettle()

    def explain_vessel(self) -> None:
        """A person says that this is the vessel of the weighing, whatever it weighs like."""
        self._placed_g = None
        self._gap.explain()

    def resume(self, tipped_line: str | None, weighing: bool) -> None:
        """The station starts anew: what stood on the pan when it stopped may still be there, and
        what was done to it meanwhile nobody saw."""
        self._tipped_line = tipped_line
        self._gap.resumed = weighing

    def undershot_handled(self) -> None:
        """What hangs on the pan's zero is reopened; the pan stays blocked until it is well."""
        self._short_g = None

    def lift_handled(self) -> None:
        """The decision about the last lift is recorded."""
        self._lift = None

    def counted(self) -> None:
        """The load on the pan was counted; from now on it is watched whether it leaves."""
        self._stayed_on = True

    def tipped(self, line: str) -> None:
        """The vessel of a line was just tipped; if one is on the pan, it is that one."""
        if self._gross is not None and self._gross > self.scale.near_g:
            self._tipped_line = line

    def parked(self) -> None:
        """The batch leaves the bench: what stays on the pan is no vessel and no load of another."""
        self._foreign = self._gross is not None and self._gross > self.scale.near_g
        if self._foreign and self._tipped_line:
            self._tipped_line = f"{self._tipped_line} of a parked batch"

    def tick(self, now_s: float) -> None:
        """Time passes: silence is noticed only so."""
        self._now_s = now_s
        if self._settling.now and self.scale.sends == "stable":
            if now_s - self._settling.now.time_s > SERVES_S:
                self._settling.now = None
        elif self._stale():
            self._settling.now = None

    def observe(self, reading: Reading) -> None:
        """Take in one reading."""
        if reading.kind is Kind.TARE:
            return
        before, self._now_s = self._last_s, max(self._now_s, reading.time_s)
        self._babble = ""
        if before is not None:
            self._backwards = reading.time_s < before
            if self._backwards:
                return
            self._note_period(reading.time_s - before)
        self._last, self._last_s = reading, reading.time_s
        gross_before, self._gross = self._gross, self._grams(reading)
        if self._gross is None:  # a weight that cannot be read is a gap in the weights
            self._gross = gross_before
            self._interrupt()
            self._gross = None
            return
        self._settling.take(reading, self._gross)
        self._pour.take(reading.time_s, self._gross, self._period_s, self._settling.now)
        self._stepping.take(reading.time_s, float(self._gross))
        self._follow(reading.time_s)

    # how it is seen

    def view(self) -> Pan:
        """What the pan shows; the very same object as long as nothing about it has changed."""
        pan = self._look()
        if pan != self._view:
            self._view = pan
        return self._view

    def _look(self) -> Pan:
        stale = self._stale()
        empty = (
            self._settling.now is not None and abs(self._settling.now.gross_g) <= self.scale.near_g
        )
        return Pan(
            scale=self.scale,
            gross_g=None if stale or self._link else self._gross,
            settled=self._settling.now,
            held=None if self._left else self._held,
            troubles=tuple(self._troubles()),
            empty=empty,
            keyed=self._keyed,
            jump=self._jumps.jump,
            lift=self._lift,
            placed_g=self._placed_g,
            falling=self._fell_s is not None,
            resumed=self._gap.resumed,
            gap_from_g=self._gap.from_g,
            gap_broken=self._gap.broken,
            short_g=self._short_g,
            age_s=self._age_s() if stale else 0.0,
            stayed_on=self._stayed_on,
            tipped_line=self._tipped_line,
            foreign=self._foreign,
            advice=None if stale or self._link else self._pour.advice,
            poured=self._pour.poured,
            steps=tuple(self._stepping.steps),
            period_s=round(self._period_s, 2),
            window_s=self._pour.window_s,
        )

    # inside

    def _age_s(self) -> float | None:
        """Whole seconds since the last reading; None where there was none."""
        return None if self._last_s is None else float(int(self._now_s - self._last_s))

    def _note_period(self, dt: float) -> None:
        if self.scale.sends != "stable" and dt > max(3 * self._period_s, STALE_S):
            self._interrupt()
        if 0 < dt < 2:
            self._period_s += 0.1 * (dt - self._period_s)

    def _interrupt(self) -> None:
        """Readings are missing: no lift can be believed across them."""
        self._gap.begin(self._task, self._gross)
        self._held = self._fell_s = None
        self._left = self._keyed = self._stayed_on = False
        self._settling.unsettle()
        self._pour.forget()
        self._stepping.forget()

    def _stale(self) -> bool:
        if self._last_s is None:
            return True
        if self.scale.sends == "stable":
            return False
        return self._now_s - self._last_s > max(3 * self._period_s, STALE_S)

    def _grams(self, reading: Reading) -> Decimal | None:
        self._tared = reading.kind is Kind.NET and reading.tare is None
        if reading.value is None:
            return None
        unit = reading.unit
        if unit is None and reading.stable is False:
            unit = self.scale.unit  # a format that leaves the unit out while in motion
        self._unit = None if unit and unit.lower() == self.scale.unit.lower() else unit or "none"
        if self._unit is not None or self._tared:
            return None
        return None if reading.gross is None else grams(reading.gross, self.scale.unit)

    def _follow(self, now_s: float) -> None:
        """Follow the load on the pan: empty, seated, jumped, lifted."""
        gross, near = self._gross, self.scale.near_g
        assert gross is not None
        if gross <= near:
            self._stayed_on = self._foreign = False
            self._tipped_line = None
            if self._held is not None and not self._left:
                self._left = True
                self._last_g = self._before_leaving(now_s)
            self._jumps.unseat()
        self._jumps.follow(self._task, gross, now_s, self._settling)
        if self._settling.now is None:
            self._follow_fall(gross, now_s)
            return
        if gross < -max(near, self._least_vessel_g()):
            if not self._undershot:
                self._short_g = -gross
            self._undershot = True
        elif gross < -near:
            self._undershot, self._short_g = False, None  # too little for a vessel: a wandered zero
        elif abs(gross) <= near:
            self._undershot, self._short_g = False, None
            self._emptied(gross)
        else:
            if self._left and self._held is not None:  # back again, or something else
                self._lift = self._unbelieved(self._held)
                self._held = self._fell_s = self._last_g = None
                self._left = self._keyed = False
            if self._held is None:
                self._placed_g = gross
            self._follow_fall(gross, now_s)
            if self._fell_s is None:
                self._held = self._settling.now
            self._drop_key(gross)
        self._gap.settled(gross)

    def _emptied(self, gross: Decimal) -> None:
        if self._held is not None:
            fell = self._fell_s if self._fell_s is not None else self._held.time_s
            at_once = fell - self._held.time_s <= LIFT_WITHIN_S
            stayed = max(gross - self._empty_g, Decimal(0))
            jumped = self._jumps.jump is not None
            self._lift = Lift(
                self._held, at_once, stayed, self._keyed, jumped, self._last_g, self._placed_g
            )
            self._keyed = False
        else:
            self._empty_g = gross
        self._held = self._fell_s = self._placed_g = None
        self._left, self._last_g = False, None
        self._jumps.unseat()

    def _unbelieved(self, held: Settled) -> Lift:
        """A lift that accepts nothing, whatever was shown before it."""
        return Lift(held, False, Decimal(0), False, False, self._last_g, self._placed_g)

    def _before_leaving(self, now_s: float) -> Decimal | None:
        """What was on the pan in the last moments, where it was clearly more than what was held:
        the upper quartile of them, which neither a hand's push nor the fall itself moves."""
        if self._held is None:
            return None
        recent = sorted(self._settling.since(now_s - LEAVING_S))
        last = recent[len(recent) * 3 // 4] if recent else self._held.gross_g
        more = last - self._held.gross_g > LEAST_DIVISIONS * self.scale.division_g
        return last if more else None

    def _follow_fall(self, gross: Decimal, now_s: float) -> None:
        """Note when the held weight began to fall; the fall is undone when it comes up again."""
        if self._held is None:
            return
        deep = max(self.scale.near_g, (self._held.gross_g - self._empty_g) / 50)
        if gross >= self._held.gross_g - deep:
            self._fell_s = None
            if self._keyed and now_s - self._held.time_s > LIFT_WITHIN_S:
                self._keyed = False  # unsettled for too long: the key wants pressing again
        elif self._fell_s is None:
            self._fell_s = now_s
        elif self._settling.now is not None:  # settled lower down and not empty
            task = self._task
            if task and task.tare_g is not None and gross < task.tare_g - self.scale.near_g:
                self._lift = self._unbelieved(self._held)
                self._placed_g = gross
            self._held, self._fell_s, self._keyed = self._settling.now, None, False
            self._jumps.unseat()

    def _drop_key(self, gross: Decimal) -> None:
        task = self._task
        if self._keyed and task and task.accept and task.tare_g is not None:
            net = gross - task.tare_g + task.base_g
            if not task.accept[0] <= net <= task.accept[1]:
                self._keyed = False

    def _troubles(self) -> list[Trouble]:
        name = self.scale.name
        if self._link is not None:
            reason, step = self._link
            return [Trouble("link", f"{name}: {reason}", step)]
        if self._stale():
            age = None if self._last_s is None else self._now_s - self._last_s
            return [silent(name, age, self._babble)]
        found: list[Trouble | None] = []
        if self._backwards:
            found.append(backwards(name))
        found.append(reported(name, self._last.condition) if self._last else None)
        if self._tared or self._undershot:
            found.append(zeroed(name, self._tared))
        if self._settling.now is not None:
            found.append(self._gap.trouble(self._task, self._settling.now.gross_g))
        if self._unit is not None:
            found.append(other_unit(name, self._unit, self.scale.unit))
        if self._wandered():
            found.append(wandered(name, shown(self._gross or Decimal(0), self.scale.division_g)))
        told = [trouble for trouble in found if trouble is not None]
        if not told and self._settling.now is None and (moving := self._gap.moving()) is not None:
            return [moving]
        return told

    def _wandered(self) -> bool:
        """Settled beyond 3 d of zero, on either side, with less than any vessel weighs."""
        if self._settling.now is None:
            return False
        return self.scale.near_g < abs(self._settling.now.gross_g) <= self._least_vessel_g()

    def _least_vessel_g(self) -> Decimal:
        most = LEAST_DIVISIONS * self.scale.division_g
        if self._task and self._task.empty_below_g is not None:
            most = min(most, self._task.empty_below_g)
        return most
