"""Hands at the bench: they set down, pour, lift and press keys, and look at the screen for it."""

from contextlib import suppress
from decimal import Decimal

from station.client import ClientError
from station.demo.stage import DemoError, Stage

FAST_SHARE = 0.9
"""How much of an addition the hand pours before it looks again."""

REACTION_S, SLOWED = 0.3, 0.25
"""A hand that is told to pour slower drops to a quarter, so long after the word."""
LOOKS_S = 0.05
ACCEPTED_S = 10.0
"""A lift that is not accepted by then was not believed."""


class Hands:
    """One pair of hands; vessels are (name, empty weight in grams)."""

    def __init__(self, stage: Stage) -> None:
        self._stage = stage
        self.full: dict[str, float] = {}
        """What a vessel weighed when it was lifted full, to be set down again."""

    async def wait(self, seconds: float) -> None:
        await self._stage.clock.sleep(seconds)

    def set_down(self, scale: str, thing: str, grams: float) -> None:
        self._stage.scales[scale].scale.set_down(thing, grams)

    def lift(self, scale: str, thing: str) -> float:
        return self._stage.scales[scale].scale.lift(thing)

    async def pour(self, scale: str, thing: str, grams: float, flow_g_s: float) -> None:
        """Pour until `grams` are in (negative: take out), and wait until it has settled."""
        physics = self._stage.scales[scale].scale
        physics.pour(thing, grams, flow_g_s)
        while physics.pouring(thing):
            await self.wait(0.2)
        await self.settle(scale)

    async def heed(self, scale: str, thing: str, flow_g_s: float) -> None:
        """Pour as if without end, and obey SLOWER and STOP as they are shown; wait until it has
        settled."""
        physics, slowed = self._stage.scales[scale].scale, False
        physics.pour(thing, physics.kind.max_g, flow_g_s)
        while physics.pouring(thing):
            word = self._stage.shown.word
            if word == "SLOWER" and not slowed:
                slowed = True
                await self.wait(REACTION_S)
                physics.slow(thing, SLOWED)
            elif word not in ("POUR", "SLOWER"):
                await self.wait(REACTION_S)
                physics.stop(thing)
            await self.wait(LOOKS_S)
        await self.settle(scale)

    async def settle(self, scale: str) -> None:
        await self.wait(1.0)
        await self._stage.until(lambda shown: shown.scales[scale].settled, f"{scale} has settled")

    async def record(self, scale: str, vessel: str, grams: float) -> None:
        """Record an empty vessel."""
        self.set_down(scale, vessel, grams)
        await self.settle(scale)
        await self._stage.say("vessel", name=vessel, scale=scale)
        self.lift(scale, vessel)
        await self.settle(scale)

    async def meat(
        self, line: str, tub: str, empty_g: float, grams: float, *, short: bool = False
    ) -> None:
        """Weigh one tub of meat, bring the tub back empty, end the line; where the meat is `short`
        of the plan, read the question, and say that it is so."""
        await self._stage.until(lambda shown: shown.line == line, f"it is the turn of {line}")
        await self._stage.say("use", vessel=tub)
        self.set_down("bench", tub, empty_g + grams)
        await self.settle("bench")
        await self._stage.say("accept", line=line)
        self.lift("bench", tub)
        await self.settle("bench")
        self.set_down("bench", tub, empty_g)
        await self.settle("bench")
        await self.wait(1)  # it is seen empty, and that is recorded
        self.lift("bench", tub)
        await self.settle("bench")
        if short:
            await self.refused("end", line=line)
            await self._stage.read()
        await self._stage.say("end", line=line, sure=short)

    async def vessel(self, line: str, scale: str, thing: str, grams: float) -> None:
        """Set the line's vessel down, unless the last one became it at once; wait for its tare."""
        await self._stage.until(lambda shown: shown.line == line, f"it is the turn of {line}")
        if not self._stage.scales[scale].scale.holds(thing):
            self.set_down(scale, thing, grams)
        await self._stage.until(
            lambda shown: shown.line == line and shown.net_g is not None, f"{line} is tared"
        )

    async def fill(self, line: str, scale: str, thing: str, flow_g_s: float) -> None:
        """Pour most of it, look, then the rest to the aim."""
        for share in (FAST_SHARE, 1.0):
            shown = self._stage.shown
            left = float(Decimal(shown.aim_g or "0") - Decimal(shown.net_g or "0"))
            if left > 0 and shown.word in ("POUR", "SLOWER"):
                await self.pour(scale, thing, left * share, flow_g_s * (1 if share < 1 else 0.25))
        await self._stage.until(lambda shown: shown.word == "IN BAND", f"{line} is in band")

    async def lift_and_tip(
        self,
        line: str,
        scale: str,
        thing: str,
        tare_g: float,
        residue_g: float,
        *,
        key: bool = False,
        stays: bool = False,
    ) -> None:
        """Lift the vessel (after the key, where it wants one), tip it, show it empty; take it off
        unless it `stays` for the next line.

        A hand whose lift was not believed puts the vessel back and lifts it again.
        """
        for _ in range(3):
            if key:
                await self._stage.say("accept", line=line)
            full = self.lift(scale, thing)
            await self.settle(scale)
            if await self._accepted(line):
                break
            self.set_down(scale, thing, full)
            await self._stage.until(lambda shown: shown.word == "IN BAND", f"{line} is back")
        await self.wait(2)
        self.set_down(scale, thing, tare_g + residue_g)
        await self._stage.until(lambda shown: not shown.standing, f"{line} is in the mix")
        if stays:
            return
        await self.settle(scale)
        self.lift(scale, thing)
        await self.settle(scale)

    async def _accepted(self, line: str) -> bool:
        """Whether the line stands by now, or soon: it is shown once it is recorded."""
        with suppress(DemoError):
            await self._stage.until(
                lambda shown: any(cup.line == line for cup in shown.standing),
                f"{line} is accepted",
                ACCEPTED_S,
            )
            return True
        return False

    async def refused(self, method: str, **params: object) -> str:
        """Ask for what the station must refuse; its sentence."""
        try:
            await self._stage.say(method, **params)
        except ClientError as error:
            return error.sentence
        raise AssertionError(f"{method} {params} was not refused")
