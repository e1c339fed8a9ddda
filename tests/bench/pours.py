"""Thousands of simulated pours, to judge the pour watch beside what else could be done.

    python tests/bench/pours.py [--grid FILE] [--pours N] [--json]

A case is a scale and an ingredient. Half of its pours tune each method's margin, so that 99 % of
them end at or under the upper limit; the other half judge it. Every method sees the very same
readings until what it says changes the pour. `station` is the code that the daemon runs, and
`shipped` the same with the margin that the daemon keeps, tuned on none of these pours.
"""

import argparse
import json
import math
import os
import random
import sys
import tomllib
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from statistics import mean
from time import perf_counter
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from pouring import Case, Pouring, Tapering

from station.pan.pour import AHEAD_S, MARGIN, REACTION_S, PourWatch

GRID = Path(__file__).with_suffix(".toml")
SAFE = 0.99
NEVER = -math.inf
TAPERING = 0.2
"""Well-behaved pours beside the judged ones, as a share of them."""
CHUNK = 25
Advise = Callable[[Pouring, float], tuple[str, float]]
"""A method: (pour, reading) -> (word, margins left); only an oracle looks at the pour itself."""


# the methods


def naive(case: Case, margin: float) -> Advise:
    """Stop when the digits reach the limit less a margin, in grams."""

    def advise(pour: Pouring, reading: float) -> tuple[str, float]:
        spare = case.limit - reading
        return "stop" if spare <= margin else "pour", spare

    return advise


def line(case: Case, margin: float) -> Advise:
    """A straight line through the digits of the last half second, drawn on to the reaction."""
    seen: list[tuple[float, float]] = []

    def advise(pour: Pouring, reading: float) -> tuple[str, float]:
        seen.append((pour.time_s, reading))
        last = [point for point in seen[-30:] if point[0] > pour.time_s - 0.5] or seen[-1:]
        last = last if len(last) > 2 else seen[-3:]
        t, m = (mean(values) for values in zip(*last, strict=True))
        across = sum((x - t) ** 2 for x, _ in last)
        slope = sum((x - t) * (y - m) for x, y in last) / across if across else 0.0
        final = m + slope * (pour.time_s - t + REACTION_S)
        return _word(case, final, max(slope, 0.0), margin)

    return advise


def watch(case: Case, margin: float, two_cues: bool) -> Advise:
    """The station's own."""
    ours = PourWatch(
        case.limit,
        case.target,
        case.division,
        case.believed,
        case.interval,
        margin=margin,
        two_cues=two_cues,
    )

    def advise(pour: Pouring, reading: float) -> tuple[str, float]:
        advice = ours.advise(pour.time_s, reading)
        return advice.word, ours.spare

    return advise


def oracle(case: Case, margin: float, two_cues: bool) -> Advise:
    """Knows the true mass and the flow, and the same reaction time."""

    def advise(pour: Pouring, reading: float) -> tuple[str, float]:
        flow = pour.flow_now_g_s
        final = pour.mass_g + flow * REACTION_S
        word, spare = _word(case, final, flow, margin)
        near = case.limit - pour.mass_g <= AHEAD_S * flow
        return ("slower" if word == "pour" and two_cues and near else word), spare

    return advise


def _word(case: Case, final: float, flow: float, margin: float) -> tuple[str, float]:
    spare = (case.limit - final) / (case.division / 2 + 0.1 * flow)
    return "stop" if spare <= margin else "pour", spare


METHODS: dict[str, Callable[[Case, float], Advise]] = {
    "naive": naive,
    "line": line,
    "station_one": lambda case, margin: watch(case, margin, two_cues=False),
    "station": lambda case, margin: watch(case, margin, two_cues=True),
    "oracle_one": lambda case, margin: oracle(case, margin, two_cues=False),
    "oracle": lambda case, margin: oracle(case, margin, two_cues=True),
}


# one pour


class Trace:
    """What a method said in a pour that never stopped: (time, margins left)."""

    def __init__(self) -> None:
        self.said: list[tuple[float, float]] = []

    def needed(self, pour: Pouring) -> float:
        """The margin with which the pour would have ended just at or under its limit."""
        reaction_s, needed, least = pour.hand.reaction_s["stop"], math.inf, math.inf
        for time_s, spare in self.said:
            if spare < least:
                least = spare
                if pour.mass_at(time_s + reaction_s) > pour.case.limit:
                    break
                needed = spare
        return needed


@dataclass(frozen=True)
class End:
    """How a stopped pour ended: the mass, and the time that obeying "slower" cost."""

    mass: float
    extra_s: float


def tune(case: Case, chance: random.Random) -> dict[str, float]:
    """The margin that each method needs in one pour."""
    found = {}
    waiting = {name: (make(case, NEVER), Trace()) for name, make in METHODS.items()}
    groups = [(Pouring(case, chance), waiting)]
    while groups:
        pour, methods = groups.pop()
        while methods and pour.mass_g <= case.limit:
            reading = pour.reading()
            for name, (advise, trace) in list(methods.items()):
                word, spare = advise(pour, reading)
                trace.said.append((pour.time_s, spare))
                if word == "slower" and not pour.slowed:
                    groups.append((pour.slower(), {name: methods.pop(name)}))
        if not methods:
            continue
        reaction_s = pour.hand.reaction_s["stop"]
        over_s = pour.time_s
        while pour.time_s < over_s + reaction_s:
            pour.step()
        for name, (_, trace) in methods.items():
            found[name] = trace.needed(pour)
    return found


def judge(case: Case, chance: random.Random, margins: dict[str, float]) -> dict[str, End]:
    """How one pour ends by each method, with its margin."""
    found: dict[str, End] = {}
    base = Pouring(case, chance)
    unslowed = base.fork()
    groups = [(base, {name: METHODS[_code(name)](case, k) for name, k in margins.items()})]
    while groups:
        pour, methods = groups.pop()
        while methods:
            reading = pour.reading()
            for name, advise in list(methods.items()):
                word, _ = advise(pour, reading)
                if word == "stop" or pour.mass_g > 2 * case.limit:
                    del methods[name]
                    mass, time_s = pour.stopped()
                    while unslowed.mass_g < mass:
                        unslowed.step()
                    found[name] = End(mass, time_s - unslowed.time_of(mass))
                elif word == "slower" and not pour.slowed:
                    groups.append((pour.slower(), {name: methods.pop(name)}))
    return found


def needless(case: Case, chance: random.Random, margins: dict[str, float]) -> dict[str, bool]:
    """Which methods say "stop" in a pour that would have ended well by itself."""
    pour = Tapering(case, chance)
    methods = {name: METHODS[_code(name)](case, k) for name, k in margins.items()}
    said = dict.fromkeys(methods, False)
    while not pour.done:
        reading = pour.reading()
        for name, advise in methods.items():
            said[name] = said[name] or advise(pour, reading)[0] == "stop"
    if pour.mass_g > case.limit:
        return {}
    return said


def _code(name: str) -> str:
    return "station" if name == "shipped" else name


# many pours


def _chance(case: Case, kind: str, number: int) -> random.Random:
    return random.Random(f"{case.grid['seed']}/{case.name}/{kind}/{number}")


def _tune_chunk(task: tuple[Case, range]) -> list[dict[str, float]]:
    case, numbers = task
    return [tune(case, _chance(case, "tune", n)) for n in numbers]


def _judge_chunk(task: tuple[Case, range, dict[str, float]]) -> list[dict[str, End]]:
    case, numbers, margins = task
    return [judge(case, _chance(case, "judge", n), margins) for n in numbers]


def _needless_chunk(task: tuple[Case, range, dict[str, float]]) -> list[dict[str, bool]]:
    case, numbers, margins = task
    return [needless(case, _chance(case, "taper", n), margins) for n in numbers]


def run(cases: list[Case], count: int, workers: int) -> Iterable[dict[str, Any]]:
    """The figures of every case, one after the other."""
    half = max(count // 2, 1)
    with ProcessPoolExecutor(workers) as pool:
        for case in cases:
            chunks = [range(n, min(n + CHUNK, half)) for n in range(0, half, CHUNK)]
            tuned = [m for part in pool.map(_tune_chunk, [(case, c) for c in chunks]) for m in part]
            margins = {name: _quantile([m[name] for m in tuned]) for name in METHODS}
            margins["shipped"] = MARGIN
            tasks = [(case, chunk, margins) for chunk in chunks]
            ends = [end for part in pool.map(_judge_chunk, tasks) for end in part]
            few = max(round(half * TAPERING), 1)
            chunks = [range(n, min(n + CHUNK, few)) for n in range(0, few, CHUNK)]
            tasks = [(case, chunk, margins) for chunk in chunks]
            cries = [cry for part in pool.map(_needless_chunk, tasks) for cry in part if cry]
            told = {name: figures(case, name, ends, cries) for name in margins}
            shipped = told.pop("shipped")
            yield {"name": case.name, "methods": told, "shipped": shipped, "margins": margins}


def _quantile(needed: list[float]) -> float:
    """The margin with which so many of the pours end at or under the limit."""
    return sorted(needed)[min(math.ceil(SAFE * len(needed)) - 1, len(needed) - 1)]


def figures(
    case: Case, name: str, ends: list[dict[str, End]], cries: list[dict[str, bool]]
) -> dict[str, float]:
    mine = [end[name] for end in ends]
    return {
        "safe": mean(end.mass <= case.limit for end in mine),
        "shortfall_g": mean(max(case.limit - end.mass, 0.0) for end in mine),
        "in_band": mean(case.lower <= end.mass <= case.limit for end in mine),
        "needless": mean(cry[name] for cry in cries) if cries else math.nan,
        "seconds": mean(end.extra_s for end in mine),
    }


def read_grid(path: Path) -> list[Case]:
    """The cases of a grid file, each with each window."""
    grid = tomllib.loads(path.read_text(encoding="utf-8"))
    cases = []
    for table in grid.pop("case"):
        target, band, division = table["target"], table["band"], table["division"]
        for window in table.get("windows_s", grid["windows_s"]):
            cases.append(
                Case(
                    name=f"{table['name']}, window {window} s",
                    target=target,
                    lower=math.ceil(target * (1 - band) / division - 1e-9) * division,
                    limit=math.floor(target * (1 + band) / division + 1e-9) * division,
                    division=division,
                    window=window,
                    interval=1 / table.get("print_hz", grid["print_hz"]),
                    believed=window * table.get("believed", 1.0),
                    flow=tuple(table["flow"]),
                    grid={**grid, **table},
                )
            )
    return cases


def show(case: dict[str, Any]) -> None:
    print(f"\n{case['name']}")
    print(f"  {'':<12}{'safe':>8}{'shortfall':>11}{'in band':>9}{'needless':>10}{'extra s':>9}")
    for name, row in {**case["methods"], "shipped": case["shipped"]}.items():
        print(
            f"  {name:<12}{row['safe']:>8.1%}{row['shortfall_g']:>9.2f} g{row['in_band']:>9.1%}"
            f"{row['needless']:>10.1%}{row['seconds']:>9.1f}   margin {case['margins'][name]:.2f}"
        )
    ours, best = case["methods"], case["methods"]
    for one, other in (("station_one", "oracle_one"), ("station", "oracle")):
        ratio = ours[one]["shortfall_g"] / max(best[other]["shortfall_g"], 1e-9)
        print(f"  {one} falls {ratio:.2f} times as short as {other}", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--grid", type=Path, default=GRID, help="cases and seed, a TOML file")
    parser.add_argument("--pours", type=int, help="pours a case, half of them to tune")
    parser.add_argument("--json", action="store_true", help="print JSON")
    told = parser.parse_args()
    cases = read_grid(told.grid)
    count = told.pours or cases[0].grid["pours"]
    if count < 2:
        parser.error("at least 2 pours: one to tune, one to judge")
    began, found = perf_counter(), []
    for case in run(cases, count, os.cpu_count() or 1):
        found.append(case)
        if not told.json:
            show(case)
    if told.json:
        print(json.dumps({"cases": found}, indent=1))
    else:
        print(f"\n{count} pours a case, {perf_counter() - began:.0f} s")


if __name__ == "__main__":
    main()
