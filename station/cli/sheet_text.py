"""The batch sheet as text: black and white, as wide as the terminal."""

from collections.abc import Iterator

import msgspec
from rich.console import Console
from rich.table import Table

from station.audit.capability import band_ends
from station.audit.rows import AdditionRow, BatchSheet, RefusalRow, SaltPercent, WeighedAmount
from station.cli.common import clock, local
from station.cli.paper import plain, printer
from station.cli.product_text import product_lines

_JUDGED = {"unread": "nobody read how warm it was"}
"""What is said of a verdict that no figure explains."""


def print_sheet(sheet: BatchSheet) -> None:
    """The sheet for a person; black and white, as wide as the terminal."""
    console = printer()
    sheet = msgspec.convert(plain(msgspec.to_builtins(sheet)), BatchSheet)
    stamp = "  SIMULATED" if sheet.simulated else ""
    console.print(f"Batch {sheet.batch}  {sheet.formula} revision {sheet.revision}{stamp}")
    opened = f"opened {local(sheet.opened_at)} by {sheet.opened_by}"
    console.print(f"{opened}, planned by {sheet.planned}, state: {sheet.state}")
    if sheet.broken:
        console.print(f"THE LEDGER IS BROKEN, do not trust this sheet: {sheet.broken}")
    for reason in sheet.hold:
        console.print(f"ON HOLD: {reason}")
    console.print()
    console.print(_meat(sheet))
    console.print()
    console.print(_additions(sheet, console.width))
    for row in sheet.additions:
        console.print(_detail(row))
        for line in _loads(row):
            console.print(line)
    for step in sheet.steps:
        limit = f" (meant {step.limit})" if step.limit else ""
        since = f"{clock(step.started)} to " if step.started else ""
        judged = "; ".join(step.misses) or _JUDGED.get(step.verdict, "")
        found = ", ".join(part for part in (step.said, judged) if part)
        why = f"; {step.reason}" if step.reason else ""
        console.print(f"{step.name}{limit}: {found}, {since}{clock(step.ended)}, {step.who}{why}")
    if sheet.salt_percent.planned is not None:
        _amounts(console, sheet)
    for line in product_lines(sheet):
        console.print(line)
    _remarks(console, "warnings", [(row.at, row.addition, row.text) for row in sheet.warnings])
    _remarks(console, "refused", [(row.at, row.addition, _refused(row)) for row in sheet.refusals])
    _remarks(console, "notes", [(row.at, None, row.text) for row in sheet.notes])
    console.print(f"\nledger: {sheet.events} events, head {sheet.head}")
    console.print(f"opened by version {sheet.version}, configuration {sheet.configured}")
    console.print(f"sheet code {sheet.code}")
    if sheet.proof is not None:
        console.print(f"proved: {sheet.proof.proves}")
        if sheet.proof.leaves is not None:
            console.print(f"not looked at: {sheet.proof.leaves}")
    console.print(sheet.caution)


def _refused(row: RefusalRow) -> str:
    return row.reason if row.times == 1 else f"{row.reason} ({row.times} more like it)"


def _remarks(console: Console, title: str, rows: list[tuple[str, str | None, str]]) -> None:
    """(when, about which line, text), under a title."""
    if rows:
        console.print(f"\n{title}:")
    for at, line, text in rows:
        named = text if not line or line in text else f"{line}: {text}"
        console.print(f"  {clock(at)} {named}")


def _meat(sheet: BatchSheet) -> Table:
    table = Table(box=None, pad_edge=False)
    for name in ("meat", "planned g", "actual g", "loads"):
        table.add_column(name, justify="left" if name == "meat" else "right")
    for row in sheet.meat:
        table.add_row(row.name, row.planned_g or "", row.actual_g, str(len(row.loads)))
    for row in sheet.meat:
        for load in row.loads:
            if load.by_hand:
                text = f"  BY HAND: {load.net_g} g, {load.by_hand} ({load.who})"
                table.add_row(text, "", "", "")
    table.add_row("meat block", sheet.plan_g or "", sheet.meat_g, "")
    return table


def _amounts(console: Console, sheet: BatchSheet) -> None:
    salt = sheet.salt_percent
    actual = f"{_at_least(salt)}{salt.actual}"
    console.print(f"\ntotal salt: planned {salt.planned} %, as weighed {actual} % of the meat")
    for row in sheet.limits:
        actual = f"{_at_least(row)}{row.actual}"
        if row.at_most:
            actual += f", at most {row.at_most}"
        console.print(
            f"{' and '.join(row.agents)}: planned {row.planned}, as weighed {actual},"
            f" limit {row.limit} {row.unit} of the {row.basis} ({row.source})"
        )


_WIDE = 66
"""Columns that the differences need: a number cut short would be another number."""


def _at_least(sums: SaltPercent | WeighedAmount) -> str:
    return "at least " if sums.at_least else ""


def _additions(sheet: BatchSheet, width: int) -> Table:
    table = Table(box=None, pad_edge=False)
    table.add_column("addition", overflow="fold")
    columns = {"target_g": "target g", "actual_g": "actual g"}
    if width >= _WIDE:
        columns |= {"difference_g": "diff g", "difference_percent": "diff %"}
    columns["verdict"] = "verdict"
    for title in columns.values():
        table.add_column(title, justify="right", no_wrap=True)
    for row in sheet.additions:
        table.add_row(row.name, *(getattr(row, column) or "-" for column in columns))
    return table


def _loads(row: AdditionRow) -> Iterator[str]:
    for number, load in enumerate(row.told_apart, 1):
        amount = "an unknown amount" if load.actual_g is None else f"{load.actual_g} g"
        where = "in the mix" if load.in_mix else f"still stands in {load.vessel or 'its vessel'}"
        yield (
            f"  load {number}: {amount}, {where}, {load.scale or 'no scale'},"
            f" {clock(load.at)}, {load.who}, lot {load.lot or 'none told'}"
        )


def _detail(row: AdditionRow) -> str:
    if row.lower_g is None:
        return f"{row.name}: not weighed, there was no meat"
    more = f", MORE WENT IN, nobody knows how much ({row.unknown_more})" if row.unknown_more else ""
    if row.actual_g is None:
        return f"{row.name}: band {' to '.join(band_ends(row))} g, not weighed{more}"
    accepted = ""
    if row.accept_lower_g:
        accepted = f", accepted from {row.accept_lower_g} to {row.accept_upper_g} g"
    lot = f", lot {row.lot}" if row.lot else ""
    by_hand = f", BY HAND: {row.by_hand}" if row.by_hand else ""
    residue = f", {row.residue_g} g clung to the vessel" if row.residue_g else ""
    return (
        f"{row.name}: band {' to '.join(band_ends(row))} g{accepted},"
        f" {row.scale}, {clock(row.at) if row.at else ''}, {row.who}{lot}{residue}{by_hand}{more}"
    )
