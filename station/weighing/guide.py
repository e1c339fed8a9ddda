"""What the bench hand is told now: one word, one sentence, the next step, and the figures."""

from dataclasses import replace
from decimal import Decimal

from station import units
from station.batch.judging import temperature_miss
from station.batch.overview import not_as_planned
from station.batch.progress import stands_before
from station.batch.state import Batch
from station.batch.timing import Timing, clocks, timing
from station.batch.way_back import Over, too_late
from station.formula.model import Step
from station.pan.view import Trouble
from station.units import plain, shown
from station.weighing.facts import Facts
from station.weighing.filling import waits_for_filling
from station.weighing.forms import forms
from station.weighing.guide_addition import addition
from station.weighing.guide_meat import meat
from station.weighing.guide_tally import tally
from station.weighing.offers import Menu, offered
from station.weighing.questions import asked
from station.weighing.sight import Sight
from station.weighing.thermometer import Thermometer, at_ports
from station.weighing.words import Guide, blocked

NO_MENU = Menu()
_CALM = ("READY", "SET DOWN", "TIP", "DO")
"""Words beside which there is time to read."""


def guide(
    sight: Sight, ledger: Trouble | None = None, menu: Menu = NO_MENU, now: str = ""
) -> Guide:
    """What to show the hand; `ledger` is the trouble with writing and comes before all others;
    `now` (RFC 3339) is what the time of a step is counted to."""
    told = _guide(sight, now)
    ask = told.asks
    if ledger is not None:
        told, ask = blocked(told, (ledger, *told.troubles)), None
    elif told.word == "BLOCKED" and ask is None:
        ask = asked(sight, told.line, told.troubles)
    if ask is not None:
        told = replace(told, word="ANSWER")
    running = tuple(clock for batch in sight.station.unfinished for clock in clocks(batch, now))
    can = tuple(offered(sight, told.line, ask, menu, now))
    told = replace(told, asks=ask, offers=can, forms=forms(sight, told.line), clocks=running)
    return _with_what_is_late(told)


def _with_what_is_late(told: Guide) -> Guide:
    """A time that has run out is said first, but not while the hand pours or something is wrong."""
    if told.word not in _CALM:
        return told
    late = [clock.says for clock in told.clocks if clock.took.too_long and clock.step != told.line]
    return replace(told, sentence="; ".join([*late, told.sentence]))


def _guide(sight: Sight, now: str) -> Guide:
    station, pans, facts = sight.station, sight.pans, sight.facts
    batch = station.batch
    other = next((p.troubles[0] for p in pans.values() if p.another), None)
    if other is not None and station.open is None:
        return blocked(Guide(None, "READY", "", ""), (other,))
    if batch is None:
        unwell = [pan.troubles[0].sentence for pan in pans.values() if pan.troubles]
        sentence = "; ".join(["no batch is at the bench", *unwell])
        step = "open a batch" if station.last_who else "say who is here, then open a batch"
        if station.parked:
            step = f"take-up {', '.join(station.parked)}, or open another"
        return Guide(None, "READY", sentence, step)
    if batch.end is not None:
        return Guide("done", "READY", f"batch {batch.id} is {batch.end}", "open the next one")
    name = facts.current
    if name in batch.meats:
        return meat(sight, batch, batch.meats[name])
    if batch.hold and name is None:
        return _on_hold(facts, batch, now)
    if batch.tally is not None:
        return tally(sight, batch, batch.tally)
    if batch.tasting is not None and name not in batch.lines:
        step = "choose what is wished, or say that it is as it should be"
        return Guide(facts.phase, "DO", batch.tasting, step)
    if facts.phase == "additions" and facts.unopened:
        return _bag(batch, facts.unopened[0], name)
    if name is None:
        return _last(batch)
    if name not in batch.lines:
        return _step(sight, batch, name, now)
    return addition(sight, batch, batch.lines[name])


def _on_hold(facts: Facts, batch: Batch, now: str) -> Guide:
    reason = _why_on_hold(facts, batch)
    stands = [line.name for line in batch.lines.values() if line.standing]
    if stands:
        sentence = f"{reason}; standing: {', '.join(stands)}"
        step = "void what stands" if batch.opened.ahead else "tip or void what stands"
        return Guide("on hold", "ON HOLD", sentence, step)
    late = too_late(batch, now)
    step = f"{late}; abandon after review" if late else _out_of_hold(facts)
    if doubted := next((ln.name for ln in batch.lines.values() if ln.in_doubt), None):
        step = f"a second person says where the {doubted} went, or its jar is weighed"
    return Guide("on hold", "ON HOLD", reason, step)


def _why_on_hold(facts: Facts, batch: Batch) -> str:
    """What is too much, for whoever stands there, or the first reason on record, which has the
    law's own words."""
    back = facts.way_back
    if back is None or not back.over:
        return batch.hold[0]
    return "; ".join(_too_much(over) for over in back.over)


def _too_much(over: Over) -> str:
    if over.at_least:
        return f"{over.line}: nobody knows how much is in the mix"
    what = f"{over.line}: {shown(over.actual_g, over.division_g)} g in the mix"
    if over.actual_g <= over.upper_g:
        return f"{what}, more than the law allows"
    return f"{what}, {shown(over.most_g, over.division_g)} g at most"


def _out_of_hold(facts: Facts) -> str:
    """How much meat ends the hold, where meat does."""
    back = facts.way_back
    if back is None or not back.over:
        return "abandon it after review, or let more meat and what is lacking bring it back"
    if back.add_meat_g is None:
        return f"{back.why_not}; abandon after review"
    return f"{plain(back.add_meat_g)} g more meat end it, or abandon after review"


def _bag(batch: Batch, wanted: str, turn: str | None) -> Guide:
    """A bag is asked for before anything is weighed in: another strength changes the salt."""
    sentence = f"{wanted}: open its lot, with the strength on the bag"
    if turn not in (None, wanted):
        sentence = f"before {turn}, {sentence}"
    step = "scan its label, or type lot and strength: station lot open"
    return Guide("additions", "DO", sentence, step, wanted, _role(batch, wanted))


def _role(batch: Batch, name: str) -> str:
    return batch.lines[name].addition.role


def _last(batch: Batch) -> Guide:
    standing = [line.name for line in batch.lines.values() if line.standing]
    if batch.opened.ahead:
        sentence = f"{len(standing)} bags are weighed ahead: write {batch.id} on each"
        return Guide("additions", "DO", sentence, "close: they wait for their meat")
    if standing:
        return Guide("additions", "TIP", f"standing: {', '.join(standing)}", "tip into the mix")
    sentence = "; ".join(["all is in the mix", *not_as_planned(batch)])
    return Guide("additions", "DO", sentence, "close")


def _so_far(took: Timing) -> str:
    if took.due:
        return "it is time"
    return f"{took.told} so far{', too long' if took.too_long else ''}"


def _wants_an_eye(step: Step, thermometer: Thermometer) -> bool:
    """Whether the most of a step's temperature is passed, or the least reached."""
    assert step.temperature is not None
    missed = temperature_miss(step, thermometer.shows) is not None
    least, _ = units.least_and_most(step.temperature, units.celsius)
    return missed if least is None else not missed


def _step(sight: Sight, batch: Batch, name: str, now: str) -> Guide:
    item = batch.step(name)
    if (stands := stands_before(batch, name)) is not None:
        sentence = f"{stands} stands: tip it before {name}"
        return Guide("additions", "TIP", sentence, "tip it", name, "step")
    if isinstance(item, Step):
        sentence, calls = f"{name}: {item.bounds or 'do it'}", False
        if waits_for_filling(batch, item):
            sentence = f"fill it; then {sentence}"
            step = "/ counts pieces and packs; where none is counted, end the step"
            return Guide("additions", "DO", sentence, step, name, "step")
        if item.changes:
            sentence = f"{sentence}; {batch.changes.get(name, 0)} so far"
        if (took := timing(batch, name, now)) is not None:
            sentence, calls = f"{sentence}; {_so_far(took)}", took.due or took.too_long
        for one in at_ports(sight.thermometers) if item.temperature else ():
            sentence = f"{sentence}; {one.name} {one.shows}"
            calls = calls or _wants_an_eye(item, one)
        told = Guide("additions", "DO", sentence, "step ends it", name, "step")
        return replace(told, calls=calls)
    assert item is not None  # an addition counted in pieces
    pieces = batch.count(name)
    text = f"{name}: {shown(pieces, Decimal('0.01'))} sachets"
    return Guide("additions", "DO", text, "step ends it", name, item.role)
