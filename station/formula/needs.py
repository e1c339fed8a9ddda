"""What several batches need of each line together, and from which lots to take it. Pure.

A plan by the formulas' own amounts: on the day each line is worked out again by the meat that is
weighed, and a curing line by the strength of its lot.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from station.formula.model import Formula
from station.formula.scaling import planned_masses, target_of


@dataclass(frozen=True, slots=True)
class Batches:
    """A formula, and how many grams of meat are planned of it."""

    formula: Formula
    meat_g: Fraction


@dataclass(slots=True)
class Need:
    """A line of one name over all formulas; `alike` where they mean the same goods by it: what it
    contains is the same in each."""

    line: str
    need_g: Fraction = Fraction(0)
    formulas: list[str] = field(default_factory=list)
    contains: list[Mapping[str, Any]] = field(default_factory=list)

    @property
    def alike(self) -> bool:
        return all(each == self.contains[0] for each in self.contains)


@dataclass(frozen=True, slots=True)
class Lot:
    """A lot that is there: how much at least, in grams, and its last day, None without one."""

    lot: str
    left_g: Fraction
    expires: str | None


@dataclass(frozen=True, slots=True)
class Take:
    """So many grams from a lot."""

    lot: Lot
    take_g: Fraction


def needs_of(planned: Iterable[Batches]) -> tuple[Need, ...]:
    """Grams of every meat and every line that is weighed, in the order of the formulas."""
    found: dict[str, Need] = {}
    for each in planned:
        formula, masses = each.formula, planned_masses(each.formula, each.meat_g)
        lines: list[tuple[str, Fraction, Mapping[str, Any]]] = [
            (meat.name, Fraction(meat.share) * each.meat_g, {}) for meat in formula.meats
        ]
        lines += [(a.name, masses[a.name], a.contains) for a in formula.additions
                  if a.name in masses]  # fmt: skip
        for name, grams, contains in lines:
            need = found.setdefault(name, Need(name))
            need.need_g += grams
            need.formulas.append(formula.name)
            need.contains.append(contains)
    return tuple(found.values())


def counted_of(planned: Iterable[Batches]) -> dict[str, Fraction]:
    """Line -> pieces, of what is counted instead of weighed."""
    found: dict[str, Fraction] = {}
    for each in planned:
        for addition in each.formula.additions:
            if addition.amount.on == "count":
                pieces = target_of(addition.amount, each.formula, each.meat_g)
                found[addition.name] = found.get(addition.name, Fraction(0)) + pieces
    return found


def taken(need_g: Fraction, lots: Sequence[Lot], today: str) -> tuple[tuple[Take, ...], Fraction]:
    """(what to take from each lot, what is short), the one that expires first taken first, one
    without a date last. None is taken that is past its date on `today` (YYYY-MM-DD)."""
    takes, still = list[Take](), need_g
    good = [lot for lot in lots if lot.left_g > 0 and not expired(lot, today)]
    for lot in sorted(good, key=lambda lot: (lot.expires is None, lot.expires or "", lot.lot)):
        if still > 0:
            takes.append(Take(lot, min(still, lot.left_g)))
            still -= takes[-1].take_g
    return tuple(takes), still


def expired(lot: Lot, today: str) -> bool:
    """Whether its last day is over: on that day itself it may still be used."""
    return lot.expires is not None and lot.expires < today
