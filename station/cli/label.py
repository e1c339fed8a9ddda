"""`station label`: what a label may say of a batch as it was weighed."""

from pathlib import Path

import click

from station import CAUTION
from station.audit.label import Label, NoLabel, label
from station.cli.answering import answer_json, end, folded, opened
from station.cli.common import CANNOT, config_option, fail, files, json_option, ledger_option, say
from station.cli.paper import plain
from station.ledger.asking import Asked
from station.opening import read_counting
from station.resources import Config


@click.command("label", epilog="Example: station label 261130-1 --json")
@click.argument("batch")
@ledger_option
@config_option
@json_option
def label_of(batch: str, ledger: Path, config: Path | None, as_json: bool) -> None:
    """What a label may say of BATCH as it was weighed: ingredients, allergens, meat, salt.

    It reads the batch's own events and does not verify the ledger: station ledger verify does.
    """
    with files():
        counting = read_counting(Config(config))
    with opened(ledger) as found:
        try:
            answer = label(folded(found, batch), counting)
        except NoLabel as error:
            fail(
                f"batch {batch} has no label: {error}", "see its sheet: station audit batch", CANNOT
            )
    if as_json:
        answer_json(found, answer)
    else:
        _print(answer, found)
    end(found)


def _print(answer: Label, ledger: Asked) -> None:
    if ledger.verdict.reason:
        say(f"THE LEDGER IS BROKEN, do not trust this: {ledger.verdict.reason}")
    say(f"batch {answer.batch}{'  SIMULATED' if answer.simulated else ''}")
    say("")
    for line in answer.text.splitlines():
        say(plain(line))
    say("")
    say(CAUTION)
