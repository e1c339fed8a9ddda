"""Figures as text for a monitoring system, by the OpenMetrics specification 1.0.

Written here and not by prometheus-client: importing that takes 80 ms and more (measured), half of
it for the HTTP server that it brings and the station must not have.
"""

from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

Labels = tuple[tuple[str, str], ...]
Sample = tuple[str, Labels, float]
"""What is put behind the family's name, the labels, the value."""


@dataclass(frozen=True, slots=True)
class Family:
    """One figure in all its samples. `kind`: counter, gauge or histogram; `unit`: the last part of
    the name, or none."""

    name: str
    kind: str
    help: str
    samples: Sequence[Sample]
    unit: str = ""


class Histogram:
    """How many values were at most as large as each of some edges."""

    def __init__(self, edges: Sequence[float]) -> None:
        self._edges = tuple(edges)
        self._counts = [0] * (len(self._edges) + 1)
        self._sum = 0.0

    def take(self, value: float) -> None:
        """One value more."""
        self._counts[bisect_left(self._edges, value)] += 1
        self._sum += value

    def samples(self) -> list[Sample]:
        """Its buckets, each with all below it; count and sum."""
        found: list[Sample] = []
        below = 0
        for edge, count in zip((*map(_number, self._edges), "+Inf"), self._counts, strict=True):
            below += count
            found.append(("_bucket", (("le", edge),), below))
        return [*found, ("_count", (), below), ("_sum", (), self._sum)]


def gauge(name: str, says: str, value: float, unit: str = "") -> Family:
    """A figure that is so now."""
    return Family(name, "gauge", says, [("", (), value)], unit)


def counter(name: str, says: str, label: str, counts: Mapping[str, int]) -> Family:
    """What was counted since the start, by one label."""
    samples = [("_total", ((label, key),), float(count)) for key, count in sorted(counts.items())]
    return Family(name, "counter", says, samples)


def text(families: Iterable[Family]) -> str:
    """All of them, and the mark of the end."""
    lines = []
    for family in families:
        lines.append(f"# TYPE {family.name} {family.kind}")
        if family.unit:
            lines.append(f"# UNIT {family.name} {family.unit}")
        lines.append(f"# HELP {family.name} {_escaped(family.help)}")
        for suffix, labels, value in family.samples:
            told = ",".join(f'{key}="{_escaped(text)}"' for key, text in labels)
            lines.append(
                f"{family.name}{suffix}{f'{{{told}}}' if told else ''} {_number(float(value))}"
            )
    return "\n".join([*lines, "# EOF"]) + "\n"


def _number(value: float) -> str:
    return repr(float(value))


def _escaped(said: str) -> str:
    return said.replace("\\", "\\\\").replace("\n", "\\n").replace('"', '\\"')
