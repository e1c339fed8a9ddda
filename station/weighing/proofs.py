"""What would settle a doubt about a line, as calls: who else saw it, its jar, a review."""

from station.batch.line import Line
from station.batch.state import Batch
from station.weighing.commands import WHY, Offer
from station.weighing.offering import more_went_in, said_by, saw_it_go_in
from station.weighing.people import others
from station.weighing.sight import Sight


def proofs(sight: Sight, batch: Batch) -> list[Offer]:
    """What settles where a limited line went, which strength is right, or says that more is in."""
    found: list[Offer] = []
    for line, _ in sight.facts.by_word:
        found += saw_it_go_in(batch, line)
    for line in batch.lines.values():
        found += [*_jars(sight, batch, line), *_seconds(batch, line)]
        if any(load.tipped for load in line.loads):
            found.append(more_went_in(line.name))
    return found


def _jars(sight: Sight, batch: Batch, line: Line) -> list[Offer]:
    """Every scale on which the jar of a limited line may stand."""
    if not batch.limited(line.name) or (line.loads and not line.in_doubt):
        return []
    busy = {ln.tare.scale for ln in sight.facts.under_way if ln.tare}
    return [
        Offer("jar", {"line": line.name, "scale": name}, danger=True,
              means=f"{line.name}: its jar is on {name}")
        for name, pan in sight.pans.items()
        if pan.loaded and not pan.troubles and name not in busy
    ]  # fmt: skip


def _seconds(batch: Batch, line: Line) -> list[Offer]:
    """Who else may have seen where it went, or have read its bag again."""
    told_twice = [lot.lot for lot in line.lots.values() if lot.before]
    found = []
    for n in others(batch):
        if line.doubts:
            means = f"{line.name}: {n} saw where it went"
            found.append(said_by(n, "void", line, means, reason=WHY))
        for lot in told_twice:
            means = f"lot {lot} is as last told, {n} says so too"
            found.append(said_by(n, "review-lot", line, means, lot=lot, reason=WHY))
    return found
