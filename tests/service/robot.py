"""A hand that looks at the screen and does what it says, and nothing from memory but what it holds.

It survives the death of the daemon at any moment: whatever it was doing, it looks again.
"""

from collections import Counter
from decimal import Decimal
from typing import Any

from station.client import ClientError
from station.demo.stage import DemoError, Stage
from station.ledger.book import Recorded
from station.wire import Change, Event

CUPS = {
    "salt": ("cup 3", 131.2),
    "curing premix": ("cup 2", 98.45),
    "black pepper": ("cup 1", 86.9),
    "garlic": ("cup 1", 86.9),
    "ice": ("bowl", 340.0),
}
MEAT = {"pork shoulder": 6934.0, "pork belly": 4706.0}
TUB = 1200.0


class Robot:
    """`acknowledged` is what the station answered for: (method, line, batch)."""

    def __init__(self, stage: Stage) -> None:
        self._stage = stage
        self._cup: tuple[str, str] | None = None  # (scale, vessel) on a pan
        self._content: dict[str, float] = {}  # line -> grams poured into its vessel
        self._tub_empty = True
        self._meat_in: set[str] = set()  # lines whose meat it has tipped in
        self.acknowledged: list[tuple[str, str, str]] = []

    @property
    def holds(self) -> str:
        """What it believes, for a test that got stuck."""
        return f"on the pan {self._cup}, poured {self._content}, tub empty {self._tub_empty}"

    async def vessels(self) -> None:
        """Record every vessel once, before the killing starts."""
        for scale, vessel, grams in (
            ("fine", "cup 1", 86.9), ("fine", "cup 2", 98.45), ("fine", "cup 3", 131.2),
            ("bench", "tub 1", TUB), ("bench", "bowl", 340.0),
        ):  # fmt: skip
            self._put(scale, vessel, grams)
            await self._settled(scale)
            try:
                await self._say("vessel", name=vessel, scale=scale)
            except ClientError:  # a busy machine: it settled a moment ago, and moved again
                await self._stage.clock.sleep(2)
                await self._settled(scale)
                await self._say("vessel", name=vessel, scale=scale)
            self._take()
            await self._settled(scale)

    async def step(self) -> None:
        """Look, and do the next thing. Whatever fails because the daemon died is done again."""
        shown = self._stage.shown
        if not shown.word:
            await self._stage.clock.sleep(0.5)
            return
        try:
            await self._act(shown)
        except ClientError as error:
            if error.reason not in ("no-daemon", "gone") and not error.reason.startswith("blocked"):
                await self._stage.clock.sleep(0.5)
        except DemoError:
            pass  # what it waited for did not come: it looks again

    async def _act(self, shown: Change) -> None:
        line, phase = shown.line, shown.phase
        if not all(scale.settled for scale in shown.scales.values()):
            await self._stage.clock.sleep(0.2)
            return
        if phase in (None, "done"):
            self._take_all()
            self._content.clear()
            self._meat_in.clear()
            await self._settled("fine")
            await self._say("open", formula="garlic-ring", meat="12 kg", who="Ansel")
        elif line in MEAT:
            await self._meat(line, shown)
        elif shown.lots_wanted:
            await self._say("lot", line=line, lot="P-41", contains=["sodium nitrite=6.25 %"])
        elif shown.standing:
            await self._tip(shown.standing[0].line)
        elif shown.role == "step":
            await self._say("step", name=line, value="4 degC")
        elif line in CUPS:
            await self._add(line, shown)
        elif any(offer.verb == "close" for offer in shown.offers):
            self._take_all()
            await self._say("close", named=[])
        await self._stage.clock.sleep(0.2)

    async def _meat(self, line: str, shown: Change) -> None:
        if shown.asks and any(offer.verb == "use" for offer in shown.asks.answers):
            await self._say("use", vessel="tub 1")
            return
        counted = line in self._meat_in
        if self._cup is None and not counted and self._tub_empty:
            self._put("bench", "tub 1", TUB + MEAT[line])
            self._tub_empty = False
            await self._settled("bench")
            return
        if self._cup == ("bench", "tub 1") and not self._tub_empty:
            try:
                await self._say("accept", line=line)
            except ClientError as error:
                if error.reason == "tub-not-empty":  # nobody was there to see it empty: once more
                    await self._show_tub_empty()
                    return
                if error.reason != "same-load":  # it had been counted before the daemon died
                    raise
            self._meat_in.add(line)
            self._take()
            self._tub_empty = True
            await self._settled("bench")
            self._put("bench", "tub 1", TUB)
            await self._settled("bench")
            return
        if self._cup == ("bench", "tub 1"):
            self._take()
            await self._settled("bench")
            return
        await self._say("end", line=line)

    async def _show_tub_empty(self) -> None:
        """Take the tub off, show it empty, and have it in the hand, empty."""
        self._take()
        self._tub_empty = True
        await self._settled("bench")
        self._put("bench", "tub 1", TUB)
        await self._settled("bench")
        self._take()
        await self._settled("bench")

    async def _add(self, line: str, shown: Change) -> None:
        vessel, tare = CUPS[line]
        scale = shown.scale
        here = (scale, vessel)
        full = tare + self._content.get(line, 0.0)
        if self._cup is not None and self._cup != here:
            self._take()
            await self._settled(scale)
            return
        if self._cup is None:
            self._put(scale, vessel, full)
            await self._settled(scale)
            return
        if shown.asks and any(offer.verb == "accept" for offer in shown.asks.answers):
            await self._say("accept", line=line)
            return
        unseen = shown.asks and any(offer.verb == "void" for offer in shown.asks.answers)
        too_much = shown.upper_g and full - tare > float(shown.upper_g)  # by a screen held up
        if unseen or too_much:
            await self._begin_again(line, scale)
            return
        if shown.net_g is None and shown.scales[scale].tipped:
            self._take()
            await self._settled(scale)
            return
        if shown.net_g is None:
            return
        if shown.word == "IN BAND":
            if any(offer.key == "accept" for offer in shown.offers):
                await self._say("accept", line=line)
                return
            self._take()
            await self._settled(scale)
            return
        left = float(Decimal(shown.aim_g) - Decimal(shown.net_g))
        if left > 0.02 and shown.scales[scale].settled:
            self._content[line] = self._content.get(line, 0.0) + left
            self._stage.scales[scale].scale.pour(vessel, left, max(left / 4, 0.5))
            await self._stage.clock.sleep(4.5)
        await self._settled(scale)

    async def _begin_again(self, line: str, scale: str) -> None:
        """Pour the cup out, beside the mix and before a second person, and show it empty."""
        vessel, tare = CUPS[line]
        self._take()
        self._content.pop(line, None)
        await self._settled(scale)
        self._put(scale, vessel, tare)
        await self._settled(scale)
        await self._say("void", line=line, reason="poured while nothing was shown", second="Brida")

    async def _tip(self, line: str) -> None:
        vessel, tare = CUPS[line]
        scale = "bench" if line == "ice" else "fine"
        if self._cup == (scale, vessel) and self._content.get(line):
            self._take()
            await self._settled(scale)
        elif self._cup is not None and self._cup != (scale, vessel):
            self._take()
        if self._cup is None:
            self._content.pop(line, None)
            self._put(scale, vessel, tare + 0.1)
        await self._settled(scale)

    def _put(self, scale: str, vessel: str, grams: float) -> None:
        self._stage.scales[scale].scale.set_down(vessel, grams)
        self._cup = (scale, vessel)

    def _take(self) -> None:
        if self._cup is not None:
            scale, vessel = self._cup
            self._stage.scales[scale].scale.lift(vessel)
            self._cup = None

    def _take_all(self) -> None:
        self._take()
        self._tub_empty = True

    async def _settled(self, scale: str) -> None:
        await self._stage.clock.sleep(0.7)
        await self._stage.until(
            lambda shown: not shown.word or shown.scales[scale].settled, f"{scale} settles", 20
        )

    async def _say(self, method: str, **params: Any) -> None:
        batch = str(self._stage.shown.batch)
        await self._stage.say(method, **params)
        self.acknowledged.append((method, str(params.get("line")), batch))


def nothing_lost(records: list[Recorded], seen: dict[int, Event], robot: Robot) -> None:
    """What was shown, or answered to the robot, stands in the ledger as it was."""
    kept = {record.seq: record for record in records}
    for seq, event in seen.items():
        assert (kept[seq].kind, kept[seq].body, kept[seq].at) == (
            event.kind, event.body, event.at,
        )  # fmt: skip
    closed = sum(record.kind == "closed" for record in records)
    assert closed >= sum(method == "close" for method, _, _ in robot.acknowledged)
    ended = Counter((r.batch, r.body["name"]) for r in records if r.kind == "step-ended")
    for method, _, batch in robot.acknowledged:
        if method == "step":
            assert ended[batch, "knead until tacky"] == 1


def nothing_doubled(records: list[Recorded]) -> None:
    """Every line of every closed batch was weighed once and is in the mix once."""
    batches = [record.batch for record in records if record.kind == "closed"]
    assert batches
    for batch in batches:
        mine = [record for record in records if record.batch == batch]
        meat = Counter(r.body["line"] for r in mine if r.kind == "meat-weighed")
        assert meat == dict.fromkeys(MEAT, 1)
        for line in ("salt", "curing premix", "black pepper", "garlic", "ice"):
            accepted = sum(r.kind == "accepted" and r.body["line"] == line for r in mine)
            undone = sum(
                r.body["line"] == line
                for r in mine
                if r.kind == "reopened" or (r.kind == "voided" and Decimal(r.body["net_g"]))
            )
            tipped = sum(r.kind == "tipped" and r.body["line"] == line for r in mine)
            assert (accepted - undone, tipped) == (1, 1), (batch, line)
