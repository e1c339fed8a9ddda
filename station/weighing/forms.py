"""What can be done now with one value that only a person can read, such as a weight that no scale
sends."""

from station.batch.state import Batch
from station.formula.model import Step
from station.weighing.acceptance import key_first
from station.weighing.by_hand import DEAD
from station.weighing.commands import WHY, Form
from station.weighing.offering_product import forms_while_counting
from station.weighing.offering_tasting import forms_to_taste
from station.weighing.people import others
from station.weighing.sight import Sight
from station.weighing.thermometer import by_eye


def forms(sight: Sight, name: str | None) -> tuple[Form, ...]:
    """For the line or step `name` that is shown."""
    batch = sight.station.open
    if batch is None:
        return ()
    if batch.tally is not None:
        return forms_while_counting(batch.tally)
    if isinstance(step := batch.step(name or ""), Step):
        warm = _temperature(sight, step.name) if step.temperature else []
        return (*warm, *_casing(batch), *forms_to_taste(sight.facts))
    return (*_typed(sight, batch, name or ""), *forms_to_taste(sight.facts))


def _temperature(sight: Sight, step: str) -> list[Form]:
    """How warm it is at the end of a step, by each thermometer that a person reads."""
    names = by_eye(sight.thermometers)
    if not names:
        return [Form("step", {"name": step}, "value", "degC", f"{step} ends at so warm")]
    return [
        Form(
            "step",
            {"name": step, "thermometer": name},
            "value",
            "degC",
            f"{step} ends at so warm, by {name}",
        )
        for name in names
    ]


def _casing(batch: Batch) -> list[Form]:
    """How much casing is taken, before all is filled."""
    if batch.formula.casing is None:
        return []
    return [Form("casing", {}, "length", "m", f"so much {batch.formula.casing.name} is taken")]


def _typed(sight: Sight, batch: Batch, name: str) -> list[Form]:
    """A net weight where the scale of the line cannot be read; what two must have read once for
    each who can be the second."""
    if batch.opened.ahead:
        return []  # nobody's word is enough for a bag that is told by its weight
    if name in batch.meats:
        pan = sight.meat_pan(batch.meats[name])
        two = any(key_first(batch, line) for line in batch.lines.values())
    elif name in batch.lines:
        pan = sight.look(batch.lines[name]).pan
        two = key_first(batch, batch.lines[name])
    else:
        return []
    if pan is None or not {trouble.reason for trouble in pan.troubles} & DEAD:
        return []
    scale = pan.scale.name
    params = {"line": name, "scale": scale, "reason": WHY}
    means = f"{name} by hand"
    if not two:
        return [Form("by-hand", params, "net", "g", means, danger=True)]
    return [
        Form("by-hand", {**params, "second": n}, "net", "g", f"{means}, {n} reads it", danger=True)
        for n in others(batch)
    ]
