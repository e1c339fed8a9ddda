"""Answers that several refusals offer."""

from station.weighing.commands import Offer

MORE_WENT_IN = "go on; or more went in on top"


def more_went_in(line: str) -> Offer:
    """More of a line is in the mix than is recorded."""
    means = f"more {line} went in, unweighed"
    return Offer("tip", {"line": line, "more": True}, danger=True, means=means)


def went_in(line: str) -> Offer:
    """A line went in before it was accepted."""
    means = f"{line} went in unaccepted"
    return Offer("tip", {"line": line, "unaccepted": True}, "in-mix", danger=True, means=means)
