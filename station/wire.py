"""What the socket shows: one type for the service, the display and every other client.

Masses are decimal text in grams, null where they are not known or stale. Fields may be added with a
default, never renamed: a client of another version reads what it knows.
"""

from typing import Any

import msgspec

FORMULA = "formula "
"""What stands before the name of a formula in the code on its sheet."""


class Offer(msgspec.Struct, frozen=True):
    """A call that can be made now, as the socket takes it; `text`: the same on the command line;
    `key`: the action of the display that makes it; `danger`: one press is not enough; `means`: what
    it says as the answer to a question."""

    verb: str
    params: dict[str, Any] = {}
    text: str = ""
    key: str | None = None
    danger: bool = False
    means: str = ""


class Form(msgspec.Struct, frozen=True):
    """A call that can be made now once a person has read one value: its `param`, a number in
    `unit`."""

    verb: str
    params: dict[str, Any]
    param: str
    unit: str
    means: str = ""
    danger: bool = False


class Ask(msgspec.Struct, frozen=True):
    """A question, and the calls that answer it; `otherwise`: what the hands do where none is
    true."""

    question: str
    answers: tuple[Offer, ...] = ()
    otherwise: str = ""


class Standing(msgspec.Struct, frozen=True):
    """What is accepted, stands in a vessel, and is not in the mix yet."""

    line: str
    net_g: str
    since: str
    who: str
    vessel: str | None = None
    by_hand: bool = False


class Parked(msgspec.Struct, frozen=True):
    """A batch that waits, the lines that stand of it, and why it is on hold."""

    batch: str
    formula: str
    since: str | None
    standing: tuple[str, ...] = ()
    hold: tuple[str, ...] = ()


class Clock(msgspec.Struct, frozen=True):
    """The time of a step that runs whatever has its turn, from `since` on: the least and the most
    that is meant, seconds. `late`: the most is passed; `says`: how far it is, for people."""

    batch: str
    step: str
    since: str
    least_s: str | None
    most_s: str | None
    late: bool
    says: str


class ThermometerShown(msgspec.Struct, frozen=True):
    """What a thermometer of the bench shows, with its unit as it is sent; None while that is not
    known, and where a person reads it (`at_port` false). `says`, `next`: why, and what helps."""

    name: str
    at_port: bool
    shows: str | None = None
    still: bool = True
    says: str = ""
    next: str = ""


class LineShown(msgspec.Struct, frozen=True):
    """A meat line, an addition or a step of the batch, and how far it is (`stage`: left, under way,
    stands, in, skipped, done). `at_least`: more went in, and nobody knows how much."""

    name: str
    stage: str
    target_g: str | None = None
    actual_g: str | None = None
    at_least: bool = False


class SaltShown(msgspec.Struct, frozen=True):
    """All salt in percent of the meat: by the formula, and as weighed so far."""

    planned: str
    actual: str
    at_least: bool = False


class LotShown(msgspec.Struct, frozen=True):
    """An open bag that is near its date or past it."""

    line: str
    lot: str
    expires: str


class LotLow(msgspec.Struct, frozen=True):
    """An open bag of which little is left, by what was weighed from it."""

    line: str
    lot: str
    left_g: str


class StepShown(msgspec.Struct, frozen=True):
    """A step of a weight set down or lifted, and what it says of the scale's lateness."""

    at_s: float
    grams: float
    window_s: float | None
    shape: str | None
    why: str


class ScaleShown(msgspec.Struct, frozen=True):
    """What one scale shows. `silent_s`: since when it is silent, whole seconds; `says` and
    `next`: its first trouble for people, and the next step; `tipped`: the line whose vessel was
    tipped while it stood there; `window_s`: what it averages over, seconds."""

    gross_g: str | None = None
    silent_s: int | None = None
    settled: bool = False
    troubles: tuple[str, ...] = ()
    says: str = ""
    next: str = ""
    tipped: str | None = None
    window_s: str | None = None
    lag_since: str | None = None
    steps: tuple[StepShown, ...] = ()


class Backup(msgspec.Struct, frozen=True):
    """When the last good backup was made (RFC 3339, UTC; null where none is noted), and how many
    whole days ago. `says` and `next`: what is wrong with that, for people; empty where nothing
    is."""

    at: str | None = None
    days: int | None = None
    says: str = ""
    next: str = ""


class Ledger(msgspec.Struct, frozen=True):
    """The last event's number, and the head of the chain. `unverified`: events from before the
    start that are still to be verified, while the station works; about, and 0 at the end."""

    seq: int
    head: str
    unverified: int = 0
    backup: Backup = Backup()


class Snapshot(msgspec.Struct, frozen=True, kw_only=True):
    """The state of the bench. `word`, `sentence` and `next` are for people; programs use `asks`,
    `offers`, `forms` and the values. `lots_wanted`: lines that wait for an open bag; `to_name`:
    what closing must name; `clocks`: the times that run, of all batches; `lines`, `meat_g`, `salt`:
    the batch so far; `lots_near`: open bags within two weeks of their date, `lots_low`: those with
    little left; `key_first`: the line wants its key before the lift; `alarm`: something is wrong,
    the screen turns inverse and calls; `calls`: the time of a step is up, one beep."""

    batch: str | None = None
    formula: str | None = None
    line: str | None = None
    role: str | None = None
    scale: str | None = None
    phase: str | None = None
    word: str = ""
    alarm: bool = False
    calls: bool = False
    sentence: str = ""
    next: str = ""
    asks: Ask | None = None
    offers: tuple[Offer, ...] = ()
    forms: tuple[Form, ...] = ()
    lots_wanted: tuple[str, ...] = ()
    net_g: str | None = None
    target_g: str | None = None
    lower_g: str | None = None
    upper_g: str | None = None
    accept_lower_g: str | None = None
    accept_upper_g: str | None = None
    aim_g: str | None = None
    division_g: str | None = None
    final_g: str | None = None
    standing: tuple[Standing, ...] = ()
    blocked: tuple[str, ...] = ()
    hold: tuple[str, ...] = ()
    who: str | None = None
    place: int | None = None
    places: int | None = None
    key_first: bool = False
    ends_by_key: bool = False
    vessel: str | None = None
    to_name: tuple[str, ...] = ()
    skipped: bool = False
    vessels: tuple[str, ...] = ()
    people: tuple[str, ...] = ()
    parked: tuple[Parked, ...] = ()
    lines: tuple[LineShown, ...] = ()
    meat_g: str | None = None
    salt: SaltShown | None = None
    clocks: tuple[Clock, ...] = ()
    lots_near: tuple[LotShown, ...] = ()
    lots_low: tuple[LotLow, ...] = ()
    scales: dict[str, ScaleShown] = {}
    thermometers: tuple[ThermometerShown, ...] = ()
    simulated: bool = False
    ledger: Ledger | None = None


class LineOver(msgspec.Struct, frozen=True):
    """A line of which more is in the mix than the meat bears."""

    line: str
    actual_g: str
    upper_g: str


class TopUp(msgspec.Struct, frozen=True):
    """What a line lacks once the meat is in."""

    line: str
    add_g: str
    target_g: str


class WayBack(msgspec.Struct, frozen=True, kw_only=True):
    """What makes a batch right again: `meat_g` the meat block that it takes, `add_meat_g` more than
    there is now, null where no meat is enough (`why_not`). `stays_over`: what is over all the same
    with the meat at hand, where that was asked."""

    batch: str
    over: tuple[LineOver, ...]
    meat_g: str | None
    add_meat_g: str | None
    top_up: tuple[TopUp, ...]
    possible: bool
    why_not: str | None
    stays_over: tuple[LineOver, ...] | None = None


class Event(msgspec.Struct, frozen=True):
    """A recorded event as a client hears of it."""

    seq: int
    at: str
    batch: str | None
    kind: str
    body: dict[str, Any]


class Change(Snapshot, frozen=True, kw_only=True):
    """A snapshot, its number in the stream, and what was recorded since the last one."""

    seq: int = 0
    events: tuple[Event, ...] = ()


def changed(snapshot: Snapshot, events: tuple[Event, ...] = (), seq: int = 0) -> Change:
    """A snapshot as the change that it is."""
    fields = {name: getattr(snapshot, name) for name in Snapshot.__struct_fields__}
    return Change(**fields, seq=seq, events=events)


def read_change(params: Any) -> Change:
    """What `follow` or `state` sent. Raises `msgspec.ValidationError`."""
    return msgspec.convert(params, Change)
