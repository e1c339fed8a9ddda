"""What was on the pan in the moments before it fell: more than what had settled, or just a hand."""

from collections.abc import Sequence
from decimal import Decimal

LEAVING_S = 1.5
"""The moments before the fall."""
GRIP_S = 0.25
"""A hand that grips a cup leans on it for up to so long before it lifts (from memory: some 0.1 s to
close the grip and 0.2 s to take the load). What is there for longer was poured."""
GRAINS_D = 1
"""More divisions than that, in a filled vessel, are grains that nobody weighed."""
HANDLED_D = 12
"""More divisions than that, in an empty vessel: it is gripped and turned about before it is filled,
and asking each time what was in it would teach the hand to say no."""


def more_than_held(
    held_g: Decimal,
    readings: Sequence[tuple[float, Decimal]],
    now_s: float,
    division_g: Decimal,
    filled: bool,
) -> Decimal | None:
    """The gross just before the fall, grams, where it was more than `held_g` for longer than a
    hand's grip; else None.

    `readings` are (seconds, grams) since it was last settled, the newest first. The upper quartile
    of what was above tells how much: a short push does not move it, nor does the fall itself.
    """
    least = (GRAINS_D if filled else HANDLED_D) * division_g
    above = [
        (time_s, gross)
        for time_s, gross in readings
        if gross - held_g > least and time_s >= now_s - LEAVING_S
    ]
    if not above or above[0][0] - above[-1][0] <= GRIP_S:
        return None
    grosses = sorted(gross for _, gross in above)
    return grosses[len(grosses) * 3 // 4]
