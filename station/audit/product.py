"""What became of a batch: pieces, packs, what was lost on the way, and what it cost."""

from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction

from station.audit.rows import CasingRow, CostRow, CountRow, DriedRow, PackRow, PieceRow, YieldRow
from station.batch import events as ev
from station.batch.drying import Dried, hung_g, weighings
from station.batch.line import Lot
from station.batch.plan import mix_g
from station.batch.state import Batch
from station.batch.tally import Tally, spread_g
from station.units import plain

ZERO = Fraction(0)


def counts(batch: Batch) -> tuple[CountRow, ...]:
    """Each count by itself, pieces and packs."""
    return tuple(
        CountRow(
            tally.name,
            tally.begun.what,
            tally.count,
            plain(tally.net_g),
            _rounded(tally.mean_g),
            _spread([tally]),
            tally.scale,
            tally.begun_at,
        )
        for tally in batch.tallies.values()
        if tally.items and tally.begun.what != "dried"
    )


def dried(batch: Batch) -> tuple[DriedRow, ...]:
    """Each weighing of pieces that have hung, in their order."""
    found, before = [], dict[str, Decimal]()
    for one in weighings(batch):
        found.append(_dried_row(batch, one, before.get(one.green.name, one.green.net_g)))
        if one.whole:
            before[one.green.name] = one.now.net_g
    return tuple(found)


def _dried_row(batch: Batch, one: Dried, before_g: Decimal) -> DriedRow:
    says, at, planned = None, one.now.items[-1].at, batch.formula.loss
    if one.loss is None:
        says = f"{one.now.count} were weighed, and there are {one.green.count}: no loss is told"
    elif one.now.net_g > before_g:
        says = "they weigh more than the time before: water only leaves, are they the same?"
    hung = datetime.fromisoformat(at) - datetime.fromisoformat(one.green.items[-1].at)
    return DriedRow(
        of=one.green.name,
        at=at,
        days=f"{hung / timedelta(days=1):.1f}",
        count=one.now.count,
        green_count=one.green.count,
        net_g=plain(one.now.net_g),
        green_g=plain(one.green.net_g),
        loss_pct=None if one.loss is None else plain(round(one.loss * 100, 2)),
        planned_pct=plain(planned * 100) if planned else None,
        scale=one.now.scale,
        says=says,
    )


def pieces(batch: Batch) -> PieceRow | None:
    """All pieces of the batch but the odd end; None where none was counted."""
    found = batch.whole_pieces
    if not found:
        return None
    count = sum(tally.count for tally in found)
    return PieceRow(count, _rounded(Fraction(_net_g(found)) / count), _spread(found))


def casing(batch: Batch) -> CasingRow | None:
    """What the mix was filled into; None where the formula names nothing."""
    if (meant := batch.formula.casing) is None:
        return None
    lengths = [one.length_m for one in batch.casings if one.length_m is not None]
    length = sum(lengths, Decimal(0))
    filled = _net_g(batch.whole_pieces)
    return CasingRow(
        meant.name,
        tuple(dict.fromkeys(one.lot for one in batch.casings if one.lot)),
        plain(length) if lengths else None,
        sum(batch.changes.values()),
        sum(step.changes for step in batch.formula.steps),
        _rounded(Fraction(filled) / Fraction(length)) if filled and length else None,
        None if meant.fills_g is None else plain(round(meant.fills_g, 2)),
    )


def packs(batch: Batch) -> tuple[PackRow, ...]:
    """The packs of each weight, place and date, by the three rules."""
    return tuple(_pack_row(tally) for tally in batch.tallies_of("packs"))


def _pack_row(tally: Tally) -> PackRow:
    judged, begun = tally.judged, tally.begun
    assert judged is not None and begun.nominal_g is not None  # it has items, and is of packs
    return PackRow(
        nominal_g=plain(begun.nominal_g),
        count=judged.count,
        mean_g=_rounded(judged.mean_g),
        t1=None if judged.verdict is None else judged.short,
        t2=None if judged.verdict is None else judged.far_short,
        verdict=judged.verdict,
        use_by=begun.use_by,
        store=begun.store,
        misses=judged.misses,
        source=begun.source,
    )


def yielded(batch: Batch) -> YieldRow:
    """What was made of the mix, less what was tasted or kept for another batch. The loss is counted
    to the packs where there are some, else to the pieces, as they were weighed last; what is in
    neither is in the loss."""
    filled, packed = _net_g(batch.tallies_of("pieces")), _net_g(batch.tallies_of("packs"))
    hung = hung_g(batch)
    mix, made = mix_g(batch), packed or hung or filled
    loss = None
    left = Fraction(mix - batch.sampled_g - batch.left_over_g)
    if made and left > 0 and not _unknown(batch):
        loss = plain(round((1 - Fraction(made) / left) * 100, 2))
    sampled, dry = _grams(batch.sampled_g), None if hung is None else plain(hung)
    over = _grams(batch.left_over_g)
    return YieldRow(plain(mix), _grams(filled), _grams(packed), loss, sampled, dry, over)


def _grams(grams: Decimal) -> str | None:
    return plain(grams) if grams else None


def cost(batch: Batch) -> CostRow | None:
    """What went in, each load by the price of its lot, else of its line; to a hundredth. None where
    no price is known. A kilogram is one of the packs where there are some, else of the pieces, else
    of the mix."""
    loads = [load for load in _priced(batch) if load[1]]
    if all(price is None for _, _, price in loads):
        return None
    total = sum((Fraction(grams) * Fraction(price or 0) / 1000 for _, grams, price in loads), ZERO)
    packed, filled = batch.tallies_of("packs"), batch.tallies_of("pieces")
    of = "packs" if packed else "pieces" if filled else "mix"
    grams = _net_g(packed) or hung_g(batch) or _net_g(filled) or mix_g(batch)
    return CostRow(
        total=_money(total),
        per_kg=_money(total * 1000 / Fraction(grams)),
        currency=batch.opened.currency,
        per_kg_of=of,
        per_piece=_money(_a_piece(batch, total)) if batch.whole_pieces else None,
        per_pack=_money(total / sum(t.count for t in packed)) if packed else None,
        unpriced=tuple(dict.fromkeys(name for name, _, price in loads if price is None)),
        at_least=_unknown(batch),
    )


def _a_piece(batch: Batch, total: Fraction) -> Fraction:
    """What a piece costs: the odd end takes its share by weight."""
    whole = batch.whole_pieces
    share = Fraction(_net_g(whole)) / Fraction(_net_g(batch.tallies_of("pieces")))
    return total * share / sum(tally.count for tally in whole)


def _priced(batch: Batch) -> Iterator[tuple[str, Decimal, Decimal | None]]:
    """(line, grams, price of a kilogram) of each load."""
    for meat in batch.formula.meats:
        of_meat = batch.meats[meat.name]
        for part in of_meat.loads:
            lot = of_meat.lots.get(part.lot or "")
            if lot is not None and lot.leftover is not None:  # the batch that it is of has paid it
                yield lot.lot, part.net_g, lot.price
                continue
            yield meat.name, part.net_g, _price(of_meat.lots, part.lot, meat.price)
    for line in batch.lines.values():
        for load in line.loads:
            yield line.name, load.actual_g, _price(line.lots, load.lot, line.addition.price)


def _price(
    lots: Mapping[str, ev.MeatLotNamed] | Mapping[str, Lot],
    lot: str | None,
    of_line: Decimal | None,
) -> Decimal | None:
    """Of a kilogram: that of the lot, else that of the line."""
    found = lots.get(lot or "")
    return of_line if found is None or found.price is None else found.price


def _net_g(tallies: list[Tally]) -> Decimal:
    return sum((tally.net_g for tally in tallies), Decimal(0))


def _unknown(batch: Batch) -> bool:
    return any(line.unknown for line in batch.lines.values())


def _rounded(grams: Fraction | None) -> str:
    return plain(round(grams or ZERO, 2))


def _spread(tallies: list[Tally]) -> str | None:
    found = spread_g(tuple(item for tally in tallies for item in tally.items))
    return None if found is None else plain(round(Decimal(found), 2))


def _money(amount: Fraction) -> str:
    return f"{round(amount * 100) / Decimal(100):.2f}"
