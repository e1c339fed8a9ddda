"""What became of a batch, as lines of the sheet: pieces, packs, loss, cost."""

from collections.abc import Iterator

from station.audit.rows import BatchSheet, CasingRow, CostRow, CountRow, DriedRow, PackRow, YieldRow
from station.cli.common import clock, local


def product_lines(sheet: BatchSheet) -> Iterator[str]:
    """One line for each count, for each weighing of pieces that hung, for the packs by the law, for
    the loss and the cost."""
    if sheet.casing is not None:
        yield _casing(sheet.casing)
    for row in sheet.counts:
        yield _count(row)
    for dried in sheet.dried:
        yield _dried(dried)
    for pack in sheet.packs:
        yield _judged(pack)
    if sheet.yielded is not None and sheet.yielded.loss_pct is not None:
        yield _loss(sheet.yielded)
    if sheet.cost is not None:
        yield _cost(sheet.cost)


def _casing(row: CasingRow) -> str:
    parts = [f"lots {', '.join(row.lots)}" if row.lots else "no lot is told"]
    parts += [f"{row.length_m} m"] if row.length_m else []
    if row.filled_g_per_m:
        meant = f" of {row.meant_g_per_m} meant" if row.meant_g_per_m else ""
        parts.append(f"{row.filled_g_per_m} g in a metre{meant}")
    if row.changes or row.changes_meant:
        parts.append(f"water changed {row.changes} of {row.changes_meant} times")
    return f"casing {row.name}: {', '.join(parts)}"


def _count(row: CountRow) -> str:
    spread = f", spread {row.spread_g} g" if row.spread_g else ""
    what = f"{row.count} x {row.name}: {row.net_g} g, {row.mean_g} g each on average{spread}"
    return f"{what}, {row.scale}, from {clock(row.begun)}"


def _dried(row: DriedRow) -> str:
    told = f"{row.of} after {row.days} days, {local(row.at)[:16]}: {row.net_g} g of {row.green_g} g"
    if row.loss_pct is not None:
        told += f", loss {row.loss_pct} %"
        told += f" of {row.planned_pct} % planned" if row.planned_pct else ""
    return f"{told}{f'; {row.says}' if row.says else ''}"


def _judged(row: PackRow) -> str:
    name = f"packs of {row.nominal_g} g for the {row.store}"
    if row.verdict is None:
        return f"{name}: not judged, no law about packs was read"
    misses = f": {'; '.join(row.misses)}" if row.misses else ""
    counts = f"{row.t1} lack more than is tolerated, {row.t2} more than twice that"
    return f"{name}: {row.verdict}{misses or f', {counts}'} ({row.source})"


def _loss(row: YieldRow) -> str:
    parts = [f"mix {row.mix_g} g"]
    parts += [f"tasted {row.sampled_g} g"] if row.sampled_g else []
    parts += [f"pieces {row.filled_g} g"] if row.filled_g else []
    parts += [f"dried {row.dried_g} g"] if row.dried_g else []
    parts += [f"packs {row.packed_g} g"] if row.packed_g else []
    parts += [f"left over {row.left_over_g} g"] if row.left_over_g else []
    return f"{', '.join(parts)}: loss {row.loss_pct} %, with what was not counted"


def _cost(row: CostRow) -> str:
    money = f" {row.currency}" if row.currency else ""
    least = "at least " if row.at_least or row.unpriced else ""
    each = [f"{row.per_kg} a kilogram of the {row.per_kg_of}"]
    each += [f"{row.per_piece} a piece"] if row.per_piece else []
    each += [f"{row.per_pack} a pack"] if row.per_pack else []
    unpriced = f"; without {', '.join(row.unpriced)}, of unknown price" if row.unpriced else ""
    return f"cost: {least}{row.total}{money}, {', '.join(each)}{unpriced}"
