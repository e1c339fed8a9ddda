"""The command line: one command, its verbs loaded when they are used."""

from importlib import import_module

import click
from click.shell_completion import CompletionItem

from station import CAUTION, __version__
from station.weighing.commands import METHODS, READING

_OWN: dict[str, tuple[str, str]] = {
    "run": ("station.cli.run:run", "Run the station in the foreground."),
    "demo": (
        "station.cli.demo:demo",
        "Run an invented kitchen on two simulated scales.",
    ),
    "bench": ("station.cli.bench:bench", "The display at the bench: one word, one number."),
    "follow": ("station.cli.verbs:follow", READING["follow"].help),
    "state": ("station.cli.verbs:state", READING["state"].help),
    "metrics": ("station.cli.verbs:metrics", READING["metrics"].help),
    "way-back": ("station.cli.verbs:way_back", READING["way-back"].help),
    "lot": ("station.cli.verbs:lot", "Lots of regulated goods."),
    "formula": ("station.cli.formula:formula", "Formulas: check them against the law."),
    "plan": ("station.cli.planning:plan", "What several batches need, from which lots."),
    "audit": ("station.cli.audit:audit", "What really went in against what was planned."),
    "tag": ("station.cli.tag:tag", "Six lines for each kind of pack, to print or to copy."),
    "label": ("station.cli.label:label_of", "What a label may say of a batch."),
    "scale": ("station.cli.scale:scale", "Scales: find them, listen to them, describe them."),
    "doctor": ("station.cli.doctor:doctor", "Look at ports, rights, clock, disk and ledger."),
    "manual": ("station.cli.manual:manual", "Write the manual pages, made from the help."),
    "completion": ("station.cli.manual:completion", "Print a script that completes the verbs."),
    "ledger": ("station.cli.ledger:ledger", "The ledger: verify it, copy it, repair it."),
}


_INSIDE = frozenset({"lag", "review-lot"})
"""Methods that are verbs of a group: `scale lag`, `lot review`."""

_SECTIONS: dict[str, tuple[str, ...]] = {
    "Before the batch": (
        "demo",
        "run",
        "bench",
        "scale",
        "vessel",
        "formula",
        "plan",
        "open",
        "lot",
    ),
    "At the bench": (
        *("use", "weigh-on", "accept", "end", "meat-lot", "meat-out", "next-bag", "jar", "tip"),
        *("skip", "step", "who", "note", "park", "take-up", "close", "state", "follow"),
    ),
    "Once all is in the mix": (
        *("sample", "taste", "tasted", "casing", "rinse", "pieces", "packs", "dried", "links"),
        *("again", "strike", "leftover", "discard"),
    ),
    "When something went wrong": (
        *("way-back", "void", "by-hand", "zero", "clear-tare", "confirm-scale", "abandon"),
    ),
    "After the batch": ("audit", "label", "tag"),
    "Upkeep": ("doctor", "metrics", "ledger", "manual", "completion"),
}
"""Verbs in the order in which they are wanted."""


def _shown() -> dict[str, tuple[str, ...]]:
    """As `--help` shows them: a verb of a new row that nobody gave a place stands at the bench."""
    placed = {name for names in _SECTIONS.values() for name in names}
    rest = tuple(name for name in METHODS if name not in placed | _INSIDE)
    return {
        title: (*names, *rest) if title == "At the bench" else names
        for title, names in _SECTIONS.items()
    }


GROUPS = _shown()


class Verbs(click.Group):
    """A group whose verbs are known by name and help, and imported only when run."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return sorted({*_OWN, *METHODS} - _INSIDE)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name in _OWN:
            module, _, attribute = _OWN[cmd_name][0].partition(":")
            command: click.Command = getattr(import_module(module), attribute)
            return command
        if cmd_name in METHODS and cmd_name not in _INSIDE:
            make = import_module("station.cli.verbs").verb
            made: click.Command = make(METHODS[cmd_name])
            return made
        return None

    def shell_complete(self, ctx: click.Context, incomplete: str) -> list[CompletionItem]:
        """By names and helps alone: completing loads no verb."""
        items = [
            CompletionItem(name, help=self._help(name))
            for name in self.list_commands(ctx)
            if name.startswith(incomplete)
        ]
        return items + click.Command.shell_complete(self, ctx, incomplete)

    def _help(self, name: str) -> str:
        return _OWN[name][1] if name in _OWN else METHODS[name].help

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        for title, names in GROUPS.items():
            with formatter.section(title):
                formatter.write_dl([(name, self._help(name)) for name in names])


@click.group(
    cls=Verbs,
    help=f"A bench weighing station for sausage and cured meat.\n\n{CAUTION}",
    epilog="Example: station demo",
)
@click.version_option(__version__, prog_name="station")
def main() -> None:
    pass
