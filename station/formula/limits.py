"""The limits file of an authority: which agent, in which product, at most how much, says who."""

from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any, Literal

import msgspec

from station import units
from station.formula.masses import AGENTS, OTHER_AGENTS, factor, near_agent
from station.formula.model import CONTRADICTING, METHODS, PRODUCT_WORDS, ROLES, Formula
from station.formula.scaling import binder_share, cereal_share, share_of_role
from station.tomlfile import Table, TomlFile
from station.units import plain

AUTHORITIES = ("us", "eu", "gb")
OWN = "own"
"""Whose rows a maker's own are: beside those of every authority."""

CARRIERS = frozenset({"salt", "sugar", "dextrose", "water"})
"""What a premix may carry its agent in; not agents themselves."""

SOY = "isolated soy protein"
"""A binder that composition judges by what is in it (`formula/composition.py`); no agent either."""

_ONLY_COUNTED = frozenset({"nitrite ion", "nitrate ion", "phosphorus pentoxide"})
_SOLD = {*AGENTS, *OTHER_AGENTS, *CARRIERS, SOY} - _ONLY_COUNTED
"""What a bag may say that it contains."""


Kind = Literal["ingoing", "required", "as needed", "residual"]
"""What a row is about: a most of what goes in, a least, neither, or what is left after processing,
which no scale can judge."""


class LimitRow(msgspec.Struct, frozen=True):
    """One row: holds when all its product words are among the formula's, one of `any_words` where
    it names any, none of `not_words`, and its method is one of `methods` where it names any; where
    it is `declared`, only by the maker's declaration.

    `maximum` is the mass of agent per mass of the basis, a plain fraction (156.25 mg/kg is
    0.00015625); for a required amount it is the least. `text` is the figure as the file says it.
    `expressed_as`: what each agent is counted as, None for itself. `only_with`: agents of which one
    must be in the formula too; `binder` and `cereal` are the least share of binders, or of cereal
    alone, that it asks for, of all ingredients of the batch as it is opened. A row on the mix is
    about what is added: it is judged on the meat block, which is stricter, or on the mix as made
    where the formula says so, and never on what drying leaves. A row on the product is judged on
    the meat block, or on what becomes product where that is less. `skin_free`: the basis is without
    the skin of the meat. `unless`: it does not hold where each of these roles brings so much of the
    meat, as a fraction; 0 for any amount. Only a row that was `seen` is enforced.
    """

    authority: str
    words: tuple[str, ...]
    agents: tuple[str, ...]
    basis: Literal["meat block", "mix", "product", "pickle"]
    maximum: Decimal
    text: str
    source: str
    seen: bool
    since: str
    kind: Kind = "ingoing"
    expressed_as: str | None = None
    only_with: tuple[str, ...] = ()
    methods: tuple[str, ...] = ()
    not_words: tuple[str, ...] = ()
    binder: Decimal | None = None
    cereal: Decimal | None = None
    skin_free: bool = False
    unless: tuple[tuple[str, Decimal], ...] = ()
    any_words: tuple[str, ...] = ()
    declared: bool = False

    @property
    def own(self) -> bool:
        """Whether it is the maker's own: it limits and allows nothing."""
        return self.authority == OWN

    @property
    def enforced(self) -> bool:
        """Whether it is a most that no weighing may pass."""
        return self.seen and self.kind == "ingoing"

    def counted(self, contains: Mapping[str, Any]) -> Fraction:
        """Mass of the row's agents, as the row expresses them, per mass of what `contains` them."""
        return sum(
            (
                Fraction(contains[agent]) * (factor(agent, self.expressed_as or agent))
                for agent in self.agents
                if agent in contains
            ),
            Fraction(0),
        )

    @property
    def unit(self) -> str:
        """mg/kg, and as what."""
        return f"mg/kg as {self.expressed_as}" if self.expressed_as else "mg/kg"


def parse_limits(text: str, filename: str) -> tuple[LimitRow, ...]:
    """Read the rows of a limits file. Raises `FileMistakes`."""
    file = TomlFile(text, filename)
    rows = limits_of(file)
    file.finish()
    return rows


def limits_of(file: TomlFile) -> tuple[LimitRow, ...]:
    """The same of a file that is read already; mistakes are noted in it."""
    authority = file.top.text("authority")
    named = file.filename.rpartition("/")[2].removesuffix(".toml")
    if named in (*AUTHORITIES, OWN) and authority != named:
        file.top.mistake("authority", f"found {authority!r} in a file named {named}")
    rows = [_row(table, authority) for table in file.top.tables("row")]
    if not rows:
        file.top.mistake("row", "missing, expected at least one [[row]]")
    file.top.has("composition")  # formula/composition.py reads those
    for key in ("label_salt", "allergens", "sulphites", "note", "vegetable_nitrite", "cold"):
        file.top.has(key)  # formula/law.py reads those
    file.top.finish()
    return tuple(rows)


def _row(table: Table, authority: str) -> LimitRow:
    kinds: tuple[str, ...] = Kind.__args__  # type: ignore[attr-defined]
    if authority == OWN:
        kinds = ("ingoing", "required")  # a row of the others would be kinder than the law
    kind = table.choice("kind", kinds, default="ingoing")
    key = {"required": "minimum", "as needed": ""}.get(kind, "maximum")
    agents = table.texts("agents")
    expressed_as = table.text("expressed_as", "") or None
    row = LimitRow(
        authority=authority,
        words=table.texts("words"),
        agents=agents,
        basis=table.choice("basis", ("meat block", "mix", "product", "pickle")),  # type: ignore[arg-type]
        maximum=(table.parsed(key, _minimum if key == "minimum" else _amount) if key else None)
        or Decimal(0),
        text=table.text(key) if key else "as needed",
        source=table.text("source"),
        seen=table.flag("seen", authority == OWN),
        since=table.parsed("since", _date) or "",
        kind=kind,  # type: ignore[arg-type]
        expressed_as=expressed_as,
        only_with=table.texts("only_with"),
        methods=table.texts("methods"),
        not_words=table.texts("not_words"),
        binder=table.parsed("binder", units.fraction, None),
        cereal=table.parsed("cereal", units.fraction, None),
        skin_free=table.flag("skin_free", False),
        unless=_unless(table),
        any_words=table.texts("any_words"),
        declared=table.flag("declared", False),
    )
    table.known("words", row.words, PRODUCT_WORDS)
    table.known("any_words", row.any_words, PRODUCT_WORDS)
    table.known("not_words", row.not_words, PRODUCT_WORDS)
    table.known("methods", row.methods, METHODS)
    table.known("unless", (role for role, _ in row.unless), ROLES)
    table.known("agents", (*row.agents, *row.only_with), {*AGENTS, *OTHER_AGENTS})
    if not row.agents:
        table.mistake("agents", "missing, expected the agents the row is about")
    for agent in agents if expressed_as else ():
        try:
            factor(agent, expressed_as or agent)
        except (KeyError, ValueError):
            table.mistake("expressed_as", f"{agent} cannot be expressed as {expressed_as}")
    table.finish()
    return row


def _unless(table: Table) -> tuple[tuple[str, Decimal], ...]:
    if not table.has("unless"):
        return ()
    roles = table.table("unless")
    return tuple((name, roles.parsed(name, units.fraction) or Decimal(0)) for name in roles.names)


def _minimum(text: str) -> Decimal:
    """A least, such as "550 mg/kg" or "550 mg/kg less 2 %", where one figure is least and most."""
    figure, _, less = text.partition(" less ")
    tolerance = units.fraction(less) if less else Decimal(0)
    return _amount(figure) * (1 - tolerance)


def _amount(text: str) -> Decimal:
    return units.more_than_nothing(units.fraction(text), text)


def _date(text: str) -> str:
    return date.fromisoformat(text).isoformat()


def agents_of(contains: Iterable[str]) -> list[str]:
    """The agents among what a line contains, carriers and soy protein left out."""
    return [agent for agent in contains if agent not in CARRIERS and agent != SOY]


def in_force(rows: Iterable[LimitRow], day: str) -> tuple[LimitRow, ...]:
    """The rows whose date of force has come, on a day as YYYY-MM-DD."""
    return tuple(row for row in rows if row.since <= day)


def about(
    formula: Formula, rows: Iterable[LimitRow], meat_g: Fraction = Fraction(10_000)
) -> tuple[LimitRow, ...]:
    """The rows that hold for a formula with so much meat, enforced or not."""
    return tuple(
        row
        for row in rows
        if _of_product(formula, row)
        and (not row.declared or formula.declaration)
        and (row.binder is None or binder_share(formula, meat_g) >= Fraction(row.binder))
        and (row.cereal is None or cereal_share(formula, meat_g) >= Fraction(row.cereal))
        and not _spared(formula, row)
    )


def _of_product(formula: Formula, row: LimitRow) -> bool:
    words = set(formula.product)
    return (
        set(row.words) <= words
        and (not row.any_words or bool(words & set(row.any_words)))
        and not words & set(row.not_words)
        and (not row.methods or formula.method in row.methods)
    )


def _words_wanted(row: LimitRow, have: set[str]) -> list[set[str]]:
    """What a row wants beside the words there are: each set of words would do."""
    base = set(row.words) - have
    if not row.any_words or have & set(row.any_words):
        return [base]
    return [base | {word} for word in row.any_words]


def _spared(formula: Formula, row: LimitRow) -> bool:
    """Whether each role that spares a row is there, with so much of the meat."""
    shares = [(share_of_role(formula, role), least) for role, least in row.unless]
    return bool(shares) and all(
        share is not None and share >= Fraction(least) for share, least in shares
    )


def agent_hint(formula: Formula, rows: Iterable[LimitRow], agent: str) -> str:
    """What may help where no row allows an agent: its right name, or the product words that a row
    for it wants beside the formula's own; or nothing."""
    if agent not in AGENTS and agent not in OTHER_AGENTS:
        return near_agent(agent, _SOLD)
    have = set(formula.product)
    rows = [row for row in rows if agent in row.agents and not row.own]
    for row in rows:
        fits = _of_product(formula, row)
        if row.declared and fits:
            return (
                "; a row allows it where the maker declares how it is made:"
                ' declaration = "immersion cured for ..., says ..."'
            )
        if row.cereal is not None and fits:
            return (
                f"; a row allows it beside {plain(row.cereal * 100)} % of what says cereal = true"
            )
    wanted = [
        words
        for row in rows
        for words in _words_wanted(row, have)
        if row.cereal is None
        and not row.declared
        and row.kind in ("ingoing", "as needed")
        and words
        and not have & set(row.not_words)
        and (not row.methods or formula.method in row.methods)
        and not any(set(pair) <= have | words for pair in CONTRADICTING)
    ]
    if not wanted:
        return ""
    words = min((sorted(words) for words in wanted), key=len)
    told = " ".join((*words, *formula.product))
    return f"; a row allows it where the product is {' '.join(words)}, too: did you mean {told!r}?"


def rows_for(
    formula: Formula, rows: Iterable[LimitRow], meat_g: Fraction = Fraction(10_000)
) -> tuple[LimitRow, ...]:
    """The rows among them that no weighing may pass."""
    return tuple(row for row in about(formula, rows, meat_g) if row.enforced)


def required_for(formula: Formula, rows: Iterable[LimitRow]) -> tuple[LimitRow, ...]:
    """The rows among them that say how much must go in, seen ones only."""
    return tuple(row for row in about(formula, rows) if row.seen and row.kind == "required")
