"""Salt against what is usual and what was once the least for what is eaten raw: it only advises."""

from fractions import Fraction
from typing import Literal

import msgspec

from station.formula.finding import Finding
from station.formula.ingoing import contents
from station.formula.model import PRODUCT_WORDS, Formula
from station.formula.quantities import parse_amount
from station.formula.scaling import ingoing_masses, mix_of, salt_g
from station.tomlfile import Table, TomlFile
from station.units import plain, rounded


class SaltRow(msgspec.Struct, frozen=True):
    """One row: all salt together, as a fraction of its basis, at least `least` and at most `most`.

    It holds when all its product words are among the formula's and none of `not_words` is; where it
    is about what is `eaten_raw`, for that alone.
    """

    words: tuple[str, ...]
    not_words: tuple[str, ...]
    eaten_raw: bool
    basis: Literal["meat block", "mix"]
    least: Fraction
    most: Fraction | None
    source: str
    seen: bool

    def holds(self, formula: Formula) -> bool:
        """Whether it is about this formula."""
        words = set(formula.product)
        return (
            set(self.words) <= words
            and not words & set(self.not_words)
            and (not self.eaten_raw or eaten_raw(formula))
        )


def eaten_raw(formula: Formula) -> bool:
    """Whether nothing but salt, acid and drying stands between a product and its eater: it is dried
    or fermented, or cured and raw, and never cooked (common practice)."""
    words = set(formula.product)
    return "cooked" not in words and bool(
        words & {"dried", "fermented"} or {"raw", "cured"} <= words
    )


def parse_salt(text: str, filename: str) -> tuple[SaltRow, ...]:
    """Read the file of salt's rows. Raises `FileMistakes`."""
    file = TomlFile(text, filename)
    rows = tuple(_row(table) for table in file.top.tables("salt"))
    file.top.finish()
    file.finish()
    return rows


def _row(table: Table) -> SaltRow:
    row = SaltRow(
        words=table.texts("words"),
        not_words=table.texts("not_words"),
        eaten_raw=table.flag("eaten_raw", False),
        basis=table.choice("basis", ("meat block", "mix")),  # type: ignore[arg-type]
        least=table.parsed("least", _share) or Fraction(0),
        most=table.parsed("most", _share, None),
        source=table.text("source"),
        seen=table.flag("seen", False),
    )
    table.known("words", row.words, PRODUCT_WORDS)
    table.known("not_words", row.not_words, PRODUCT_WORDS)
    table.finish()
    return row


def _share(text: str) -> Fraction:
    amount = parse_amount(text)
    if amount.on != "meat":
        raise ValueError(f"found {text!r}, expected a share such as '1.5 %' or '10 lb / 300 lb'")
    return amount.share


def check_salt(formula: Formula, rows: tuple[SaltRow, ...], meat_g: Fraction) -> list[Finding]:
    """What the rows say of all the salt of a formula, the premix's included."""
    salt = salt_g(ingoing_masses(formula, meat_g), contents(formula))
    findings = []
    for row in rows:
        if not row.holds(formula):
            continue
        share = salt / (mix_of(formula, meat_g) if row.basis == "mix" else meat_g)
        over = row.most is not None and share > row.most
        if share >= row.least and not over:
            continue
        on = "meat" if row.basis == "meat block" else "mix"
        found = f"{plain(rounded(share * 100, 2, up=over))} % of the {on}"
        least = f"{plain(rounded(row.least * 100, 2, up=True))} %"
        source = f"{row.source}; {'seen' if row.seen else 'not seen'}"
        if row.eaten_raw and not over:
            text = (
                f"TOO LITTLE SALT FOR WHAT IS EATEN RAW: {found}, where {least} was once the least;"
                " have the process judged before anybody eats it"
            )
            findings.append(Finding(formula.name, "warning", text, source))
        else:
            side = "over" if over else "under"
            usual = f"{least} to {plain(row.most * 100)} %" if row.most else f"{least} or more"
            text = f"salt is {found}, {side} the usual {usual}"
            findings.append(Finding(formula.name, "advice", text, source))
    return findings
