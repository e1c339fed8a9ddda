"""`station tag`: six lines for each kind of pack."""

from pathlib import Path

import click

from station.audit.tag import Tag, tags
from station.cli.answering import answer_json, end, folded, opened
from station.cli.common import CANNOT, fail, json_option, ledger_option, local, say


@click.command("tag", epilog="Example: station tag 261130-1 > /dev/usb/lp0")
@click.argument("batch")
@ledger_option
@json_option
def tag(batch: str, ledger: Path, as_json: bool) -> None:
    """Six lines for each kind of pack of BATCH, as plain text: to print, or to copy by hand.

    Name, batch, day packed, use by, stated weight, place. An empty line stands between two kinds.
    """
    with opened(ledger) as found:
        made = tags(folded(found, batch), lambda at: local(at)[:10])
        if not made:
            fail(f"batch {batch} has no packs", "weigh some: station packs --help", CANNOT)
        if as_json:
            answer_json(found, {"tags": made})
        else:
            _print(made, found.simulated, found.verdict.reason)
        end(found)


def _print(made: tuple[Tag, ...], simulated: bool, broken: str | None) -> None:
    if broken:
        say(f"THE LEDGER IS BROKEN, do not trust this: {broken}", err=True)
    for number, one in enumerate(made):
        if number:
            say()
        for line in one.lines:
            say(line)
        if simulated:
            say("SIMULATED")
