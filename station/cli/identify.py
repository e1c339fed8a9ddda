"""`station scale identify`: which speed and which grammar fit an unknown scale."""

import asyncio
import sys
from collections.abc import Collection
from dataclasses import replace
from pathlib import Path

import click

from drivers.grammar import Grammar, GrammarError
from drivers.identify import SPEEDS, Fit, fits, hint, legible, parity_of, unread_in
from drivers.kinds import load_any
from drivers.kinds.text import TextKind
from drivers.link import LinkState, PortSettings
from drivers.ports import ports
from drivers.unread import Suspicion
from station.cli.common import CANNOT, NO, config_option, fail, files, json_option, print_json, say
from station.cli.confirm import confirmed
from station.cli.heard import dump, unread_object
from station.cli.listening import chunks_at
from station.resources import Config, ResourceError

LISTENS_S = 1.6
"""How long one speed is listened to: a few frames of a slow scale."""

Best = tuple[int, bytes, list[Fit], Grammar | None]
"""Speed, bytes, what fits them, and the grammar whose question they answer."""


@click.command(epilog="Example: station scale identify /dev/ttyUSB0")
@click.argument("port")
@click.option("--ask", is_flag=True, help="Also ask, where a grammar knows how: it sends bytes.")
@config_option
@json_option
def identify(port: str, ask: bool, config: Path | None, as_json: bool) -> None:
    """Which speed and which grammar fit the scale at PORT; lines for station.toml to paste.

    It only listens, unless told to ask. The lines come once two loads were read as the scale's own
    display shows them: one format can be taken for another.
    """
    with files():
        known = _grammars(Config(config))
    found = asyncio.run(_identify(port, known, ask))
    if isinstance(found, LinkState):
        fail(found.reason, found.next, CANNOT)
    baud, data, best, asked = found
    sure = [fit for fit in best if fit.sure]
    if as_json:
        print_json(
            {
                "port": port,
                "baud": baud,
                "fits": [
                    {
                        "grammar": fit.grammar,
                        "bits": fit.bits,
                        "readings": fit.readings,
                        "share": f"{fit.share:.3f}",
                        "sample": fit.sample,
                        "unread_check": unread_object(fit.unread),
                    }
                    for fit in best
                ],
                "bytes": data[:256].hex(),
                "hint": "" if sure else hint(data),
            }
        )
    else:
        _print_fits(baud, data, best)
        if sure:
            meant = [grammar for grammar in known if grammar.name in {fit.grammar for fit in sure}]
            loads = [data]
            names = confirmed(meant, lambda: _heard_now(port, baud, asked, loads))
            told = {fit.grammar for fit in best if fit.unread is not None}
            for grammar in meant:
                if grammar.name in names and grammar.name not in told:
                    _print_unread(unread_in(loads, grammar))
            polled = {grammar.name for grammar in known if grammar.poll is not None}
            _print_right(port, baud, [fit for fit in sure if fit.grammar in names], polled)
    sys.exit(0 if sure else NO)


def _heard_now(port: str, baud: int, asked: Grammar | None, loads: list[bytes]) -> bytes:
    """What arrives now, also put to what was heard before."""
    heard = asyncio.run(_hear(port, baud, asked))
    if isinstance(heard, LinkState):
        fail(heard.reason, heard.next, CANNOT)
    loads.append(heard)
    return heard


async def _identify(port: str, known: list[Grammar], ask: bool) -> LinkState | Best:
    """What the best speed brought, or why the port cannot be read."""
    best: Best = (SPEEDS[0], b"", [], None)
    for asking in [False, True] if ask else [False]:
        polls = [grammar for grammar in known if grammar.poll is not None] if asking else [None]
        for baud in SPEEDS:
            for grammar in polls:
                if grammar is not None and grammar.line.baud != baud:
                    continue
                heard = await _hear(port, baud, grammar)
                if isinstance(heard, LinkState):
                    return heard
                found = fits(heard, known)
                if found and found[0].sure:
                    return baud, heard, found, grammar
                if _better(heard, found, best):
                    best = (baud, heard, found, grammar)
    return best


def _better(heard: bytes, found: list[Fit], best: Best) -> bool:
    if found and best[2]:
        return found[0].share > best[2][0].share
    return bool(found) or (not best[2] and legible(heard) > legible(best[1]))


async def _hear(port: str, baud: int, ask: Grammar | None) -> bytes | LinkState:
    """What arrives at one speed; with `ask`, as the answers to that grammar's question."""
    poll = None if ask is None else ask.poll
    question = b"" if poll is None else poll.send.encode("latin-1")
    heard = await chunks_at(port, baud, LISTENS_S, question)
    return heard if isinstance(heard, LinkState) else b"".join(chunk for chunk, _ in heard)


def _print_fits(baud: int, data: bytes, best: list[Fit]) -> None:
    for fit in best:
        word = "fits" if fit.sure else "hardly fits"
        say(
            f"{fit.grammar} {word}: {fit.readings} readings, {fit.share * 100:.0f} % of the bytes"
            f" at {baud} {fit.bits}, such as {fit.sample}"
        )
        _print_unread(fit.unread)
    sure = [fit for fit in best if fit.sure]
    if not sure:
        say(f"nothing fits at any of {', '.join(map(str, SPEEDS))} baud")
        if data:
            say(f"at {baud} {parity_of(data)} the most signs arrived:")
        for at in range(0, min(len(data), 96), 16):
            say(dump(data[at : at + 16]))
        say(f"  next: {hint(data)}")
        if data:
            say("  or: station scale new PORT --name NAME --config FOLDER works it out with you")


def _print_unread(found: Suspicion | None) -> None:
    if found is not None:
        say(f"  {found.says}\n  next: {found.next}")


def _print_right(port: str, baud: int, right: list[Fit], polled: Collection[str]) -> None:
    """The lines, once a person has seen that the weights are right. `polled`: the grammars of
    scales that send only what they are asked for."""
    fit = right[0]
    if len(right) > 1:
        names = " and ".join(each.grammar for each in right)
        say(f"\n{names} read the same weights. Listen with each (station scale listen)")
        say("while the pan moves, bears too much, is tared: name the one that tells all of it.")
    unit = fit.sample.partition(" ")[2] or "..."
    print_lines(PortSettings(port, baud, fit.bits), fit.grammar, unit, fit.grammar in polled)


def print_lines(
    line: PortSettings, grammar: str, unit: str, asked: bool, max_text: str = "..."
) -> None:
    """What to paste for a scale that a grammar reads; `asked`: it sends only when it is asked;
    `max_text`: Max as its plate gives it, where that was said."""
    say("\nfor station.toml, with the scale's own plate beside you:\n")
    say('[[scale]]\nname = "..."')
    say(f'port = "{_stable(line.port)}"\ngrammar = "{grammar}"')
    say(f'baud = {line.baud}\nbits = "{line.bits}"')
    if asked:
        say('sends = "asked"')
    else:
        say('sends = "continuous"       # or stable: sends only what has settled')
    most = f'max = "{max_text}"'
    say(f'{most:<27}# Max on its plate\ndivision = "..."           # d')
    say('class = "III"              # in the oval on its plate')
    say(f'unit = "{unit}"')


def _stable(port: str) -> str:
    real = str(Path(port).resolve())
    return next((p.stable for p in ports() if p.device == real), port)


def _grammars(config: Config) -> list[Grammar]:
    """Every text grammar there is; one that is wrong is left out, with a word."""
    found = []
    for name in config.names("scales"):
        try:
            kind = load_any(*config.read(f"scales/{name}.toml"))
        except (GrammarError, ResourceError) as error:
            say(f"station: {error}", err=True)
            continue
        if isinstance(kind, TextKind):
            found.append(replace(kind.grammar, name=name))  # it is found by its file
    return found
