"""The watch over one pan: it hands each reading to its parts and shows what they see, as a `Pan`.

Fed by every reading and never recorded. `signal` tells what the line says, `device` whether it is
this scale, `settle` what is settled, `load` is the state machine of what stands on the pan and what
was lifted, `zero`, `jump` and `gap` watch for what would look like a lift or a pour and is none.
"""

from decimal import Decimal

from drivers.reading import Kind, Reading
from station.metrology.scale import Device, Scale
from station.pan.device import DeviceWatch
from station.pan.gap import GapWatch
from station.pan.jump import JumpWatch
from station.pan.lag import StepWatch
from station.pan.load import LoadWatch, State
from station.pan.marks import Marks
from station.pan.pouring import PourFollower
from station.pan.settle import Settling
from station.pan.signal import Signal
from station.pan.view import Pan, Task, Trouble
from station.pan.zero import ZeroWatch

_SETTLES_IN = 2
"""A second reading of the same may still change what a first one changed; a third never does."""


class PanWatch:
    """The watch of one scale. `observe` a reading, `tick` the clock, ask for `view`."""

    def __init__(self, scale: Scale) -> None:
        self.scale = scale
        self._task: Task | None = None
        self._signal = Signal(scale)
        self._device = DeviceWatch(scale)
        self._gross: Decimal | None = None
        self._settling = Settling(scale)
        self._load = LoadWatch(scale)
        self._marks = Marks()
        self._zero = ZeroWatch(scale)
        self._gap = GapWatch(scale)
        self._jumps = JumpWatch(scale)
        self._pour = PourFollower(scale)
        self._stepping = StepWatch(float(scale.division_g))
        self._repeats = 0
        self._changed = True
        self._pan = self._seen()

    # what the world says

    def link(
        self, up: bool, reason: str = "", next_step: str = "", device: Device | None = None
    ) -> None:
        """The port opened, and `device` is behind it, or was lost."""
        self._signal.link(up, reason, next_step)
        if not up:
            self._interrupt()
        self._device.attached(device)
        self._touch()

    def known(self, scale: Scale, device: Device) -> None:
        """The scale of this name and its device, as the record says."""
        if self._device.expect(scale, device):
            self._touch()

    def babble(self, sample: str) -> None:
        """Bytes came that are no frame; cleared by the next reading."""
        self._signal.babble(sample)
        self._touch()

    def task(self, task: Task | None) -> None:
        """What the batch expects here from now on; another weighing forgets the last one's key,
        jump, lift and gap."""
        if task == self._task:
            return
        self._pour.task(task)
        old, self._task = self._task, task
        self._touch()
        if old and task and task.pour == old.pour:
            return
        self._load.key.void()
        self._load.lift = self._load.missed_g = None
        self._jumps.forget()
        if old is not None:  # the first task after a start still has its question
            self._gap.explain()

    def key(self) -> None:
        """The key of a line that wants one before the lift, pressed while settled in the limits."""
        self._load.press()
        self._touch()

    def lag(self, window_s: float) -> None:
        """How late the scale is, as the record says."""
        if window_s != self._pour.window_s:
            self._pour.lag(window_s)
            self._touch()

    def lag_told(self) -> None:
        """What the steps tell is recorded: others count from now on."""
        self._stepping.steps.clear()
        self._touch()

    def explain_jump(self) -> None:
        """A person says that what was set down belongs in; it must settle again."""
        self._jumps.explain(self._signal.now_s)
        self._settling.unsettle()
        self._touch()

    def explain_gap(self) -> None:
        """A person says that nothing was done to the pan while readings were missing."""
        self._gap.explain()
        self._touch()

    def poured_recorded(self) -> None:
        """What was poured into another vessel than the weighing's is on record so far."""
        self._load.recorded_g = self._load.held.gross_g if self._load.held else None
        self._touch()

    def explain_vessel(self) -> None:
        """A person says that this is the vessel of the weighing, whatever it weighs like."""
        self._load.placed_g = self._load.recorded_g = None
        self._gap.explain()
        self._touch()

    def resume(self, tipped_line: str | None, weighing: bool, seen_g: Decimal | None) -> None:
        """The station starts anew: what stood on the pan when it stopped may still be there, and
        what was done to it meanwhile nobody saw. `seen_g`: the gross last recorded there."""
        self._marks.tipped_line = tipped_line
        self._gap.resume(weighing, seen_g)
        self._touch()

    def undershot_handled(self) -> None:
        """What hangs on the pan's zero is reopened; the pan stays blocked until it is well."""
        self._zero.handled()
        self._touch()

    def lift_handled(self) -> None:
        """The decision about the last lift is recorded."""
        self._load.lift = self._load.missed_g = None
        self._touch()

    def counted(self) -> None:
        """The load on the pan was counted; from now on it is watched whether it leaves."""
        self._marks.counted = True
        self._touch()

    def tipped(self, line: str) -> None:
        """The vessel of a line was just tipped; if one is on the pan, it is that one."""
        if self._something_on:
            self._marks.tipped_line = line
            self._touch()

    def parked(self) -> None:
        """The batch leaves the bench: what stays on the pan is no vessel and no load of another."""
        if self._something_on:
            self._marks.parked()
            self._touch()

    def tick(self, now_s: float) -> None:
        """Time passes: silence is noticed only so."""
        before = self._signal.stale
        self._signal.clock(now_s)
        stale = self._signal.stale
        if stale:
            self._settling.unsettle()
        if self._settling.expire(now_s) or stale is not before:
            self._touch()

    def observe(self, reading: Reading) -> None:
        """Take in one reading."""
        if reading.kind is Kind.TARE:
            return
        signal = self._signal
        followed = signal.on_time(reading)
        if followed is None:
            self._touch()
            return
        if not followed:
            self._interrupt()
            self._device.anew()
            self._touch()
        if not signal.repeats(reading):
            self._repeats = 0
        signal.take(reading)
        if self._repeats >= _SETTLES_IN and self._again(reading.time_s):
            return
        self._repeats += 1
        self._changed = True
        self._read(reading)

    # how it is seen

    def view(self) -> Pan:
        """What is seen now; the same object while nothing changed."""
        pan, signal = self._pan, self._signal
        timely = pan.age_s == signal.age_s and pan.period_s == signal.period_shown_s
        if self._changed or not timely:
            self._changed = False
            seen = self._seen()
            if seen != pan:
                self._pan = seen
        return self._pan

    # inside

    def _touch(self) -> None:
        """Something but a reading changed: the next readings are looked at whole."""
        self._changed = True
        self._repeats = 0

    def _interrupt(self) -> None:
        """Readings are missing: no lift can be believed across them."""
        self._gap.begin(self._task, self._gross)
        self._load.forget()
        self._marks.unseen()
        self._settling.unsettle()
        self._pour.forget()
        self._stepping.forget()

    @property
    def _something_on(self) -> bool:
        return self._gross is not None and self._gross > self.scale.near_g

    def _read(self, reading: Reading) -> None:
        """What one reading says, and what follows from it."""
        gross = self._signal.read(reading)
        if gross is not None and reading.value is not None:
            shows = self._device.take(reading.value, gross)
            if self._device.other:
                gross = None
            elif not shows:  # one such reading is a garbled frame, and no weight
                self._settling.unsettle()
                return
        if gross is None:  # a weight that cannot be read is a gap in the weights
            self._interrupt()
            self._gross = None
            return
        self._gross = gross
        self._settling.take(reading, gross)
        self._follow(reading.time_s, gross)

    def _again(self, now_s: float) -> bool:
        """The same reading as often before: whether nothing but the time is new."""
        if not self._device.quiet:
            return False
        if self._gross is None:
            return True
        if self._settling.now is None:
            return False
        self._settling.again(now_s)
        if self._settling.now is not None and self._pour.stands(now_s):
            self._load.again(now_s)
            self._changed |= self._stepping.again(now_s)
        else:
            self._changed = True
            self._follow(now_s, self._gross)
        return True

    def _follow(self, now_s: float, gross: Decimal) -> None:
        """Follow the load on the pan: filled, stepped, jumped, seated, lifted."""
        settling, settled = self._settling, self._settling.now
        self._pour.take(now_s, gross, self._signal.period_s, settled)
        self._stepping.take(now_s, float(gross))
        if gross <= self.scale.near_g:
            self._marks.left()
            self._jumps.unseat()
        self._jumps.follow(self._task, gross, now_s, settling)
        self._load.follow(gross, now_s, settling, self._task, self._jumps.jump is not None)
        if settled is not None:
            self._zero.settled(gross, self._task)
            self._gap.settled(gross)

    def _troubles(self) -> tuple[Trouble, ...]:
        silence = self._signal.silence()
        if silence is not None:
            return (silence,)
        settled_g = self._settling.now.gross_g if self._settling.now else None
        found = (
            self._signal.clock_trouble(),
            self._signal.reported(),
            self._device.trouble,
            self._zero.zeroed(self._signal.tared),
            None if settled_g is None else self._gap.trouble(self._task, settled_g),
            self._signal.unit_trouble(),
            self._zero.wandered(settled_g, self._task),
        )
        told = tuple(trouble for trouble in found if trouble is not None)
        if not told and settled_g is None and (moving := self._gap.moving()) is not None:
            return (moving,)
        return told

    def _seen(self) -> Pan:
        signal, load, gap, settled = self._signal, self._load, self._gap, self._settling.now
        silent = signal.down or signal.stale
        return Pan(
            scale=self.scale,
            gross_g=None if silent else self._gross,
            settled=settled,
            held=None if load.state is State.GONE else load.held,
            troubles=self._troubles(),
            empty=settled is not None and abs(settled.gross_g) <= self.scale.near_g,
            keyed=load.key.pressed,
            jump=self._jumps.jump,
            lift=load.lift,
            missed_g=load.missed_g,
            placed_g=load.placed_g,
            recorded_g=load.recorded_g,
            falling=load.state in (State.FALLING, State.GONE),
            resumed=gap.resumed,
            gap_from_g=gap.from_g,
            gap_broken=gap.broken,
            short_g=self._zero.short_g,
            age_s=signal.age_s,
            stayed_on=self._marks.counted,
            tipped_line=self._marks.tipped_line,
            foreign=self._marks.foreign,
            advice=None if silent else self._pour.advice,
            poured=self._pour.poured,
            steps=tuple(self._stepping.steps),
            period_s=signal.period_shown_s,
            window_s=self._pour.window_s,
            device=self._device.answers,
        )
