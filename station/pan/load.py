"""What stands on the pan and what became of it, as a state machine.

    state    what the pan shows                           then
    -------  -------------------------------------------  ------------------------------------------
    EMPTY    settled within 3 d of zero                   EMPTY    that is the empty pan
             settled above                                SEATED   placed at that weight
    SEATED   settled, not empty                           SEATED   that is held from now on
             settled lower, under the vessel's weight     SEATED   a lift not to be believed
             unsettled, lower by a fiftieth               FALLING
             within 3 d of zero or less                   GONE
    FALLING  unsettled, up again                          SEATED
             settled, not empty                           SEATED   as above
             within 3 d of zero or less                   GONE
    GONE     settled within 3 d of zero                   EMPTY    a lift
             settled above                                SEATED   a lift not to be believed
             settled below                                EMPTY    a lift not to be believed
    any      readings missing                             EMPTY    no lift follows

A lift is only told here. Whether it accepts anything is decided elsewhere.
"""

from decimal import Decimal
from enum import Enum, auto

from station.metrology.scale import Scale
from station.pan.key import KeyWatch
from station.pan.leaving import more_than_held
from station.pan.settle import Settling
from station.pan.view import Lift, Settled, Task

LIFT_WITHIN_S = 1.0
"""What was settled counts for a lift if the pan was unsettled for at most so long before the fall:
after that more may have been poured."""
TOUCHES = 3
"""So many readings in a row make a thing that was there; fewer are a hand that touched the pan."""
FALLS_BY = 50
"""A weight is falling when it is lower by this part of what is held, and by 3 d: creep is not."""


class State(Enum):
    EMPTY = auto()
    SEATED = auto()
    FALLING = auto()
    GONE = auto()


class LoadWatch:
    """Follows the load of one pan. `held` is what last settled there; `placed_g` the gross at which
    it first did, None once a person named it; `recorded_g` the gross up to which what was poured
    into it since is on record, though it is not the vessel of the weighing; `lift` waits until it
    is handled; `missed_g` is the most of what was there and gone before it ever settled."""

    def __init__(self, scale: Scale) -> None:
        self._near_g, self._division_g = scale.near_g, scale.division_g
        self.state = State.EMPTY
        self.held: Settled | None = None
        self._held_s = 0.0  # when it was last settled so
        self._up_s = 0.0  # when it was last seen there unsettled
        self._last_g: Decimal | None = None
        self._empty_g = Decimal(0)
        self.placed_g: Decimal | None = None
        self.recorded_g: Decimal | None = None
        self.lift: Lift | None = None
        self.missed_g: Decimal | None = None
        self._passing: list[Decimal] = []
        self.key = KeyWatch(scale)

    def press(self) -> None:
        """The key is pressed for what is held."""
        self.key.press(None if self.held is None else self.held.gross_g)

    def forget(self) -> None:
        """Nothing is held: it left, or readings are missing and nobody saw what became of it."""
        self.state = State.EMPTY
        self.held = self._last_g = self.placed_g = self.recorded_g = None
        self._passing.clear()
        self.key.void()

    def again(self, now_s: float) -> None:
        """The same settled weight once more."""
        self._held_s = now_s

    def follow(
        self, gross_g: Decimal, now_s: float, settling: Settling, task: Task | None, jumped: bool
    ) -> None:
        """Take in one reading; `jumped`: something was set down that nobody has explained."""
        if gross_g <= self._near_g and self.held is not None and self.state is not State.GONE:
            self.state = State.GONE
            self._last_g = self._more_on_it(self.held, now_s, settling, task)
        settled = settling.now
        if settled is None:
            self._moves(gross_g, now_s)
        elif gross_g > self._near_g:
            self._stands(settled, now_s, task)
        elif gross_g >= -self._near_g:
            self._is_empty(gross_g, jumped)
        else:
            self._is_under()

    def _moves(self, gross_g: Decimal, now_s: float) -> None:
        if self.held is None:
            if gross_g > self._near_g:
                self._passing.append(gross_g)
            return
        if gross_g >= self.held.gross_g - self._deep(self.held):
            self._up_s = now_s
            if self.state is State.FALLING:
                self.state = State.SEATED
            if now_s - self._held_s > LIFT_WITHIN_S:  # no lift would be believed: say so in time
                self.key.void()
        elif self.state is State.SEATED:
            self.state = State.FALLING
        self.key.moves(gross_g, now_s)

    def _stands(self, settled: Settled, now_s: float, task: Task | None) -> None:
        gross = settled.gross_g
        if self.state is State.GONE and self.held is not None:
            # it is back, or another vessel is here, and the pan was never seen empty between
            self.lift = self._unbelieved(self.held)
            self.forget()
        if self.held is None:
            self.placed_g = self.recorded_g = gross
        elif self._is_another(self.held, gross, task):
            self.lift = self._unbelieved(self.held)
            self.placed_g = self.recorded_g = gross
        self.state, self.held = State.SEATED, settled
        self._passing.clear()
        self._held_s = now_s
        self.key.settles(gross, task)

    def _is_empty(self, gross_g: Decimal, jumped: bool) -> None:
        if self.held is None:
            self._empty_g = gross_g
            if len(self._passing) >= TOUCHES:
                self.missed_g = max(self._passing)
        else:
            at_once = self._up_s - self._held_s <= LIFT_WITHIN_S
            stayed = max(gross_g - self._empty_g, Decimal(0))  # spilt, and not in the vessel
            pressed = self.key.pressed
            self.lift = Lift(
                self.held,
                at_once,
                stayed,
                pressed,
                jumped,
                self._last_g,
                self.placed_g,
                self.recorded_g,
            )
        self.forget()

    def _is_under(self) -> None:
        """The zero moved under the load: what was held is not what was lifted. A zeroing after this
        would otherwise look like the end of an ordinary lift."""
        if self.held is not None:
            self.lift = self._unbelieved(self.held)
            self.forget()

    def _unbelieved(self, held: Settled) -> Lift:
        """A lift that accepts nothing, whatever was shown before it."""
        return Lift(
            held, False, Decimal(0), False, False, self._last_g, self.placed_g, self.recorded_g
        )

    def _is_another(self, held: Settled, gross_g: Decimal, task: Task | None) -> bool:
        """Less than the empty vessel weighs: it was lifted, and something else stands here. What
        never weighed more is no new thing."""
        if task is None or task.tare_g is None or gross_g >= task.tare_g - self._near_g:
            return False
        return gross_g < held.gross_g - self._deep(held)

    def _deep(self, held: Settled) -> Decimal:
        return max(self._near_g, held.gross_g / FALLS_BY)

    def _more_on_it(
        self, held: Settled, now_s: float, settling: Settling, task: Task | None
    ) -> Decimal | None:
        """What was on the pan just before it fell, where that was more than what is held."""
        tare_g = task.tare_g if task else None
        filled = tare_g is not None and held.gross_g - tare_g > self._near_g
        readings = settling.since(self._held_s)
        return more_than_held(held.gross_g, readings, now_s, self._division_g, filled)
