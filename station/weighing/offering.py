"""Answers that several refusals offer."""

from station.batch.line import Line
from station.batch.state import Batch
from station.formula.model import Step
from station.weighing.commands import Offer
from station.weighing.people import others
from station.weighing.thermometer import Thermometers, at_ports

MORE_WENT_IN = "go on; or more went in on top"


def more_went_in(line: str) -> Offer:
    """More of a line is in the mix than is recorded."""
    means = f"more {line} went in, unweighed"
    return Offer("tip", {"line": line, "more": True}, danger=True, means=means)


def went_in(line: str) -> Offer:
    """A line went in before it was accepted."""
    means = f"{line} went in unaccepted"
    return Offer("tip", {"line": line, "unaccepted": True}, "in-mix", danger=True, means=means)


def saw_it_go_in(batch: Batch, line: Line) -> list[Offer]:
    """Who else may have seen the line tipped into the mix."""
    return [said_by(n, "tip", line, f"{line.name}: {n} saw it go in") for n in others(batch)]


def by_thermometer(thermometers: Thermometers, step: str) -> list[Offer]:
    """To end a step with what a thermometer shows, for each that the station reads."""
    return [
        Offer("step", {"name": step, "thermometer": one.name}, means=f"{one.name} {one.shows}")
        for one in at_ports(thermometers)
    ]


def rinsing(batch: Batch, step: Step) -> Offer:
    """The water of what soaks was changed once more."""
    count = batch.changes.get(step.name, 0) + 1
    means = f"its water is changed, {count} of {step.changes}"
    return Offer("rinse", {"name": step.name}, means=means)


def said_by(second: str, verb: str, line: Line, means: str, **more: str) -> Offer:
    """What a second person says of a line."""
    return Offer(verb, {"line": line.name, **more, "second": second}, danger=True, means=means)
