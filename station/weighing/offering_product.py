"""Pieces and packs: what can be begun once all is in the mix, and what can be done while they are
counted."""

from decimal import Decimal
from typing import Any

from station.batch.state import Batch
from station.batch.tally import Tally
from station.metrology.scale import Scale
from station.units import plain
from station.weighing.commands import WHY, Form, Offer
from station.weighing.facts import Facts

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
