"""The methods of the socket and the verbs of the command line: one table of words for both.

Only words, so that `station --help` loads nothing else; `methods.py` says what each one does.
"""

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Param:
    """One parameter. `kind`: one text, a flag, or a list of texts (one text counts as a list)."""

    name: str
    help: str
    required: bool = True
    kind: Literal["text", "flag", "texts"] = "text"


@dataclass(frozen=True, slots=True)
class Method:
    """One method: its name, one line of help, an example of its verb, its parameters."""

    name: str
    help: str
    example: str
    params: tuple[Param, ...]


_LINE = Param("line", "the line's name, as on the screen")
_REASON = Param("reason", "why, in a few words")


def _flag(name: str, text: str) -> Param:
    return Param(name, text, required=False, kind="flag")


_ALL = (
    Method(
        "open",
        "Open a batch of a formula, planned by meat, mix or pieces.",
        'station open garlic-ring --meat "12 kg" --who Ansel',
        (
            Param("formula", "the formula's file name, without .toml"),
            Param("meat", "weight of the meat block", required=False),
            Param("mix", "weight of the whole mix", required=False),
            Param("pieces", "number of pieces", required=False),
            Param("who", "who is at the bench"),
        ),
    ),
    Method(
        "lot",
        "Open a lot of a line, with the strength on its bag.",
        'station lot open "curing premix" L2291 --contains "sodium nitrite=6.25 %"',
        (
            _LINE,
            Param("lot", "the lot on the bag, or all of its scanned GS1 label"),
            Param("contains", "agent=share, as on the bag", required=False, kind="texts"),
            Param("expires", "the date on the bag, such as 2026-11-30", required=False),
            _flag("rescale", "another strength is meant: work the line and the salt out by it"),
            Param("second", "who else read a strength that is far off", required=False),
        ),
    ),
    Method(
        "jar",
        "Weigh the jar of a regulated line, before and after: what it lost is compared.",
        'station jar "curing premix" bench',
        (_LINE, Param("scale", "the scale it stands on")),
    ),
    Method(
        "vessel",
        "Record the empty weight of the vessel that stands on a scale.",
        'station vessel "cup 2" fine',
        (Param("name", "the vessel's name"), Param("scale", "the scale it stands on")),
    ),
    Method(
        "lag",
        "Record how late a scale is, from a weight set down on it three times or more.",
        "station scale lag fine",
        (Param("scale", "the scale's name"),),
    ),
    Method(
        "zero",
        "Zero a scale whose pan is empty, where it can be told to.",
        "station zero fine",
        (Param("scale", "the scale's name"),),
    ),
    Method(
        "clear-tare",
        "Clear the tare that somebody set on a scale, where it can be told to.",
        "station clear-tare fine",
        (Param("scale", "the scale's name"),),
    ),
    Method(
        "use",
        "Name the vessel or tub that is used now.",
        'station use "tub 1"',
        (
            Param("vessel", "the vessel's name"),
            Param("line", "a line other than the one whose turn it is", required=False),
        ),
    ),
    Method(
        "who",
        "Say who is at the bench.",
        "station who Brida",
        (Param("name", "a name from station.toml"),),
    ),
    Method(
        "accept",
        "The key: take a load of meat, arm the lift of a cure, accept onto the mix.",
        'station accept "curing premix"',
        (_LINE, _flag("as_weighed", "take it out of band, as weighed")),
    ),
    Method(
        "end",
        "End a meat line, or a load of several.",
        'station end "pork shoulder"',
        (_LINE, _flag("sure", "meat that is off the plan is right")),
    ),
    Method(
        "next-bag",
        "End a load with the vessel left on, and go on from another lot.",
        "station next-bag garlic G-118",
        (_LINE, Param("lot", "the new bag's lot, or all of its scanned GS1 label")),
    ),
    Method(
        "meat-out",
        "Weigh meat that leaves the block again.",
        'station meat-out "pork belly"',
        (_LINE,),
    ),
    Method(
        "tip",
        "Say that what stands is in the mix.",
        "station tip salt",
        (
            _LINE,
            _flag("unaccepted", "it went in before it was accepted"),
            _flag("more", "more went in than is recorded, nobody knows how much"),
            Param("lot", "the bag it came from, if not the one in use", required=False),
        ),
    ),
    Method(
        "void",
        "Take back what is not in the mix.",
        'station void salt "poured from a wet bag"',
        (_LINE, _REASON),
    ),
    Method(
        "skip", "Leave a line for the end.", 'station skip garlic "not delivered"', (_LINE, _REASON)
    ),
    Method(
        "by-hand",
        "Take a net weight that was read and typed, because no scale can send it.",
        'station by-hand salt "209.6 g" fine "its cable is torn"',
        (
            _LINE,
            Param("net", "the net weight, with its unit"),
            Param("scale", "the scale it was read on"),
            _REASON,
            Param("second", "who else read it; a cure wants one", required=False),
            _flag("in_mix", "it is in the mix already"),
            Param("lot", "with in_mix: the bag it came from, if another", required=False),
        ),
    ),
    Method("park", "Put the batch aside for another one.", "station park", ()),
    Method(
        "take-up",
        "Bring a parked batch back to the bench.",
        "station take-up 261130-1",
        (Param("batch", "the parked batch"),),
    ),
    Method(
        "step",
        "End a process step, with a value if there is one.",
        'station step "knead until tacky" --value "9 degC"',
        (Param("name", "the step's name"), Param("value", "what was found", required=False)),
    ),
    Method(
        "note",
        "Write a note into the ledger.",
        'station note "the belly was very fat"',
        (Param("text", "the note"),),
    ),
    Method(
        "close",
        "Close the batch; name every line that is skipped or out of band.",
        "station close --named garlic",
        (Param("named", "a line that is not as planned", required=False, kind="texts"),),
    ),
    Method(
        "abandon",
        "Give the batch up, after review.",
        'station abandon "salt poured twice"',
        (_REASON,),
    ),
)

METHODS: dict[str, Method] = {method.name: method for method in _ALL}
"""Every method that decides something, by name."""

READING: dict[str, Method] = {
    "state": Method("state", "Print the state of the bench now.", "station state --json", ()),
    "follow": Method("follow", "Print a line for every change.", "station follow --json", ()),
}
"""The methods that only read."""
