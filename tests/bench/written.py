"""What a decision writes, in bytes: `python tests/bench/written.py [LEDGER] [--decisions N]`.

Whole batches are recorded as the daemon's ledger thread does it, on a disk that remembers every
write (`tests/torture/disk.c`, so that a C compiler is needed): to a new ledger, or to a copy of one
that `years.py` made. The opening before the first decision does not count; one closing and opening
half way does.
"""

import argparse
import json
import sys
import tempfile
from collections import Counter
from itertools import pairwise
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.torture.disk import Op
from tests.torture.power_cut import NAME, decisions, remember

WHAT = {
    f"{NAME}-wal": "log",
    NAME: "file",
    f"{NAME}.head": "mark",
    f"{NAME}.state.new": "checkpoint",
}


def figures(ops: list[Op], count: int) -> dict[str, Any]:
    """Bytes a decision by the file that they went to, and its syncs."""
    marks = [place for place, op in enumerate(ops) if op.kind == "A"]
    done = ops[marks[0] : marks[-1] + 1]
    written: Counter[str] = Counter()
    for op in done:
        if op.kind == "w":
            written[WHAT.get(Path(op.path).name, "other")] += len(op.data)
    logs = sorted(
        sum(len(op.data) for op in ops[a:b] if op.kind == "w" and op.path.endswith("-wal"))
        for a, b in pairwise(marks)
    )
    return {
        "decisions": count,
        "bytes_a_decision": {name: round(size / count) for name, size in written.most_common()},
        "all": round(sum(written.values()) / count),
        "log_median": logs[len(logs) // 2],
        "log_most": logs[-1],
        "syncs_a_decision": round(sum(op.kind == "s" for op in done) / count, 2),
    }


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("ledger", type=Path, nargs="?")
    options.add_argument("--decisions", type=int, default=300)
    asked = options.parse_args()
    events = sum(len(part) for _, part, _ in decisions(asked.decisions))
    with tempfile.TemporaryDirectory() as name:
        ops = remember(Path(name), asked.decisions, ledger=asked.ledger)
    found = figures(ops, asked.decisions)
    print(json.dumps({**found, "events_a_decision": round(events / asked.decisions, 2)}, indent=1))


if __name__ == "__main__":
    main()
