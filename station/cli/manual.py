"""`station manual` and `station completion`: what the shell knows of the command."""

from pathlib import Path

import click
from click.shell_completion import get_completion_class
from click_man.core import write_man_pages

from station import __version__
from station.cli.common import CANNOT, fail, json_option, print_json


@click.command(epilog="Example: station manual /usr/local/share/man/man1")
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False))
@json_option
@click.pass_context
def manual(context: click.Context, folder: Path, as_json: bool) -> None:
    """Write the manual pages into FOLDER, made from the help of every verb."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        root = context.find_root().command
        write_man_pages("station", _whole(root), version=__version__, target_dir=str(folder))
    except OSError as error:
        fail(f"{folder} cannot be written: {error.strerror}", "name another folder", CANNOT)
    pages = sorted(path.name for path in folder.glob("station*.1"))
    if as_json:
        print_json(pages)
    else:
        click.echo(f"{len(pages)} pages; man {folder / 'station.1'}")


def _whole(command: click.Command) -> click.Command:
    """The command with every verb loaded and its example in its text."""
    text = "\n\n".join(part for part in (command.help, command.epilog) if part)
    short = (command.help or "").strip().partition("\n")[0]
    if not isinstance(command, click.Group):
        return click.Command(command.name, params=command.params, help=text, short_help=short)
    context = click.Context(command)
    verbs = {
        name: _whole(found)
        for name in command.list_commands(context)
        if (found := command.get_command(context, name)) is not None
    }
    return click.Group(
        command.name, commands=verbs, params=command.params, help=text, short_help=short
    )


@click.command(epilog="Example: station completion bash > station.bash")
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
@json_option
@click.pass_context
def completion(context: click.Context, shell: str, as_json: bool) -> None:
    """Print the script that lets SHELL complete verbs and options."""
    kind = get_completion_class(shell)
    assert kind is not None  # the three that the choice allows
    script = kind(context.find_root().command, {}, "station", "_STATION_COMPLETE").source()
    if as_json:
        print_json({"shell": shell, "script": script})
    else:
        click.echo(script)
