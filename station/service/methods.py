"""What each method of the socket does: text as people write it becomes a command here, and
nowhere else."""

from collections.abc import Callable
from typing import Any

from station import gs1, units
from station.formula.ahead import count_of
from station.opening import opening
from station.service import lots, packs, tasting
from station.service.around import Bench
from station.weighing import commands as do
from station.weighing.commands import METHODS, Command, Method, Offer, Param, Refusal
from station.weighing.orders import may_tell
from station.weighing.people import others

Params = dict[str, Any]


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
    ahead = _ahead(params, plan)
    opened, words = opening(
        bench.config,
        bench.settings,
        bench.desk.simulated,
        params["formula"],
        {"meat": params["planned"]} if ahead else plan,
        params["who"],
        ahead,
    )
    number = bench.desk.station.batches + 1
    asked = {k: v for k, v in params.items() if v is not None and k != "washed"}
    return do.Open(
        f"{bench.desk.clock.utc():%y%m%d}-{number}", opened, words, _washed(bench, params), asked
    )


def _ahead(params: Params, plan: Params) -> int:
    """How many bags of each line are weighed ahead; 0 for none. Raises `Refusal`."""
    planned, count = params["planned"], params["count"]
    if planned is None:
        if count is not None:
            raise Refusal("bad-plan", "count is of bags that are weighed ahead", "say --planned")
        return 0
    if plan:
        what = "planned is the meat of bags that are weighed ahead"
        raise Refusal("bad-plan", what, f"leave out {', '.join(plan)}")
    try:
        return 1 if count is None else count_of(count)
    except ValueError as error:
        raise Refusal("bad-plan", f"count: {error}", "one bag for each batch") from None


def _washed(bench: Bench, params: Params) -> str | None:
    """Who washed down. Raises `Refusal` for nobody of the list."""
    name: str | None = params["washed"]
    if name is not None:
        person(bench, name)
    return name


def person(bench: Bench, name: str) -> do.Who:
    """The person, if on the list. Raises `Refusal`."""
    batch = bench.desk.station.open
    people = batch.opened.people if batch else bench.settings.people
    command = do.Who(name, people)
    if name not in people:
        raise Refusal("unknown-person", f"{name} is not on the list", f"one of {', '.join(people)}")
    return command


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
        lots.named(bench, params["lot"]),
    )


def _step(bench: Bench, params: Params) -> Command:
    value = params["value"]
    try:
        found = None if value is None else units.found_value(value)
    except units.UnitError as error:
        raise Refusal("bad-params", f"value: {error}", "as it was read") from None
    return do.EndStep(params["name"], found, params["reason"], params["thermometer"])


Build = Callable[[Bench, Params], Command]

_OWN: dict[str, Build] = {
    "open": _open,
    "lot": lots.open_lot,
    "zero": lambda bench, p: do.TellScale(p["scale"], "zero"),
    "clear-tare": lambda bench, p: do.TellScale(p["scale"], "clear-tare"),
    "take-up": lambda bench, p: do.TakeUp(p["batch"], bench.settings.authority, _washed(bench, p)),
    "who": lambda bench, p: person(bench, p["name"]),
    "meat-lot": lots.meat_lot,
    "next-bag": lots.next_bag,
    "tip": lambda bench, p: do.Tip(**{**p, "lot": lots.named(bench, p["lot"])}),
    "by-hand": _by_hand,
    "step": _step,
    "packs": packs.packs,
    "casing": packs.casing,
    "links": packs.links,
    "again": packs.again,
    "strike": packs.strike,
    "sample": tasting.sample,
    "taste": tasting.taste,
}
"""The methods whose text wants more than to be taken as it is."""


def build(bench: Bench, method: Method, params: Params) -> Command:
    """The command of a method, from its checked parameters. Raises `Refusal`."""
    own = _OWN.get(method.name)
    return own(bench, params) if own else method.command(**params)


def _with_answers(bench: Bench, method: Method, params: Params, refusal: Refusal) -> Refusal:
    """The refusal; where a second person is wanted, with the same call for each who could be it,
    and where a bag has another strength, with the one that works the line out by it."""
    batch = bench.desk.station.open
    said = {key: value for key, value in params.items() if key != "batch"}
    if refusal.code == "other-strength" and method.name == "lot":
        means = "work the line and the salt out by it"
        refusal.offers = (Offer("lot", {**said, "rescale": True}, danger=True, means=means),)
    if refusal.code != "second-wanted" or batch is None:
        return refusal
    refusal.offers = tuple(
        Offer(method.name, {**said, "second": n}, danger=True, means=f"{n} has seen it too")
        for n in others(batch)
    )
    return refusal


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
    try:
        answer = await bench.desk.submit(command, uid)
    except Refusal as refusal:
        raise _with_answers(bench, method, params, refusal) from None
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
