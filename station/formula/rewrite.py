"""A formula's text with other amounts: everything else stays, remarks and order included."""

import re

from msgspec.structs import replace

from station.formula.model import Formula
from station.formula.sheet import parse_formula
from station.tomlfile import FileMistakes

_REVISION = re.compile(r"^(\s*revision\s*=\s*)\d+", re.MULTILINE)


def with_amounts(text: str, filename: str, wanted: Formula) -> str:
    """The text of a formula file, so that it reads as `wanted`: the same lines, with other amounts
    and another revision. The remark behind an amount that changed says what it was, since what it
    said is true no more.

    Raises `ValueError` where the text cannot be changed so: what comes out is read again.
    """
    was = parse_formula(text, filename)
    text = _REVISION.sub(rf"\g<1>{wanted.revision}", text, count=1)
    was = replace(was, revision=wanted.revision)
    for old, new in zip(was.additions, wanted.additions, strict=True):
        if old.amount.text == new.amount.text:
            continue
        lines = tuple(new if a.name == new.name else a for a in was.additions)
        was = replace(was, additions=lines)
        text = _with_one(text, filename, old.amount.text, new.amount.text, was)
    return text


def _with_one(text: str, filename: str, old: str, new: str, wanted: Formula) -> str:
    """Each place that has the old amount is tried: the right one reads as what is wanted."""
    place = re.compile(rf"""(\bamount\s*=\s*)["']{re.escape(old)}["']([^\n#]*?)[ \t]*(#[^\n]*)?$""",
                       re.MULTILINE)  # fmt: skip
    for match in place.finditer(text):
        line = f'{match[1]}"{new}"{match[2]}  # was {old}'
        changed = text[: match.start()] + line + text[match.end() :]
        try:
            if parse_formula(changed, filename) == wanted:
                return changed
        except FileMistakes:
            continue
    raise ValueError(f'no line amount = "{old}" was found that could be changed to "{new}"')
