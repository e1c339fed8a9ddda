"""`station label`: what a label may say of a batch as it was weighed."""

from pathlib import Path

import click

from station import CAUTION
from station.audit.label import Label, NoLabel, label
from station.cli.answering import answer_json, end, folded, one_form, opened
from station.cli.common import CANNOT, config_option, fail, files, json_option, ledger_option, say
from station.cli.html import clean, html_option, write_page
from station.cli.paper import plain
from station.ledger.asking import Asked
from station.opening import read_counting
from station.resources import Config

READ = "read from the events of this batch, not verified: station ledger verify does that"


@click.command("label", epilog="Example: station label 261130-1 --json")
@click.argument("batch")
@html_option
@ledger_option
@config_option
@json_option
def label_of(
    batch: str, html: Path | None, ledger: Path, config: Path | None, as_json: bool
) -> None:
    """What a label may say of BATCH as it was weighed: ingredients, allergens, meat, salt.

    With --html its allergens stand out. It reads the batch's own events and does not verify the
    ledger: station ledger verify does.
    """
    one_form(as_json, html=html)
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
    elif html is not None:
        told = (clean(answer), [plain(line) for line in answer.text.splitlines()])
        write_page(html, "label_page", found.verdict, found.simulated, READ, *told)
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
