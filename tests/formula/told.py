"""The check of a formula file, as what it says: for the tests of what it must say."""

from fractions import Fraction

from station.formula.curing import check_targets
from station.formula.limits import parse_limits
from station.formula.sheet import parse_formula
from station.resources import Config
from tests.formula.test_sheet import GOOD

US = parse_limits(*Config().read("limits/us.toml"))


def broken(extra: str, product: str = "cooked cured comminuted") -> list[str]:
    text = GOOD.replace("cooked cured comminuted", product) + extra
    found = check_targets(parse_formula(text, "t.toml"), US, Fraction(10_000))
    return [finding.text for finding in found if finding.severity == "broken"]


def line(role: str, contains: str) -> str:
    return f'\n[[addition]]\nname = "more"\namount = "0.05 %"\nrole = "{role}"\n{contains}\n'


def said(text: str, authority: str = "us", meat_g: int = 10_000) -> list[tuple[str, str]]:
    rows = parse_limits(*Config().read(f"limits/{authority}.toml"))
    found = check_targets(parse_formula(text, "t.toml"), rows, Fraction(meat_g))
    return [(finding.severity, finding.text) for finding in found]


NO_CURE = GOOD[: GOOD.index("[[addition]]")]


CURED_BELLY = (
    GOOD.replace("cooked cured comminuted", "bacon")
    .replace("revision = 1", 'revision = 1\nmethod = "dry"')
)  # fmt: skip
