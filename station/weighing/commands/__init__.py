"""What is asked for, in the imperative: by a person, or by the watch over a pan.

A class is a command; with a row (`verb`) above it, it is a method of the socket and a verb of the
command line too. Figures are `Decimal` grams by the time they get here.
"""

from station.weighing.commands.base import *  # noqa: F403 - every command, without a second list
from station.weighing.commands.base import Command, Method, Param
from station.weighing.commands.bench import *  # noqa: F403
from station.weighing.commands.product import *  # noqa: F403
from station.weighing.commands.seen import *  # noqa: F403
from station.weighing.commands.tasting import *  # noqa: F403
from station.weighing.commands.weighing import *  # noqa: F403

READING = {
    method.name: method
    for method in (
        Method("state", "Print the state of the bench now.", "station state --json", (), Command),
        Method("follow", "Print a line for every change.", "station follow --json", (), Command),
        Method(
            "metrics",
            "Print what the station counts, as OpenMetrics text.",
            "station metrics > bench.prom",
            (),
            Command,
        ),
        Method(
            "way-back",
            "Work out how too much in the mix is made right again; nothing is done.",
            'station way-back --meat "2 kg"',
            (
                Param("batch", "the batch, if not the one at the bench", required=False),
                Param("meat", "the meat that is at hand: what stays over with it", required=False),
            ),
            Command,
        ),
    )
}
"""The methods that only read."""
