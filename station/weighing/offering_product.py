"""Pieces and packs: what can be begun once all is in the mix, and what can be done while they are
counted."""

from decimal import Decimal
from typing import Any

from station.batch.leftovers import unused_g
from station.batch.line import MeatLine
from station.batch.state import Batch
from station.batch.tally import Tally
from station.metrology.scale import Scale
from station.units import plain
from station.weighing.commands import WHY, Form, Offer
from station.weighing.facts import Facts
from station.weighing.leftovers import usable
from station.weighing.sight import Sight

ROOM = 2
"""A scale is offered that takes so many times what they are to weigh."""
MOST_STRAYS = 5


def to_count(facts: Facts) -> list[Offer]:
    """To begin with each kind of piece and pack of the formula, and to weigh pieces again where it
    plans a loss; nothing before all is in."""
    if facts.why_not_filled is not None:
        return []
    batch = facts.open_batch()
    formula, found = batch.formula, []
    if formula.piece_g is not None and (scale := _scale(batch, formula.piece_g)):
        params: dict[str, Any] = {"name": "pieces", "scale": scale.name}
        found.append(Offer("pieces", params, means=f"count pieces on {scale.name}"))
        if batch.whole_pieces:
            params = {"name": "patties", "scale": scale.name, "odd": True}
            means = f"the odd end, as patties of any weight, on {scale.name}"
            found.append(Offer("pieces", params, means=means))
    for tally in batch.tallies_of("pieces") if formula.loss else ():
        params = {"name": tally.name, "scale": tally.scale}
        means = f"weigh the {tally.name} again: what they lost"
        found.append(Offer("dried", params, means=means))
    for pack in formula.packs:
        if scale := _scale(batch, pack.nominal_g):
            nominal = f"{plain(pack.nominal_g)} g"
            params = {"nominal": nominal, "scale": scale.name}
            params |= {"store": pack.store, "keeps": f"{pack.keeps_days} d"}
            means = f"packs of {nominal} for the {pack.store}, on {scale.name}"
            found.append(Offer("packs", params, means=means))
    return found


def to_keep(sight: Sight) -> list[Offer]:
    """To keep what stands on a scale as left over, once some of the mix is filled."""
    batch = sight.facts.open_batch()
    if not batch.filled or batch.tally is not None or unused_g(batch) <= 0:
        return []
    found = []
    for pan in sight.pans.values():
        if not pan.loaded or pan.settled is None or pan.troubles:
            continue
        for vessel in sight.facts.free:
            if vessel.division_g == pan.scale.division_g and vessel.empty_g < pan.settled.gross_g:
                params = {"scale": pan.scale.name, "vessel": vessel.name}
                means = f"what is in {vessel.name} on {pan.scale.name} is left over: keep it"
                found.append(Offer("leftover", params, danger=True, means=means))
    return found


def to_use(sight: Sight, batch: Batch, meat: MeatLine, now: str) -> list[Offer]:
    """To take meat from what is left of other batches, where the formula lets it."""
    return [
        Offer(
            "meat-lot",
            {"line": meat.name, "lot": lot},
            danger=True,
            means=f"{lot}, {plain(kept.left_g)} g left of batch {kept.batch}",
        )
        for lot, kept in usable(sight.station, batch, meat, now)
    ]


def _scale(batch: Batch, grams: Decimal) -> Scale | None:
    """The finest scale with room for them."""
    roomy = [scale for scale in batch.scales if scale.max_g >= ROOM * grams]
    return min(roomy, key=lambda scale: scale.division_g, default=None)


def while_counting(facts: Facts, tally: Tally) -> list[Offer]:
    """To end the count, to take the last one out of it, to weigh again what weighs wrong."""
    found = [Offer("end", {"line": tally.name, "sure": False}, "done", danger=True, means="end it")]
    if tally.items:
        last = tally.items[-1].number
        params = {"number": str(last), "reason": WHY}
        means = f"{tally.numbered(last)} does not count"
        found.append(Offer("strike", params, "void", danger=True, means=means))
    for item in facts.strays[:MOST_STRAYS]:
        means = f"weigh {tally.numbered(item.number)} again"
        found.append(Offer("again", {"number": str(item.number)}, means=means))
    return found


def forms_while_counting(tally: Tally) -> tuple[Form, ...]:
    """How many pieces hang in the string that is weighed next."""
    if tally.begun.what == "packs":
        return ()
    return (Form("links", {}, "number", "links", "what is weighed next is a string"),)
