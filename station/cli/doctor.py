"""`station doctor`: what is wrong with this machine's station, and what to do."""

import sys
from dataclasses import asdict
from pathlib import Path

import click

from station.cli.common import (
    NO,
    WRONG_USE,
    config_option,
    fail,
    json_option,
    ledger_option,
    print_json,
    print_line,
    socket_option,
)
from station.doctor.examining import examine
from station.resources import Config, ResourceError


@click.command(epilog="Example: station doctor --config /etc/bench-weighing-station")
@config_option
@ledger_option
@socket_option
@json_option
def doctor(config: Path | None, ledger: Path, socket: Path, as_json: bool) -> None:
    """Look at configuration, ports, rights, clock, disk and ledger; say what to do.

    Exit status 1 if something wants mending. A port that no running station holds is opened and
    listened to for two seconds.
    """
    try:
        folders = Config(config)
    except ResourceError as error:
        fail(str(error), "check --config", WRONG_USE)
    found = []
    for item in examine(folders, ledger, socket):
        found.append(item)
        if not as_json:
            print_line(f"{'well' if item.well else 'MEND':5} {item.what}: {item.seen}")
            if not item.well:
                print_line(f"next: {item.next}", "      ")
    if as_json:
        print_json([asdict(item) for item in found])
    sys.exit(0 if all(item.well for item in found) else NO)
