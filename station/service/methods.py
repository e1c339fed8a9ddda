"""What each method of the socket does: text as people write it becomes a command here, and
nowhere else."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

from station import gs1, units
from station.formula.masses import AGENTS, OTHER_AGENTS, agent_name
from station.formula.names import WHICH, saltpetre, sounds_regulated
from station.opening import opening
from station.resources import Config
from station.service.channel import Channel
from station.service.desk import Desk
from station.settings import Settings
from station.weighing import commands as do
from station.weighing.commands import METHODS, Command, Method, Param, Refusal
from station.weighing.orders import may_tell

Params = dict[str, Any]
_DATE = "a date such as 2026-11-30"


@dataclass(frozen=True, slots=True)
class Bench:
    """What methods may need beyond their parameters."""

    desk: Desk
    config: Config
    settings: Settings
    channels: Mapping[str, Channel] = field(default_factory=dict)


_FLAGS = {"true": True, "yes": True, "false": False, "no": False}


def check(method: Method, params: Params) -> Params:
    """The parameters as the method wants them. Raises `Refusal` for those that are not."""
    known = {param.name: param for param in method.params}
    if strange := sorted(set(params) - set(known) - {"batch"}):
        allowed = ", ".join(known) or "none"
        raise Refusal(
            "bad-params", f"{method.name} has no parameter {strange[0]!r}", f"it has: {allowed}"
        )
    found: Params = {}
    for name, param in known.items():
        value = params.get(name)
        if value is None or value == []:
            if param.required:
                raise Refusal(
                    "bad-params", f"{method.name} needs {name}: {param.help}", method.example
                )
            found[name] = {"flag": False, "texts": (), "text": None}[param.kind]
            continue
        found[name] = _value(method, param, value)
    return found


def _value(method: Method, param: Param, value: Any) -> Any:
    if param.kind == "flag":
        told = str(value).lower() if isinstance(value, (bool, str)) else ""
        if told in _FLAGS:
            return _FLAGS[told]
        raise Refusal("bad-params", f"{param.name} is true or false", method.example)
    if param.kind == "texts" and isinstance(value, dict):
        value = [f"{key}={item}" for key, item in value.items()]
    items = [value] if isinstance(value, str) else value
    texts = isinstance(items, list) and all(isinstance(item, str) for item in items)
    if not texts or (param.kind == "text" and len(items) != 1):
        raise Refusal("bad-params", f"{param.name} is a text: {param.help}", method.example)
    plain = [item.replace(gs1.SEPARATOR, "") if param.name == "lot" else item for item in items]
    if any(not item.strip() or len(item) > 500 or not item.isprintable() for item in plain):
        raise Refusal(
            "bad-params", f"{param.name} is empty, too long or not plain text", method.example
        )
    if param.kind == "text":
        return str(items[0].strip(" "))
    return tuple(part.strip() for item in items for part in item.split(",") if part.strip())


def _open(bench: Bench, params: Params) -> Command:
    person(bench, params["who"])
    plan = {k: params[k] for k in ("meat", "mix", "pieces") if params[k] is not None}
    opened, words = opening(
        bench.config, bench.settings, bench.desk.simulated, params["formula"], plan, params["who"]
    )
    number = bench.desk.station.batches + 1
    return do.Open(f"{bench.desk.clock.utc():%y%m%d}-{number}", opened, words)


def person(bench: Bench, name: str) -> do.Who:
    """The person, if on the list. Raises `Refusal`."""
    batch = bench.desk.station.open
    people = batch.opened.people if batch else bench.settings.people
    command = do.Who(name, people)
    if name not in people:
        raise Refusal("unknown-person", f"{name} is not on the list", f"one of {', '.join(people)}")
    return command


def _lot(bench: Bench, params: Params) -> Command:
    contains: dict[str, Decimal] = {}
    for text in params["contains"]:
        agent, mark, share = text.partition("=")
        name = agent_name(agent)
        try:
            strength = units.fraction(share)
            if not mark or not 0 < strength <= 1:
                raise units.UnitError(f"found {text!r}")
        except units.UnitError as error:
            raise Refusal(
                "bad-params", f"contains: {error}", 'say "sodium nitrite=6.25 %", once for each'
            ) from None
        if sounds_regulated(name) and name not in (*AGENTS, *OTHER_AGENTS):
            what = WHICH if saltpetre(name) else f"{name!r} is the name of no one agent"
            step = "read the agent from the bag, such as sodium nitrite"
            raise Refusal("bad-params", f"contains: {what}", step)
        if name in contains:
            raise Refusal("bad-params", f"contains names {name} twice", "read the bag again")
        contains[name] = strength
    if sum(contains.values()) > 1:
        raise Refusal("bad-params", "contains adds up to more than 100 %", "read the bag again")
    lot, expires = _label(bench, params["lot"], params["expires"])
    today = _today(bench).isoformat()
    return do.OpenLot(
        params["line"], lot, contains, expires, today, params["rescale"], params["second"]
    )


def _next_bag(bench: Bench, params: Params) -> Command:
    lot, expires = _label(bench, params["lot"], None)
    return do.NextBag(params["line"], lot, expires, _today(bench).isoformat())


def _today(bench: Bench) -> date:
    """The day where the bench stands: a bag expires by the calendar on its wall."""
    return bench.desk.clock.utc().astimezone().date()


def _named_bag(bench: Bench, text: str | None) -> str | None:
    """The lot of what is in the mix already, typed or scanned; whatever its date. Raises
    `Refusal`."""
    return None if text is None else _label(bench, text, None)[0]


def _label(bench: Bench, text: str, told: str | None) -> tuple[str, str | None]:
    """(lot, expiry as YYYY-MM-DD) of a bag, typed or scanned. Raises `Refusal`."""
    lot, expires = text.strip(), told
    if told is not None:
        try:
            expires = date.fromisoformat(told).isoformat()
        except ValueError:
            raise Refusal(
                "bad-params", f"expires: found {told!r}, expected {_DATE}", "as on the bag"
            ) from None
    if gs1.looks_like(text):
        try:
            label = gs1.read_label(text, _today(bench))
        except gs1.NotGs1 as error:
            step = "scan it again, or type lot and expiry"
            raise Refusal("bad-params", f"lot: {error}", step) from None
        lot, printed = label.lot, label.expires.isoformat() if label.expires else None
        if expires and printed and expires != printed:
            what = f"the label expires on {printed}, you say {expires}"
            raise Refusal("bad-params", what, "read the bag again")
        expires = expires or printed
    return lot, expires


def _by_hand(bench: Bench, params: Params) -> Command:
    try:
        net = units.mass(params["net"])
    except units.UnitError as error:
        raise Refusal("bad-params", f"net: {error}", "as the scale shows it") from None
    return do.ByHand(
        params["line"],
        net,
        params["scale"],
        params["reason"],
        params["second"],
        params["in_mix"],
        _named_bag(bench, params["lot"]),
    )


def _step(bench: Bench, params: Params) -> Command:
    value = params["value"]
    try:
        found = None if value is None else units.found_value(value)
    except units.UnitError as error:
        raise Refusal("bad-params", f"value: {error}", "as it was read") from None
    return do.EndStep(params["name"], found)


Build = Callable[[Bench, Params], Command]

_OWN: dict[str, Build] = {
    "open": _open,
    "lot": _lot,
    "zero": lambda bench, p: do.TellScale(p["scale"], "zero"),
    "clear-tare": lambda bench, p: do.TellScale(p["scale"], "clear-tare"),
    "take-up": lambda bench, p: do.TakeUp(p["batch"], bench.settings.authority),
    "who": lambda bench, p: person(bench, p["name"]),
    "next-bag": _next_bag,
    "tip": lambda bench, p: do.Tip(**{**p, "lot": _named_bag(bench, p["lot"])}),
    "by-hand": _by_hand,
    "step": _step,
}
"""The methods whose text wants more than to be taken as it is."""


def build(bench: Bench, method: Method, params: Params) -> Command:
    """The command of a method, from its checked parameters. Raises `Refusal`."""
    own = _OWN.get(method.name)
    return own(bench, params) if own else method.command(**params)


async def call(bench: Bench, name: str, params: Params, uid: int | None) -> Params:
    """Carry out one method; its answer. Raises `Refusal`."""
    method = METHODS[name]
    found = check(method, params)
    batch = params.get("batch")
    current = bench.desk.station.open
    if (
        batch is not None
        and name not in ("open", "take-up")
        and (current is None or batch != current.id)
    ):
        raise Refusal(
            "other-batch",
            f"batch {batch!r} is not at the bench",
            f"at the bench is {current.id}" if current else "no batch is open",
        )
    command = build(bench, method, found)
    if isinstance(command, do.TellScale):
        await _tell_scale(bench, command)
    answer = await bench.desk.submit(command, uid)
    at_bench = bench.desk.station.batch
    return {"batch": at_bench.id if at_bench else None, "answer": answer}


async def _tell_scale(bench: Bench, command: do.TellScale) -> None:
    """Send an order to a scale and wait until it says that it did. Raises `Refusal`."""
    may_tell(bench.desk.sight(), command)
    channel = bench.channels.get(command.scale)
    if channel is None or command.order not in channel.orders:
        what = f"{command.scale} cannot be told to {command.order}"
        raise Refusal("no-order", what, "press its own key")
    failed = await channel.order(command.order)
    if failed is not None:
        raise Refusal("order-failed", f"{command.scale}: {failed}", "press its own key, then look")
