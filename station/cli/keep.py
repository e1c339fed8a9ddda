"""`station formula keep`: what was wished after tasting, as the formula's next revision."""

from fractions import Fraction
from pathlib import Path

import click
from msgspec.structs import replace

from station.batch.state import Batch
from station.cli.answering import folded, opened
from station.cli.common import (
    CANNOT,
    config_option,
    fail,
    files,
    json_option,
    ledger_option,
    print_json,
    say,
)
from station.cli.revision import write_revision
from station.formula.model import Amount, Formula
from station.formula.quantities import parse_amount
from station.formula.sheet import parse_formula
from station.opening import read_rules
from station.resources import Config, packaged
from station.tomlfile import FileMistakes
from station.units import plain


@click.command("keep", epilog="Example: station formula keep 261130-1")
@click.argument("batch")
@click.option("--to", type=click.Path(path_type=Path, dir_okay=False), help="The new file.")
@ledger_option
@config_option
@json_option
def keep(batch: str, to: Path | None, ledger: Path, config: Path | None, as_json: bool) -> None:
    """Write what was wished in BATCH after tasting as the next revision of its formula.

    Every remark stays; no file is ever written over. Nothing is written that the law refuses: then
    the exit status is 1.
    """
    with opened(ledger) as found:
        made = folded(found, batch)
    wished = {line.name: line.wished for line in made.lines.values() if line.wished is not None}
    if not wished:
        what = f"nothing was wished in batch {batch}"
        fail(what, 'say it after tasting: station taste LINE "1.9 %"', CANNOT)
    with files():
        folders = Config(config)
        text, file = _file_of(folders, made)
        _, law = read_rules(folders, made.opened.authority, made.formula)
    amounts = {name: _amount(Fraction(share)) for name, share in wished.items()}
    wanted = _with(made.formula, amounts)
    path = write_revision(
        (text, file),
        wanted,
        (made.opened.authority, law),
        Fraction(made.meat_g),
        to or (Path(file.name) if packaged() in file.parents else None),
        lambda: "change the file by hand, and check it",
    )
    rows = [
        {"line": name, "was": made.formula.addition(name).amount.text, "amount": amount.text}
        for name, amount in amounts.items()
    ]
    if as_json:
        print_json({"file": str(path), "revision": wanted.revision, "changed": rows})
        return
    say(f"{path}: {wanted.name}, revision {wanted.revision}")
    for row in rows:
        say(f"  {row['line']}: {row['was']} -> {row['amount']}")


def _amount(share: Fraction) -> Amount:
    return parse_amount(f"{plain(share * 100)} %")


def _with(formula: Formula, amounts: dict[str, Amount]) -> Formula:
    """The next revision, with those amounts."""
    lines = tuple(
        replace(line, amount=amounts.get(line.name, line.amount)) for line in formula.additions
    )
    return replace(formula, revision=formula.revision + 1, additions=lines)


def _file_of(folders: Config, batch: Batch) -> tuple[str, Path]:
    """The text and the place of the file that the batch was opened by."""
    for name in folders.names("formulas"):
        text, file = folders.read(f"formulas/{name}.toml")
        if _reads_as(text, file, batch.formula):
            return text, Path(file)
    told = f"{batch.formula.name}, revision {batch.formula.revision}"
    return fail(
        f"no file is {told}, as the batch was opened by",
        "put that file back, or write the amounts into the new one by hand",
        CANNOT,
    )


def _reads_as(text: str, file: str, formula: Formula) -> bool:
    """Whether a file is that formula; `formula check` tells what is wrong with one that is none."""
    try:
        return parse_formula(text, file) == formula
    except FileMistakes:
        return False
