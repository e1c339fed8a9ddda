"""The vessels that stand: what is accepted and not in the mix yet."""

from dataclasses import dataclass
from decimal import Decimal

from station.batch.line import Line
from station.batch.state import Batch, Station


@dataclass(frozen=True, slots=True)
class Cup:
    """A vessel that stands, and all that is in it for one line: net sum, first tare, last gross."""

    line: Line
    vessel: str | None
    tare_g: Decimal
    gross_g: Decimal
    net_g: Decimal
    scale: str | None
    parked: str | None  # its batch, where that is not at the bench

    @property
    def content(self) -> str:
        """What is in it, for a sentence."""
        return f"{self.line.name} of {self.parked}" if self.parked else self.line.name


def standing_vessels(batch: Batch) -> list[Cup]:
    """The vessels in which something of a batch stands."""
    found = []
    for line in batch.lines.values():
        for vessel in dict.fromkeys(load.vessel for load in line.standing):
            loads = [load for load in line.standing if load.vessel == vessel]
            net = sum((load.net_g or Decimal(0) for load in loads), Decimal(0))
            found.append(
                Cup(
                    line,
                    vessel,
                    loads[0].tare_g,
                    loads[-1].gross_g,
                    net,
                    loads[-1].scale,
                    batch.id if batch.parked_at else None,
                )
            )
    return found


def left_open(batch: Batch) -> list[Cup]:
    """Weighings that were reopened while their batch was parked: what they hold stands all the
    same."""
    if batch.parked_at is None:
        return []
    found = []
    for line in batch.lines.values():
        tare = line.tare
        if tare is not None and not tare.onto:
            gross = line.lifted.gross_g if line.lifted else tare.tare_g
            net = gross - tare.tare_g
            found.append(Cup(line, tare.vessel, tare.tare_g, gross, net, tare.scale, batch.id))
    return found


def cups(station: Station) -> list[Cup]:
    """Every vessel that stands and whose weight is known, of the batch at the bench first; one
    whose figure was typed without naming a vessel cannot be told by its weight."""
    standing = [
        cup for batch in station.unfinished for cup in (*standing_vessels(batch), *left_open(batch))
    ]
    return [cup for cup in standing if cup.gross_g > 0]


def typed(station: Station) -> str | None:
    """What stands by a typed figure: no scale saw its vessel, which may weigh something else."""
    for batch in station.unfinished:
        for cup in standing_vessels(batch):
            if any(load.by_hand for load in cup.line.standing):
                return cup.content
    return None


def held_in(station: Station, vessel: str) -> str | None:
    """What stands in a vessel, or waits in it for another batch; None for a free one."""
    if (portion := station.portions.get(vessel)) is not None:
        return portion.content
    for batch in station.unfinished:
        for cup in (*standing_vessels(batch), *left_open(batch)):
            if cup.vessel == vessel:
                return cup.content
    return None
