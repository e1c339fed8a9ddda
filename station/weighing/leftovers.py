"""What is left of a batch: put away under a lot of its own, and used as meat of another batch where
its formula lets it."""

from datetime import datetime
from decimal import Decimal
from fractions import Fraction

from station.batch import events as ev
from station.batch.leftovers import batch_of, next_lot, uncertain_g, unused_g
from station.batch.line import MeatLine
from station.batch.state import Batch, Kept, Station
from station.batch.tally import least_load_g
from station.batch.timing import minutes
from station.batch.way_back import heated, out_too_long
from station.formula.limits import LimitRow, about
from station.units import plain, shown
from station.weighing import commands as do
from station.weighing.commands import Decision, Refusal
from station.weighing.deciders import decides
from station.weighing.filling import why_not_mixed
from station.weighing.sight import Sight

_THROW = "throw it away, and say so: discard"


@decides
def keep_leftover(sight: Sight, command: do.KeepLeftover) -> Decision:
    """Weigh what is left of a mix that is still raw, and put it away."""
    batch = sight.facts.open_batch()
    must_be_fit_to_keep(batch, sight.at)
    pan, tare_g = sight.well(command.scale), Decimal(0)
    if command.vessel is not None:
        tare_g = sight.facts.vessel(command.vessel, "weigh it empty first").empty_g
    if pan.settled is None or pan.settled.gross_g - tare_g < least_load_g(pan.scale):
        step = f"at least {plain(least_load_g(pan.scale))} g, and wait"
        raise Refusal("not-settled", f"nothing has settled on {command.scale}", step)
    gross_g, net_g = pan.settled.gross_g, pan.settled.gross_g - tare_g
    for kept in batch.left_over:
        same = None in (kept.vessel, command.vessel) or kept.vessel == command.vessel
        if same and abs(kept.gross_g - gross_g) <= pan.scale.near_g:
            what = f"this weighs as {kept.lot} did: it is kept already"
            raise Refusal("same-load", what, "lift it off; if it is another, name its vessel")
    most = unused_g(batch) + uncertain_g(batch)
    if net_g > most:
        what = f"{shown(net_g, pan.scale.division_g)} g is more than is left of the mix,"
        what += f" {plain(round(max(most, Fraction(0)), 1))} g at most"
        raise Refusal("too-much", what, "name the vessel it is in, or look what it is")
    lot = next_lot(batch)
    kept = ev.LeftoverKept(
        lot=lot,
        net_g=net_g,
        gross_g=gross_g,
        tare_g=tare_g,
        scale=command.scale,
        division_g=pan.scale.division_g,
        raw=pan.settled.raw,
        who=batch.who,
        vessel=command.vessel,
    )
    grams = shown(net_g, pan.scale.division_g)
    return Decision((kept,), answer=f"{grams} g are kept: write {lot} on it")


def must_be_fit_to_keep(batch: Batch, now: str) -> None:
    """Raise unless what is left is the mix as it was weighed, and was not out of the cold for too
    long at the moment `now`."""
    if (refusal := why_not_mixed(batch)) is not None:
        raise refusal
    unknown = [line.name for line in batch.lines.values() if line.unknown]
    if unknown:
        what = f"nobody knows how much {unknown[0]} is in it"
        raise Refusal("unknown-amount", what, "it cannot go into another batch", unknown[0])
    if (why := heated(batch) or _dried(batch) or out_too_long(batch, now)) is not None:
        raise Refusal("not-raw", why, "it cannot go into another batch")


def _dried(batch: Batch) -> str | None:
    return "it has hung, and lost water" if batch.tallies_of("dried") else None


def discard_leftover(sight: Sight, command: do.Discard) -> Decision:
    """What is left of a leftover was thrown away."""
    kept = kept_as(sight.station, command.name)
    who = sight.station.last_who
    if who is None:
        raise Refusal("no-person", "who throws it away?", "say who is at the bench")
    event = ev.LeftoverDiscarded(command.name, max(kept.left_g, Decimal(0)), command.reason, who)
    return Decision((event,), answer=f"{command.name} is no more")


def kept_as(station: Station, lot: str) -> Kept:
    """The leftover of that name. Raises `Refusal`."""
    if (kept := station.leftovers.get(lot)) is None:
        known = ", ".join(station.leftovers) or "nothing is kept"
        raise Refusal("no-leftover", f"no leftover {lot} is kept", known)
    return kept


def named_as(station: Station, batch: Batch, meat: MeatLine, lot: str, now: str) -> Kept | None:
    """The leftover that is named as the lot of a meat line; None for a lot of any other kind.
    Raises `Refusal` for one that may not go into the batch."""
    if lot not in station.leftovers and batch_of(lot) is None:
        return None
    kept = kept_as(station, lot)
    if (refusal := why_not_used(batch, meat, lot, kept, max(now, station.day))) is not None:
        raise refusal
    return kept


def usable(station: Station, batch: Batch, meat: MeatLine, now: str) -> list[tuple[str, Kept]]:
    """The leftovers that may go into a batch with its meat, the oldest first."""
    if batch.formula.rework is None:
        return []
    now = max(now, station.day)
    return [
        (lot, kept)
        for lot, kept in sorted(station.leftovers.items(), key=lambda one: one[1].at)
        if lot != meat.lot and why_not_used(batch, meat, lot, kept, now) is None
    ]


def why_not_used(batch: Batch, meat: MeatLine, lot: str, kept: Kept, now: str) -> Refusal | None:
    """Why a leftover may not go into a batch as this meat: its formula takes none, it is too old,
    or it brings what the product has not; None where it may."""

    def no(code: str, what: str, step: str) -> Refusal:
        return Refusal(code, what, step, meat.name)

    rework, made = batch.formula.rework, kept.leftover
    if rework is None:
        what = f"{batch.formula.name} takes nothing that is left of another batch"
        return no("no-rework", what, "its formula would say so: [rework]")
    if made is None:
        return no("not-closed", f"batch {kept.batch} is not closed yet", "close it first")
    if kept.spoilt:
        return no("not-known", f"something went into the rest of {lot} after it was kept", _THROW)
    if kept.left_g <= 0:
        return no("used-up", f"all of {lot} is used", _THROW)
    if (age_s := _age_s(kept.at, now)) > rework.within_s:
        what = f"{lot} is {_hours(age_s)} old, {_hours(int(rework.within_s))} is the most"
        return no("too-old", what, _THROW)
    additions = batch.formula.additions
    known = {name.casefold() for addition in additions for name in addition.allergens}
    if more := [name for name in made.allergens if name.casefold() not in known]:
        what = f"{lot} brings {', '.join(more)}, and {batch.formula.name} has none"
        return no("allergen", what, "use it in a product that has it")
    wanted = {one.species for one in batch.formula.meats if one.name == meat.name}
    if strange := [name for name in made.species if name not in wanted]:
        what = f"{lot} is of {strange[0] or 'a meat of unknown species'}"
        return no("species", what, f"{meat.name} is of {', '.join(s or 'any' for s in wanted)}")
    rows = about(batch.formula, batch.opened.limits, Fraction(batch.meat_g) or Fraction(10_000))
    if agents := [name for name, share in made.most.items() if share and not may_be_in(name, rows)]:
        what = f"{lot} brings {agents[0]}, and no rule allows that in {batch.formula.name}"
        return no("not-allowed", what, "use it in a product that may have it")
    return None


def may_be_in(agent: str, rows: tuple[LimitRow, ...]) -> bool:
    """Whether a row of the law that was seen lets so much of it in, or as much as is needed."""
    seen = [row for row in rows if row.seen and not row.own]
    return any(row.kind in ("ingoing", "as needed") and agent in row.agents for row in seen)


def _age_s(kept_at: str, now: str) -> int:
    passed = datetime.fromisoformat(_moment(now)) - datetime.fromisoformat(kept_at)
    return max(int(passed.total_seconds()), 0)


def _hours(seconds: int) -> str:
    return f"{seconds // 3600} h" if seconds >= 3600 else minutes(seconds)


def _moment(at: str) -> str:
    """A day, where that is the latest that is known, as its first moment."""
    return at if "T" in at else f"{at}T00:00:00Z"


def must_have_room(
    station: Station, batch: Batch, meat: MeatLine, net_g: Decimal, now: str
) -> None:
    """Raise where the leftover that is named for the line may not go in at the moment `now` (RFC
    3339), or so much more of it is more than there is, or than the formula lets in beside the meat
    that is planned or weighed."""
    lot = meat.lots.get(meat.lot or "")
    kept, rework = station.leftovers.get(meat.lot or ""), batch.formula.rework
    if lot is None or lot.leftover is None or rework is None:
        return
    if kept is None:
        what = f"{lot.lot} was thrown away"
        raise Refusal("no-leftover", what, "name the lot of this meat", meat.name)
    if (refusal := why_not_used(batch, meat, lot.lot, kept, max(now, station.day))) is not None:
        raise refusal
    if net_g > kept.left_g + 3 * kept.division_g:
        what = f"{plain(net_g)} g is more than is left of {lot.lot}, {plain(kept.left_g)} g"
        raise Refusal("too-much", what, "is it something else? name its lot", meat.name)
    used = batch.reworked_g + net_g
    block = max(Fraction(batch.opened.plan_g), Fraction(batch.block_g + net_g))
    most = Fraction(rework.most) * block
    if used > most:
        what = f"{plain(used)} g of leftovers is over {plain(rework.most * 100)} % of the meat,"
        what += f" {plain(round(most, 1))} g"
        raise Refusal(
            "too-much-rework", what, "weigh the fresh meat first, or take less", meat.name
        )


def rework_warnings(batch: Batch) -> list[ev.Warned]:
    """A word where the block came out smaller than planned, so that more of it is left of other
    batches than the formula lets in."""
    rework, used = batch.formula.rework, batch.reworked_g
    if rework is None or used <= rework.most * batch.block_g:
        return []
    percent = plain(round(Fraction(used) / Fraction(batch.block_g) * 100, 1))
    text = f"{percent} % of the meat is left of other batches, {plain(rework.most * 100)} % at most"
    last, _ = batch.reworked[-1]
    return [ev.Warned(last.line, "rework", text)]
