"""From a formula's name and a plan to the event that opens a batch; files are read here only."""

from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from typing import Literal, NamedTuple

from msgspec.structs import replace

from station import __version__, units
from station.batch.events import BatchOpened
from station.formula.ahead import line_of, weighed_ahead
from station.formula.bands import parse_bands
from station.formula.cautions import parse_quoted
from station.formula.counting import Counting, parse_counting
from station.formula.law import Common, Law, findings, parse_law, with_own
from station.formula.limits import OWN, LimitRow
from station.formula.model import Band, Formula
from station.formula.salting import parse_salt
from station.formula.scaling import meat_for_mix, meat_for_pieces
from station.formula.sheet import parse_formula
from station.resources import Config, ResourceError
from station.settings import Settings
from station.tomlfile import FileMistakes
from station.weighing.commands import Refusal

ANY_MEAT_G = Fraction(10_000)
"""Grams of meat that a formula is judged for where none is planned: its amounts are all shares."""


def opening(
    config: Config,
    settings: Settings,
    simulated: bool,
    formula_name: str,
    plan: dict[str, str],
    who: str,
    ahead: int = 0,
) -> tuple[BatchOpened, tuple[tuple[str, str], ...]]:
    """Everything a batch needs, read once, and what passes with a word as (line, text).

    `plan` has one of meat, mix, pieces, as text, or none: then what arrives is taken. `ahead`: so
    many bags of each line are weighed ahead for that plan. Raises `Refusal` for a file that is
    wrong, a plan that cannot be, or a formula over a limit.
    """
    try:
        formula = formula_named(config, formula_name)
        bands, law = bench_rules(config, settings, formula)
    except ResourceError as error:
        raise Refusal(
            "no-file", str(error), "check the name and the configuration folder"
        ) from None
    except FileMistakes as error:
        more = len(error.mistakes) - 1
        also = f" (and {more} more)" if more else ""
        raise Refusal(
            "wrong-file", error.mistakes[0] + also, "station formula check FILE shows all of them"
        ) from None
    if formula.method != "comminuted":
        what = f"{formula.name} is {formula.method}: the bench weighs comminuted products only"
        raise Refusal("method", what, "station formula check judges it all the same")
    meat_g, planned_by = planned_meat(formula, plan) if plan else _unplanned(formula)
    found = findings(formula, law, meat_g or ANY_MEAT_G)
    broken = [finding for finding in found if finding.severity == "broken"]
    if broken:
        first = broken[0]
        raise Refusal(
            "broken", f"{first.line}: {first.text} ({first.source})", "correct the formula"
        )
    if not settings.scales:
        raise Refusal("no-scale", "station.toml names no scale", "add a [[scale]]")
    words = tuple((finding.line, finding.text) for finding in found)
    if ahead:
        formula, bands = bags_of(config, formula, meat_g, ahead)
        meat_g, planned_by = meat_g * ahead, f"{ahead} bags for {planned_by}"
        words = tuple(
            (line.name, text) for name, text in words for line in formula.additions
            if line_of(line.name) == name
        )  # fmt: skip
    made = sealed(formula, bands, law.rows, settings, simulated, meat_g, planned_by, who)
    return replace(made, ahead=ahead), words


def bags_of(
    config: Config, formula: Formula, meat_g: Fraction, ahead: int
) -> tuple[Formula, dict[str, Band]]:
    """The bags of a formula and their bands. Raises `Refusal` where nothing of it can be weighed
    ahead."""
    bags = weighed_ahead(formula, meat_g, ahead)
    if not bags.additions:
        what = f"nothing of {formula.name} can be weighed ahead: what is wet is weighed on the day"
        raise Refusal("nothing-ahead", what, "open it with --meat")
    return bags, parse_bands(*config.read("bands.toml")).for_formula(bags)


def openable(config: Config, settings: Settings) -> tuple[str, ...]:
    """The names of the formulas that pass the check as the files are now."""
    return tuple(name for name in config.names("formulas") if _passes(config, settings, name))


def _passes(config: Config, settings: Settings, name: str) -> bool:
    plan = {"meat": f"{ANY_MEAT_G} g"}
    try:
        opening(config, settings, settings.simulated, name, plan, "")
    except Refusal:
        return False
    return True


def read_rules(config: Config, authority: str, formula: Formula) -> tuple[dict[str, Band], Law]:
    """(band by line, the authority's law as it is in force today, with what is common to all).
    Raises `ResourceError`, `FileMistakes`."""
    bands = parse_bands(*config.read("bands.toml")).for_formula(formula)
    today = datetime.now().astimezone().date().isoformat()
    common = Common(
        read_counting(config),
        parse_quoted(*config.read("cautions.toml")),
        parse_salt(*config.read("limits/salt.toml")),
    )
    law = parse_law(*config.read(f"limits/{authority}.toml"), today, common)
    if OWN in config.names("limits"):
        law = with_own(law, *config.read(f"limits/{OWN}.toml"))
    return bands, law


def read_counting(config: Config) -> Counting:
    """What counts as meat and as salt. Raises `ResourceError`, `FileMistakes`."""
    return parse_counting(*config.read("label.toml"))


class Judge(NamedTuple):
    """Whose law a formula is judged by, and who chose it."""

    authority: str
    by: Literal["asked", "formula", "bench"]


def judge_of(settings: Settings, formula: Formula, asked: str | None) -> Judge:
    """The authority that was asked for, else the one that the formula names, else the bench's."""
    if asked is not None:
        return Judge(asked, "asked")
    if formula.authority is not None:
        return Judge(formula.authority, "formula")
    return Judge(settings.authority, "bench")


def bench_rules(
    config: Config, settings: Settings, formula: Formula
) -> tuple[dict[str, Band], Law]:
    """The same of the bench's own authority, which is the only one that a batch is judged by.
    Raises `Refusal` where the formula is written for another."""
    if formula.authority not in (None, settings.authority):
        raise Refusal(
            "authority",
            f"{formula.name} is written for the law of {formula.authority},"
            f" and this bench judges by {settings.authority}",
            f"station formula check FILE --authority {settings.authority} tells what that says",
        )
    return read_rules(config, settings.authority, formula)


def sealed(
    formula: Formula,
    bands: dict[str, Band],
    limits: tuple[LimitRow, ...],
    settings: Settings,
    simulated: bool,
    meat_g: Fraction,
    planned_by: str,
    who: str,
) -> BatchOpened:
    """The event that opens the batch, with everything it needs inside."""
    return BatchOpened(
        formula=formula,
        authority=settings.authority,
        limits=limits,
        bands=bands,
        scales=tuple(scale.scale for scale in settings.scales),
        people=settings.people,
        plan_g=Decimal(units.plain(meat_g)),
        planned_by=planned_by,
        who=who,
        station=settings.name,
        version=__version__,
        simulated=simulated,
        currency=settings.currency or None,
    )


def formula_named(config: Config, name: str) -> Formula:
    """A formula of the configuration. Raises `ResourceError`, `FileMistakes`."""
    return parse_formula(*_formula_file(config, name))


def _formula_file(config: Config, name: str) -> tuple[str, str]:
    if "/" in name or name.startswith("."):
        raise ResourceError(f"{name!r} is no name of a formula; formulas live in the configuration")
    return config.read(f"formulas/{name.removesuffix('.toml')}.toml")


def planned_meat(formula: Formula, plan: dict[str, str]) -> tuple[Fraction, str]:
    """(meat block in grams, what was asked for as text). Raises `Refusal`."""
    if len(plan) != 1:
        raise Refusal("bad-plan", "a plan is one of meat, mix or pieces", 'say --meat "12 kg"')
    ((kind, text),) = plan.items()
    try:
        if kind == "pieces":
            if not (text.isascii() and text.isdecimal()) or int(text) < 1:
                raise ValueError(f"found {text!r}, expected a whole number of pieces")
            meat = meat_for_pieces(formula, int(text))
        else:
            mass = Fraction(units.mass(text))
            meat = meat_for_mix(formula, mass) if kind == "mix" else mass
    except ValueError as error:
        raise Refusal("bad-plan", f"{kind}: {error}", 'say --meat "12 kg"') from None
    return bounded(meat), f"{kind} {text}"


def _unplanned(formula: Formula) -> tuple[Fraction, str]:
    """No plan. Raises `Refusal` for a formula that cannot be judged without one."""
    fixed = [a.name for a in formula.additions if a.amount.on == "fixed"]
    if fixed:
        what = f"{fixed[0]} is so many grams for any meat: it cannot be judged unplanned"
        raise Refusal("bad-plan", what, 'say --meat "12 kg"')
    return Fraction(0), "what arrives"


def bounded(meat_g: Fraction) -> Fraction:
    """The meat block, if it is one that a kitchen can mince. Raises `Refusal`."""
    if not 0 < meat_g <= 1_000_000:
        raise Refusal("bad-plan", f"{units.plain(meat_g)} g of meat is no batch", "up to 1000 kg")
    return meat_g
