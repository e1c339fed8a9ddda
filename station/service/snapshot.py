"""The snapshot of the bench for clients of the socket, made from the same sight as the guide."""

from collections.abc import Mapping
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import Any

from station import wire
from station.batch.amounts import Salt
from station.batch.bags import low
from station.batch.cups import standing_vessels
from station.batch.overview import Row
from station.batch.state import Batch, Lag, Station
from station.batch.timing import Clock
from station.ledger.chain import head_text
from station.pan.view import Pan
from station.units import plain, shown
from station.weighing.acceptance import key_first
from station.weighing.closing import unfinished_names
from station.weighing.commands import Form, Offer
from station.weighing.facts import Facts
from station.weighing.sight import Sight
from station.weighing.thermometer import Thermometer
from station.weighing.words import Guide


def snapshot(
    sight: Sight,
    told: Guide,
    head: bytes,
    seq: int,
    simulated: bool,
    scales: Mapping[str, wire.ScaleShown] | None = None,
    unverified: int = 0,
    backup: wire.Backup = wire.Backup(),  # noqa: B008 - it is frozen
) -> wire.Snapshot:
    """The state of the bench; `scales` where they are known already."""
    station, batch, limits = sight.station, sight.station.batch, told.limits
    place, places = _place(batch, told, sight.facts)
    return wire.Snapshot(
        batch=batch.id if batch else None,
        formula=batch.formula.name if batch else None,
        line=told.line,
        role=told.role,
        scale=told.scale,
        phase=told.phase,
        word=told.word,
        alarm=told.alarm,
        calls=told.calls,
        sentence=told.sentence,
        next=told.next,
        asks=_ask(told),
        offers=tuple(offer_as_sent(offer) for offer in told.offers),
        forms=tuple(form_as_sent(form) for form in told.forms),
        clocks=tuple(_clock(clock) for clock in told.clocks),
        lots_wanted=sight.facts.unopened if told.phase == "additions" else (),
        net_g=_text(told.net_g),
        target_g=_text(told.target_g),
        lower_g=_text(told.lower_g),
        upper_g=_text(told.upper_g),
        accept_lower_g=_text(limits.accept_lower if limits else None),
        accept_upper_g=_text(limits.accept_upper if limits else None),
        aim_g=_text(limits.aim if limits else None),
        division_g=_text(told.division_g),
        final_g=_text(told.final_g),
        standing=_standing(station),
        blocked=tuple(trouble.reason for trouble in told.troubles),
        hold=batch.hold if batch else (),
        who=station.last_who,
        place=place,
        places=places,
        key_first=bool(batch and told.line in batch.lines and _key_first(batch, told.line)),
        ends_by_key=bool(batch and batch.step(told.line or "")),
        vessel=_vessel(batch, told.line),
        to_name=tuple(unfinished_names(batch)) if batch and told.phase == "additions" else (),
        skipped=_skipped(batch, told.line),
        vessels=_vessels(sight, told),
        people=batch.opened.people if batch else (),
        parked=tuple(_parked(other) for other in station.parked.values()),
        meat_g=_text(batch.meat_g) if batch else None,
        **_so_far(sight.facts),
        scales=dict(scales) if scales is not None else scales_shown(sight),
        thermometers=tuple(_thermometer(one) for one in sight.thermometers.values()),
        simulated=simulated,
        ledger=wire.Ledger(seq, head_text(head), unverified, backup),
    )


def scales_shown(sight: Sight) -> dict[str, wire.ScaleShown]:
    """What every scale shows."""
    lags = sight.station.lags
    return {name: scale_shown(pan, lags.get(name)) for name, pan in sight.pans.items()}


def scale_shown(pan: Pan, lag: Lag | None) -> wire.ScaleShown:
    """What one scale shows, how late it is, and what the last steps on it say of that."""
    return wire.ScaleShown(
        gross_g=_text(pan.gross_g),
        silent_s=None if pan.gross_g is not None or pan.age_s is None else int(pan.age_s),
        settled=pan.settled is not None,
        troubles=tuple(trouble.reason for trouble in pan.troubles),
        says=pan.troubles[0].sentence if pan.troubles else "",
        next=pan.troubles[0].next if pan.troubles else "",
        tipped=pan.tipped_line,
        window_s=None if lag is None else plain(Decimal(str(lag.window_s))),
        lag_since=None if lag is None else lag.at,
        steps=tuple(
            wire.StepShown(
                round(step.time_s, 3),
                round(step.grams, 3),
                None if step.window_s is None else round(step.window_s, 4),
                step.shape,
                step.why,
            )
            for step in pan.steps
        ),
    )


def offer_as_sent(offer: Offer) -> wire.Offer:
    """A call as the socket takes it, and its words, key and danger."""
    return wire.Offer(
        offer.verb, dict(offer.params), offer.text, offer.key, offer.danger, offer.means
    )


def form_as_sent(form: Form) -> wire.Form:
    """A call that lacks a value, as clients hear of it."""
    return wire.Form(form.verb, dict(form.params), form.param, form.unit, form.means, form.danger)


def _clock(clock: Clock) -> wire.Clock:
    took = clock.took
    least, most = _text(took.least_s), _text(took.most_s)
    return wire.Clock(clock.batch, clock.step, clock.since, least, most, took.too_long, clock.says)


def _thermometer(one: Thermometer) -> wire.ThermometerShown:
    return wire.ThermometerShown(one.name, one.at_port, one.shows, one.still, one.says, one.next)


def _ask(told: Guide) -> wire.Ask | None:
    if told.asks is None:
        return None
    answers = tuple(offer_as_sent(offer) for offer in told.asks.answers)
    return wire.Ask(told.asks.question, answers, told.asks.otherwise)


@lru_cache(maxsize=1)
def _so_far(facts: Facts) -> dict[str, Any]:
    """The batch so far: the same for every reading until the record changes."""
    return {
        "lines": tuple(_line(row) for row in facts.overview),
        "salt": _salt(facts.salt),
        "lots_near": _lots_near(facts.station),
        "lots_low": tuple(
            wire.LotLow(line, lot.lot, plain(left)) for line, lot, left in low(facts.station)
        ),
    }


def _line(row: Row) -> wire.LineShown:
    fine = row.division_g or Decimal("0.01")
    target = None if row.target_g is None else shown(row.target_g, fine)
    return wire.LineShown(row.name, row.stage, target, _text(row.actual_g), row.at_least)


def _salt(found: Salt | None) -> wire.SaltShown | None:
    if found is None:
        return None
    planned, actual = (plain(round(part, 2)) for part in (found.planned, found.actual))
    return wire.SaltShown(planned, actual, found.at_least)


NEAR_DAYS = 14
"""Days before its date from which a bag is told (common practice: time to order another)."""


def _lots_near(station: Station) -> tuple[wire.LotShown, ...]:
    if station.open is None or not station.day:
        return ()
    until = (date.fromisoformat(station.day) + timedelta(NEAR_DAYS)).isoformat()
    bags = [(line.name, line.lot) for line in station.open.lines.values() if line.lot]
    return tuple(
        wire.LotShown(name, lot.lot, lot.expires)
        for name, lot in bags
        if lot.expires is not None and lot.expires <= until
    )


def _place(batch: Batch | None, told: Guide, facts: Facts) -> tuple[int | None, int | None]:
    """Which line of how many: the meat, then additions and steps in the order of the bench. While
    a bag is asked for before its line has its turn, the place is that of the turn: it never
    jumps."""
    if batch is None:
        return None, None
    order = [*batch.meats, *batch.order]
    line = facts.current if told.line in facts.unopened else told.line
    return (order.index(line) + 1 if line in order else None), len(order)


def _vessel(batch: Batch | None, line: str | None) -> str | None:
    """The vessel that was named or tared for the line at its turn."""
    if batch is None or line is None:
        return None
    if line in batch.meats:
        return batch.meats[line].tub
    found = batch.lines.get(line)
    if found is None:
        return None
    return found.tare.vessel if found.tare else found.used


def _skipped(batch: Batch | None, name: str | None) -> bool:
    line = batch.lines.get(name or "") if batch else None
    return line is not None and line.put_off


def _vessels(sight: Sight, told: Guide) -> tuple[str, ...]:
    """The vessels that could be used now, lightest first; for meat those of its own scale."""
    pan = sight.pans.get(told.scale or "")
    if told.role == "meat" and pan is not None:
        return tuple(sight.facts.free_like(pan.scale))
    return tuple(vessel.name for vessel in sight.facts.free)


def _key_first(batch: Batch, line: str) -> bool:
    return key_first(batch, batch.lines[line])


def _parked(batch: Batch) -> wire.Parked:
    standing = tuple(cup.line.name for cup in standing_vessels(batch))
    return wire.Parked(batch.id, batch.formula.name, batch.parked_at, standing, batch.hold)


def _text(value: Decimal | Fraction | None) -> str | None:
    return None if value is None else plain(value)


def _standing(station: Station) -> tuple[wire.Standing, ...]:
    if station.open is None:
        return ()
    found = []
    for cup in standing_vessels(station.open):
        load = next(load for load in cup.line.standing if load.vessel == cup.vessel)
        net, hand = plain(cup.net_g), load.by_hand is not None
        found.append(wire.Standing(cup.line.name, net, load.at, load.who, cup.vessel, hand))
    return tuple(found)
