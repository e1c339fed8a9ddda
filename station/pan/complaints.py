"""What a scale says of itself, or does not say, as troubles for a person."""

from drivers.reading import Condition
from station.pan.view import Reason, Trouble

_REPORTED: dict[Condition, tuple[Reason, str, str]] = {
    Condition.ERROR: (
        "error",
        "it reports an error of its own",
        "lift everything off, switch it off and on",
    ),
    Condition.OVERLOAD: ("overload", "too much is on the pan", "take something off"),
    Condition.UNDERLOAD: (
        "underload",
        "it shows less than nothing",
        "put its pan back, then zero it empty",
    ),
}


def reported(scale: str, condition: Condition, word: str) -> Trouble | None:
    """The trouble that the scale itself reports, with its own word for it ("Err 3"), or None."""
    if condition not in _REPORTED:
        return None
    reason, sentence, step = _REPORTED[condition]
    own = f" ({word})" if word else ""
    return Trouble(reason, f"{scale}: {sentence}{own}", step)


def silent(scale: str, age_s: int | None, babble: str) -> Trouble:
    """No reading since `age_s` seconds (None: never); `babble` are bytes that are no frame."""
    if babble:
        return Trouble(
            "stale", f"{scale}: bytes arrive but no frame ({babble})", "check speed and parity"
        )
    if age_s is None:
        step = "switch it on; check that it sends by itself"
        return Trouble("stale", f"{scale}: it has sent nothing yet", step)
    step = "check that it is on and its cable is in"
    return Trouble("stale", f"{scale}: silent for {age_s} s", step)


def zeroed(scale: str, tared: bool) -> Trouble:
    """It was tared or zeroed with something on it."""
    what = "tared" if tared else "zeroed"
    step = "lift everything off, clear the tare, zero it"
    return Trouble("zeroed", f"{scale}: it was {what} while loaded", step)


def backwards(scale: str) -> Trouble:
    sentence = f"{scale}: its readings run backwards in time"
    return Trouble("clock", sentence, "wait; restart the station")


def other_unit(scale: str, sends: str, wanted: str) -> Trouble:
    return Trouble("unit", f"{scale}: it sends {sends}, not {wanted}", "set its unit back")


def wandered(scale: str, off: str) -> Trouble:
    """Its empty pan shows so many grams."""
    step = "wipe the pan, then zero it empty"
    return Trouble("zero", f"{scale}: its empty pan shows {off} g", step)
