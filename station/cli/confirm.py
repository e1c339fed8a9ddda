"""A person compares what a grammar reads with the scale's own display, before it is believed."""

import sys
from collections.abc import Callable

import click

from drivers.grammar import Grammar
from drivers.identify import proves_nothing, shown
from station.cli.common import NO, fail, say

LOADS = 2
"""Different loads that must be read as the display shows them."""
TRIES = 3
"""So often in a row nothing may be read."""


def confirmed(meant: list[Grammar], hear: Callable[[], bytes]) -> list[str]:
    """The names of the grammars that read two different loads as the display shows them.

    `meant` are those that could be it; `hear` brings what arrives now. Ends the command where none
    is right, or where nobody can be asked.
    """
    if not sys.stdin.isatty():
        fail("a person must compare two loads with the display", "run it at a terminal", NO)
    say(f"\nOne format can look like another: compare {LOADS} loads with the scale's own display.")
    seen, in_vain = set[str](), 0
    while len(seen) < LOADS:
        _wait_for_load(len(seen) + 1)
        heard = hear()
        weights = {grammar.name: shown(heard, grammar) for grammar in meant}
        told = sorted({weight for weight in weights.values() if weight})
        in_vain = 0 if told else in_vain + 1
        if in_vain == TRIES:
            fail(
                f"{TRIES} times no weight was read: it sends something that was not seen before",
                "begin again with the loads that it did not read; station scale listen shows them",
                NO,
            )
        if not told:
            say("  no weight was read: wait until it stands still, then try again")
        elif useless := _useless(told, seen):
            say(f"  {useless}")
        else:
            right = _answer(told)
            meant = [grammar for grammar in meant if weights[grammar.name] == right]
            seen.add(right)
    return [grammar.name for grammar in meant]


def _useless(told: list[str], seen: set[str]) -> str:
    """Why these weights would prove nothing; "" where they do."""
    for weight in told:
        if proves_nothing(weight):
            return f"{weight} reads the same backwards and proves nothing: another load, please"
        if weight in seen:
            return f"{weight} was there before: another load, please"
    return ""


def ask_person(text: str) -> str:
    """What a person types; ends the command where nobody does."""
    try:
        answer: str = click.prompt(text, default="", show_default=False, prompt_suffix=" ")
    except click.Abort:
        say()
        fail("nobody answered, so no lines are given", "run it again beside the scale", NO)
    return answer.strip().lower()


def _wait_for_load(number: int) -> None:
    which = "a light one" if number == 1 else "as heavy as it bears"
    ask_person(
        f"load {number} of {LOADS}, {which}: put it on, wait until it stands still, press Enter"
    )


def _answer(told: list[str]) -> str:
    """The weight that the display shows, of all that could be meant; ends the command where it
    shows none of them."""
    if len(told) == 1:
        question, answers = f"  does the display show {told[0]}? [y/n]", {"y": told[0], "n": ""}
    else:
        for number, weight in enumerate(told, 1):
            say(f"  {number}: {weight}")
        question = "  which of them does the display show (0: none)?"
        answers = {"0": "", **{str(number): weight for number, weight in enumerate(told, 1)}}
    while (answer := ask_person(question)) not in answers:
        say(f"  type one of {', '.join(answers)}")
    right = answers[answer]
    if not right:
        fail(
            "no grammar reads what the display shows: it is another format",
            "let station scale new work it out, or describe it in a file (GRAMMARS.md)",
            NO,
        )
    return right
