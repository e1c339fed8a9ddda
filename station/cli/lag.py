"""`station scale lag`: how late a scale is, told by a weight that is set down on it and lifted."""

from pathlib import Path
from typing import Any

import click

from station.cli.common import client, json_option, print_json, say, socket_option
from station.client import Client
from station.pan.lag import LEAST_STEP_D, LEAST_STEPS


@click.command(epilog="Example: station scale lag fine")
@click.argument("scale")
@socket_option
@json_option
def lag(scale: str, socket: Path, as_json: bool) -> None:
    """Set a weight on SCALE and lift it, until three steps or more are clear; then it is recorded.

    The station runs meanwhile, and nothing is weighed on that scale. Ctrl-C gives it up.
    """
    say(
        f"Set a weight of {LEAST_STEP_D} divisions or more on {scale}, let it settle, lift it off,"
        f" let it settle; until {LEAST_STEPS} steps are clear.",
        err=as_json,
    )
    with client(socket, as_json=as_json) as follower:
        _watch(follower, scale, as_json)
    with client(socket, as_json=as_json) as station:
        result = station.call("lag", {"scale": scale})
    if as_json:
        print_json(result)
    else:
        say(result["answer"])


def _watch(follower: Client, scale: str, as_json: bool) -> None:
    """Say what every step told, until enough of them are clear."""
    known: set[float] | None = None
    clear = 0
    for change in follower.changes():
        if scale not in change["scales"]:
            return  # the station refuses it, and says which scales there are
        steps: list[dict[str, Any]] = change["scales"][scale]["steps"]
        if known is None:
            known = {step["at_s"] for step in steps}
        for step in steps:
            if step["at_s"] in known:
                continue
            known.add(step["at_s"])
            clear += step["window_s"] is not None
            told = step["why"] or f"{step['shape']}, {step['window_s']:.3f} s"
            say(f"  {step['grams']:+.2f} g: {told}", err=as_json)
        if clear >= LEAST_STEPS:
            return
