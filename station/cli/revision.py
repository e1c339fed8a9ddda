"""A formula's next revision, in a file of its own; never over the old one."""

import re
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

from station.cli.common import NO, fail, write_new
from station.formula.law import Law, findings
from station.formula.model import Formula
from station.formula.rewrite import with_amounts


def write_revision(
    old: tuple[str, Path],
    wanted: Formula,
    law: tuple[str, Law],
    meat_g: Fraction,
    to: Path | None,
    way_out: Callable[[], str],
) -> Path:
    """Write `wanted` beside the old file, given as (text, path), or to `to`; where it was written.
    What the law (of whom, which) refuses is not written, and `way_out` says the next step then."""
    text, file = old
    try:
        changed = with_amounts(text, str(file), wanted)
    except ValueError as error:
        fail(str(error), "change the file by hand, and check it", NO)
    broken = [f for f in findings(wanted, law[1], meat_g) if f.severity == "broken"]
    if broken:
        told = "; ".join(f"{f.line}: {f.text} ({f.source})" for f in broken)
        fail(f"the law of {law[0]} refuses it: {told}", way_out(), NO)
    path = to or _beside(file, wanted.revision)
    write_new(path, changed, "say another with --to", "say another file with --to")
    return path


def _beside(file: Path, revision: int) -> Path:
    stem = re.sub(rf"-{revision - 1}$", "", file.stem)
    return file.with_name(f"{stem}-{revision}{file.suffix}")
