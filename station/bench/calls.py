"""Calls to the station in the order in which they were pressed, and what answers a refusal."""

import asyncio
import time
from collections.abc import Callable

import msgspec

from station.bench.connection import Connection
from station.client import ClientError
from station.wire import Offer

ASKED_S = 10.0
"""So long a refusal that is a question can be answered."""
_OF_BENCH = ("open", "who", "take-up")
"""Calls that are about no batch at the bench."""


class Calls:
    """`make` a call; its answer goes to `say`, a refusal to `refused`."""

    def __init__(
        self,
        connection: Connection,
        say: Callable[[str], None],
        refused: Callable[[ClientError], None],
    ) -> None:
        self._connection = connection
        self._say = say
        self._refused = refused
        self._again: tuple[Offer, ...] = ()
        self._again_until_s = 0.0
        self._tasks: set[asyncio.Task[None]] = set()

    def make(self, call: Offer, batch: str | None) -> None:
        """Call the station; `batch`: the one on the screen, for that is what was meant."""
        params = dict(call.params)
        if call.verb not in _OF_BENCH:
            params["batch"] = batch
        task = asyncio.get_running_loop().create_task(self._call(call.verb, params))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    def asked_again(self, now_s: float) -> tuple[Offer, ...]:
        """What answers the last refusal, as long as that stands on the screen."""
        return self._again if now_s < self._again_until_s else ()

    def forget(self) -> None:
        """What was asked is over."""
        self._again_until_s = 0.0

    async def _call(self, verb: str, params: dict[str, object]) -> None:
        try:
            result = await self._connection.call(verb, params)
        except ClientError as error:
            if error.offers:
                self._again = tuple(msgspec.convert(offer, Offer) for offer in error.offers)
                self._again_until_s = time.monotonic() + ASKED_S
            self._refused(error)
            return
        self._again_until_s = 0.0
        self._say(str(result.get("answer", "")))
