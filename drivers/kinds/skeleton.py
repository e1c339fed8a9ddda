"""A kind of scale that does nothing: copy this file, give it a name, and fill it in.

The contract, in prose. A kind is found by the name of its module: `driver = "NAME"` in the scale's
TOML. It knows bytes and scales, and nothing of food; it imports nothing of `station`.

- Hand a figure on exactly as it was sent, as `Decimal`, with its unit; never a float that was
  computed with. Bad is not absent is not zero: what cannot be read is a `Fault` with its bytes;
  what the scale says of itself (overload, an error) is a `Reading` without a value and with a
  condition.
- Emit what arrives, when it arrives: no caching, no filling of gaps, no averaging.
- Time is the clock's monotonic time at which the last byte arrived.
- `run` never raises but when it is cancelled. A port that cannot be opened, or is lost, is told by
  `on_state`, once for each change, with what to do; then it is tried again for ever, with a pause.
- Never block the loop: open ports in a thread.
- An answer is never taken for the answer to a later question.
- Never tare a scale: the station keeps the tares.

Beside it goes a scale's file in `config/scales` and a capture in `tests/captures`, or a test with
the protocol's own server, as for `modbus`.
"""

import tomllib

from drivers.grammar import GrammarError
from drivers.grammar_file import LineSettings
from drivers.kinds import OnItems, OnState
from drivers.link import Clock, LinkState, PortSettings


class SkeletonKind:
    """What the scale's file says, checked."""

    def __init__(self, name: str, line: LineSettings) -> None:
        self.name = name
        self.line = line
        self.asked = False
        self.measures = "weight"
        self.orders: frozenset[str] = frozenset()

    def source(
        self, port: PortSettings, clock: Clock, on_items: OnItems, on_state: OnState
    ) -> "SkeletonSource":
        return SkeletonSource(port, clock, on_items, on_state)


def compile_kind(text: str, filename: str) -> SkeletonKind:
    """Raises `GrammarError`, with the file and what to do, for anything that is wrong in it."""
    data = tomllib.loads(text)
    if not isinstance(data.get("name"), str):
        raise GrammarError(f"{filename}: name: missing, expected the scale's name")
    return SkeletonKind(data["name"], LineSettings())


class SkeletonSource:
    """One port at work."""

    def __init__(
        self, port: PortSettings, clock: Clock, on_items: OnItems, on_state: OnState
    ) -> None:
        self._port = port
        self._clock = clock
        self._on_items = on_items
        self._on_state = on_state

    @property
    def hangs_s(self) -> float:
        return 0.0

    async def order(self, name: str) -> str | None:
        return f"it has no order {name}"

    async def run(self) -> None:
        self._on_state(LinkState(False, "this kind reads nothing yet", "fill in the skeleton"))
        while True:
            await self._clock.sleep(1)
